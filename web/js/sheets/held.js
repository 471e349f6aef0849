// What going on now would come to, and what each ten minutes of hold cost: said while it is held.

import { held as say } from "../words.js";
import { ask } from "../link.js";
import { set } from "../dom.js";
import { clock } from "../figures.js";
import { rigTime, seconds, shoot, state } from "../rig.js";

const AGAIN_MS = 30000, LONGER_S = 600, PATIENCE_MS = 20000;

let timer = null;

/** Keep saying it in `place` (an id) for as long as it is held. */
export async function tell(place) {
  clearTimeout(timer);
  if (state() !== "held") return;
  const { id } = shoot();
  try {
    const { stands, then } = await ask("POST", `shoots/${encodeURIComponent(id)}/effect`, { hold_s: LONGER_S }, { patience_ms: PATIENCE_MS });
    if (state() === "held" && shoot().id === id) {
      const end = stands.end_utc && clock(seconds(stands.end_utc), rigTime());
      set(place, [say.goes(stands, end), say.costs(stands.frames - then.frames, stands.clip_s - then.clip_s)].filter(Boolean).join(" "));
    }
  } catch { /* what stood there stays: it is told again in a moment */ }
  clearTimeout(timer);
  timer = setTimeout(tell, AGAIN_MS, place);
}
