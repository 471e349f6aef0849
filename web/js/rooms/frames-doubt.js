// What speaks against a frame, by the rig's own rule for doubtful ones (docs/frame-log.md).

import { frames as say } from "../words.js";
import { rigSays } from "../rig-says.js";
import { number } from "../figures.js";

const LATE_MS = 500;

/** In words, or nothing. */
export function whyDoubted(frame) {
  if (frame.state === "missed" || frame.state === "lost") return "";
  return [
    frame.cause && rigSays(frame.cause),
    frame.late_ms > LATE_MS && say.late(number(frame.late_ms / 1000, 1)),
    frame.state === "written" && frame.bytes !== null && say.half,
  ].filter(Boolean).join("; ");
}
