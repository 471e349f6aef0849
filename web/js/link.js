// The event stream, and how long nothing has been heard. The rig sends a heartbeat every 2 s.

import { rigSays, ready } from "./rig-says.js";

/** Seconds without a word after which what is shown is told with its age. */
export const LATE_S = 5;
const TRY_MS = 1500, TRIES = 3, PROBES = 6, KINDS = ["now", "frame", "shoot", "note", "clip", "heartbeat"];

/**
 * Follow the rig: `heard(kind, document)` for each event, `silent(seconds, ok)` twice a second, `refused()` where the rig,
 * or what is in between, would not have us.
 *
 * A link that is gone says nothing, and one that is back does not say so either: while nothing is heard a new try begins
 * every 1.5 s beside those that are under way, and the first that comes through is kept. What was missed comes by the
 * last id that was heard.
 *
 * Where packets are lost a connection that is being made asks ever more seldom (RFC 6298, 5.5), and a try that is given up
 * keeps its place among the browser's six connections to a host for minutes. So after three tries a small file is asked
 * for in their stead, without the session: such calls have six places of their own, and once one is answered there is
 * still a place for the stream, and one for an order.
 */
export function follow({ heard, silent, refused }) {
  let source = null, last = null, id = null, tried = 0, asked = 0, trying = [], probes = [];
  const born = Date.now();
  const silence = () => (Date.now() - (last ?? born)) / 1000;
  const ok = () => source !== null && last !== null && silence() < LATE_S;

  function drop(one) {
    one.close(); // else the browser comes back by itself, in its own time and beside our tries
    trying = trying.filter((other) => other !== one);
    if (source === one) source = null;
  }

  function connect() {
    tried = Date.now();
    const one = new EventSource(`api/v1/events${id === null ? "" : `?after=${encodeURIComponent(id)}`}`);
    trying.push(one);
    if (trying.length > TRIES + 1) drop(trying[0]);
    one.onopen = () => {
      for (const other of [source, ...trying]) if (other !== null && other !== one) drop(other);
      trying = [];
      source = one;
    };
    one.onerror = () => {
      const turned = one.readyState === EventSource.CLOSED;
      drop(one);
      silent(silence(), ok());
      if (turned && Date.now() - asked > 2000) {
        asked = Date.now();
        refused();
      }
    };
    for (const kind of KINDS) {
      one.addEventListener(kind, (event) => {
        if (one !== source) return;
        for (const other of trying) drop(other);
        last = Date.now();
        if (event.lastEventId) id = event.lastEventId;
        heard(kind, JSON.parse(event.data));
        silent(0, true);
      });
    }
  }

  async function probe() {
    tried = Date.now();
    const given_up = new AbortController();
    probes.push(given_up);
    if (probes.length > PROBES) probes.shift().abort();
    const there = await fetch("page.webmanifest", { credentials: "omit", cache: "no-store", signal: given_up.signal }).then(() => true, () => false);
    probes = probes.filter((other) => other !== given_up);
    if (!there || ok()) return;
    for (const other of probes.splice(0)) other.abort();
    connect();
  }

  function look() {
    if (!ok() && Date.now() - tried >= TRY_MS) (trying.length < TRIES ? connect : probe)();
    silent(silence(), ok());
  }

  connect();
  setInterval(look, 500);
  const back = () => { if (document.visibilityState === "visible" && !ok()) connect(); };
  document.addEventListener("visibilitychange", back);
  window.addEventListener("online", back);
}

/**
 * Raised by `ask`: `answered` tells whether the rig refused, with the `code` of docs/errors.md, `where` and what it `said`
 * in its own language, or was not reached.
 */
export class Refusal extends Error {
  constructor(message, answered, { code = null, where = "", said = message } = {}) {
    super(message);
    this.answered = answered;
    this.said = said;
    this.code = code;
    this.where = where;
  }
}

/**
 * One call of the rig; its JSON. Nothing is kept for later: it is done now, or Refusal says that it was not. `key` is that
 * of an order (`once.js`); `given_up`, an AbortSignal, ends the waiting. `tagged` is given the version of what came
 * (ETag), `match` the one that is to be replaced (If-Match). `read` takes what came, where that is no JSON.
 */
export async function ask(method, path, body, { keepalive = false, patience_ms = 8000, key = null, given_up = null, tagged = null, match = null, read = (came) => came.json() } = {}) {
  const late = AbortSignal.timeout(patience_ms);
  let answer;
  try {
    answer = await fetch(`api/v1/${path}`, {
      method,
      keepalive,
      headers: { ...(body && { "Content-Type": "application/json" }), ...(key && { "Idempotency-Key": key }), ...(match && { "If-Match": match }) },
      body: body && JSON.stringify(body),
      signal: given_up ? (AbortSignal.any?.([given_up, late]) ?? late) : late,
    });
    if (answer.ok) tagged?.(answer.headers.get("ETag"));
    if (answer.ok) return answer.status === 204 ? null : await read(answer);
  } catch (error) {
    throw new Refusal(String(error), false);
  }
  const problem = await answer.json().catch(() => null);
  if (problem) await ready();
  const words = problem ? [problem.detail, problem.remedy].filter(Boolean) : [`${answer.status}`];
  const row = (texts) => texts.map(sentence).join(" ");
  throw new Refusal(row(words.map(rigSays)), true, { ...problem, said: row(words) });
}

const sentence = (text) => text[0].toUpperCase() + text.slice(1) + (/[.!?]$/.test(text) ? "" : ".");
