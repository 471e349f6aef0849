// What starting a plan comes to, below what is chosen: when it begins and ends, its frames, its worst warning, and whether
// another shoot has the camera then.

import { start as say } from "../words.js";
import { ask } from "../link.js";
import { make, set } from "../dom.js";
import { clock } from "../figures.js";
import { document_, on, rigTime, running, seconds, shoot, state } from "../rig.js";

const PATIENCE_MS = 30000;

/** When the shoot that runs has the camera, as far as the page knows: POSIX seconds; null where only the rig can tell. */
function had(plan) {
  const { when, cameras } = shoot().plan;
  if (plan.cameras || cameras) return null; // they may share the rig
  const from = state() === "waiting" ? seconds(shoot().start_utc) : 0;
  if (when.every || when.windows) return from ? null : { from, until: (rigTime() ?? 0) + 1 };
  return { from, until: seconds(document_().end_utc) ?? Infinity };
}

/** Why a plan whose first window is that cannot be started; null where nothing is known to be in its way. */
function inTheWay(plan, { start_utc, end_utc }) {
  const its = running() ? had(plan) : null;
  if (!its || seconds(start_utc) >= its.until || (seconds(end_utc) ?? Infinity) <= its.from) return null;
  return say.taken(shoot().plan_name, document_().end_utc && clock(seconds(document_().end_utc), rigTime()));
}

/**
 * The part of a sheet; `changed(can, act)` hears whether it can be started, and what the button says, each time that
 * something is known anew. `drawn(forecast)` may show more of it. A start of `order` that was not answered may be what is in
 * the way: it can be given again.
 */
export function coming({ order, changed, drawn = () => {} }) {
  const comes = make("p", { id: "start-comes", class: "lines", role: "status" }), warns = make("p", { id: "start-warns", class: "lines" });
  const others = make("p", { id: "start-others", role: "status" });
  const part = make("div", {}, comes, warns, others), known = new Map(), before = running() ? shoot().id : null;
  let turn = 0, asked = null, plan = null, told = null, settled = false;

  /** What was told belongs to another choice; `text` stands there meanwhile. */
  part.stale = (text = say.looking) => {
    turn += 1;
    asked?.abort();
    [told, settled] = [null, false];
    set(comes, text);
    set(warns, "");
    seen();
  };

  /** Ask what `wish`, a document or the name of `of`, comes to. Whether it can be started, or null: another look follows. */
  part.look = async (of, wish) => {
    part.stale();
    const mine = turn, body = { plan: wish }, key = JSON.stringify(body);
    plan = of;
    asked = new AbortController();
    try {
      if (!known.has(key)) known.set(key, await ask("POST", "forecast", body, { patience_ms: PATIENCE_MS, given_up: asked.signal }));
      if (mine !== turn) return null;
      told = known.get(key);
      draw(told);
    } catch (refusal) {
      if (mine !== turn) return null;
      set(comes, refusal.answered ? refusal.message : say.notTold);
    }
    settled = true;
    return seen();
  };

  function draw({ windows, frames, clip_s, warnings, timezone }) {
    const now = rigTime() ?? Date.now() / 1000, [first] = windows, wait = seconds(first.start_utc) - now;
    const at = (utc) => (utc === null ? null : clock(seconds(utc), now, timezone)), from = at(first.start_utc);
    set(comes, [[say.from(from, wait), say.until(at(first.end_utc))].join(", "), say.comes(frames, clip_s), say.windows(windows.length)].filter(Boolean).join("\n"));
    const worst = warnings.find(({ costs }) => costs !== "comfort");
    set(warns, worst ? [`▲ ${worst.what}. ${worst.remedy}`, say.more(warnings.length - 1)].filter(Boolean).join("\n") : say.more(warnings.length));
    drawn(told);
  }

  /** Another shoot may have begun or ended meanwhile; what is not known here, the rig refuses. */
  function seen() {
    const why = told && inTheWay(plan, told.windows[0]), began = running() && shoot().id !== before;
    set(others, why ?? (began ? say.runs(shoot().plan_name) : ""));
    const wait = told && seconds(told.windows[0].start_utc) - rigTime();
    const can = why === null || order.unheard;
    changed(settled && can, told ? say.act(clock(seconds(told.windows[0].start_utc), rigTime(), told.timezone), wait) : say.act(null, 0));
    return can;
  }

  const deaf = [on("shoot", seen), on("now", seen)];
  part.end = () => { turn += 1; asked?.abort(); for (const end of deaf) end(); };
  return part;
}
