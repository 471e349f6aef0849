// The event stream, and how long nothing has been heard. The rig sends a heartbeat every 5 s.

const LATE_S = 8, DEAD_S = 13, KINDS = ["now", "frame", "shoot", "note", "heartbeat"];

/**
 * Follow the rig: `heard(kind, document)` for each event, `silent(seconds, ok)` every second, `refused()` where the rig, or what is in between, would not have us.
 */
export function follow({ heard, silent, refused }) {
  let source, last = null, tried = 0, broken = false;
  const born = Date.now();

  function connect() {
    source?.close();
    tried = Date.now();
    source = new EventSource("api/v1/events");
    source.onerror = () => {
      broken = true;
      if (source.readyState === EventSource.CLOSED) refused();
    };
    for (const kind of KINDS) {
      source.addEventListener(kind, (event) => {
        last = Date.now();
        broken = false;
        heard(kind, JSON.parse(event.data));
        silent(0, true);
      });
    }
  }

  function look() {
    const silence = (Date.now() - (last ?? born)) / 1000;
    const since = (Date.now() - tried) / 1000;
    // The browser comes back by itself after a broken connection, but not after a refusal, nor where the network is
    // gone without a word.
    if ((source.readyState === EventSource.CLOSED && since > 2) || (silence > DEAD_S && since > DEAD_S)) connect();
    silent(silence, last !== null && !broken && silence < LATE_S);
  }

  connect();
  setInterval(look, 1000);
  const back = () => {
    if (document.visibilityState === "visible" && (broken || Date.now() - (last ?? 0) > LATE_S * 1000)) connect();
  };
  document.addEventListener("visibilitychange", back);
  window.addEventListener("online", back);
}

/** Raised by `ask`: `answered` tells whether the rig refused, or was not reached. */
export class Refusal extends Error {
  constructor(message, answered) {
    super(message);
    this.answered = answered;
  }
}

/** One call of the rig; its JSON. Nothing is kept for later: it is done now, or Refusal says that it was not. */
export async function ask(method, path, body, { keepalive = false, patience_ms = 8000 } = {}) {
  let answer;
  try {
    answer = await fetch(`api/v1/${path}`, {
      method,
      keepalive,
      headers: body ? { "Content-Type": "application/json" } : {},
      body: body && JSON.stringify(body),
      signal: AbortSignal.timeout(patience_ms),
    });
    if (answer.ok) return answer.status === 204 ? null : await answer.json();
  } catch (error) {
    throw new Refusal(String(error), false);
  }
  const problem = await answer.json().catch(() => null);
  throw new Refusal(problem ? [problem.detail, problem.remedy].filter(Boolean).map(sentence).join(" ") : `${answer.status}`, true);
}

const sentence = (text) => text[0].toUpperCase() + text.slice(1) + (/[.!?]$/.test(text) ? "" : ".");
