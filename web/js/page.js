// Ties the event stream to what is shown and to what can be done.

import { ask, follow } from "./link.js";
import * as face from "./face.js";
import * as curves from "./curves.js";
import * as orders from "./orders.js";

let drawn = null, fresh = false, time = null;

async function drawCurves() {
  const shoot = face.shoot();
  if (!shoot || (drawn === shoot.id && !fresh)) return;
  [drawn, fresh] = [shoot.id, false];
  try {
    await curves.load(shoot, face.camera());
  } catch {
    fresh = true; // the link is bad; the next `now` tries again
  }
}

/** Loaded where the rig does not know the time, which is rare. */
async function offerTime(clock) {
  if (time === null && (clock == null || clock.state === "right")) return;
  time = await import("./time.js");
  time.offer(clock);
}

const take = {
  now(document_) { face.take(document_); offerTime(document_.clock); drawCurves(); },
  shoot(document_) { face.takeShoot(document_); drawCurves(); },
  frame(document_) { face.takeFrame(document_); if (face.ours(document_)) curves.add(document_); },
};

/** What this device may do: null where the rig does not know it, undefined where it does not answer. */
async function rights() {
  try {
    return (await ask("GET", "session")).rights;
  } catch {
    return undefined;
  }
}

/** Go through the door: at once where the rig knows this device, or does not answer yet; else once it is let in. */
async function enter() {
  let may = await rights();
  if (may === null) may = await (await import("./door.js")).waitAtDoor();
  document.body.dataset.rights = may ?? "all";
}

face.begin();
orders.begin();
await enter();
follow({
  async refused() { if ((await rights()) === null) location.reload(); },
  opened() { fresh = true; },
  heard(kind, document_) { take[kind]?.(document_); orders.offer(); },
  silent: face.tellLink,
});
