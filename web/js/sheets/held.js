// What going on would come to, by the same figures as the lines above it, and what ten more minutes of hold cost: said while
// it is held.

import { held as say } from "../words.js";
import { ask } from "../link.js";
import { set } from "../dom.js";
import { clock } from "../figures.js";
import { document_, on, rigTime, seconds, shoot, state } from "../rig.js";

const AGAIN_MS = 30000, SOONEST_MS = 5000, LONGER_S = 600, PATIENCE_MS = 90000;

let timer = null, deaf = null, costs = "";

function draw(place) {
  if (state() !== "held") {
    clearTimeout(timer);
    deaf?.();
    return;
  }
  const { frames_done, frames_left, clip_end_s, end_utc } = document_();
  const frames = frames_left == null ? null : frames_done + frames_left;
  set(place, [say.goes({ frames, clip_s: clip_end_s }, end_utc && clock(seconds(end_utc), rigTime()), shoot().held_until_utc), costs].filter(Boolean).join(" "));
}

async function weigh(place) {
  clearTimeout(timer);
  const { id, held_until_utc: until } = shoot();
  try {
    const hold_s = LONGER_S + (until ? Math.max(0, seconds(until) - rigTime()) : 0);
    const { stands, then } = await ask("POST", `shoots/${encodeURIComponent(id)}/effect`, { hold_s }, { patience_ms: PATIENCE_MS });
    if (state() === "held" && shoot().id === id) costs = say.costs(stands.frames - then.frames, stands.clip_s - then.clip_s);
  } catch { /* what stood there stays: it is asked again in a moment */ }
  clearTimeout(timer);
  if (state() !== "held") return;
  draw(place);
  timer = setTimeout(weigh, Math.max(SOONEST_MS, AGAIN_MS / document_().rate), place);
}

/** Say it in `place` (an id) with each `now`, for as long as it is held. */
export function tell(place) {
  deaf?.();
  costs = "";
  deaf = on("now", () => draw(place));
  draw(place);
  if (state() === "held") weigh(place);
}
