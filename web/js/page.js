// Ties the event stream to what is shown and to what can be done.

import { follow } from "./link.js";
import * as face from "./face.js";
import * as curves from "./curves.js";
import * as orders from "./orders.js";
import { enter, shut } from "./door.js";

let drawn = null, fresh = false;

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

const take = {
  now(document_) { face.take(document_); drawCurves(); },
  shoot(document_) { face.takeShoot(document_); drawCurves(); },
  frame(document_) { face.takeFrame(document_); if (face.ours(document_)) curves.add(document_); },
};

face.begin();
orders.begin();
await enter();
follow({
  async refused() { if (await shut()) location.reload(); },
  opened() { fresh = true; },
  heard(kind, document_) { take[kind]?.(document_); orders.offer(); },
  silent: face.tellLink,
});
