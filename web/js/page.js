// Ties the event stream to what is shown and to what can be done.

import { ask, follow } from "./link.js";
import * as rig from "./rig.js";
import * as face from "./face.js";
import * as orders from "./orders.js";
import * as rooms from "./rooms.js";
import * as theme from "./theme.js";

/** What this device may do: null where the rig does not know it, undefined where it does not answer. */
async function rights() {
  try {
    return (await ask("GET", "session")).rights;
  } catch {
    return undefined;
  }
}

let time = null;

/** Loaded where the rig does not know the time, which is rare. */
async function offerTime({ clock }) {
  if (time === null && (clock == null || clock.state === "right")) return;
  time = await import("./time.js");
  time.offer(clock);
}

theme.begin();
face.begin();
orders.begin();
if (rig.rights() === null) document.documentElement.dataset.rights = await (await import("./door.js")).waitAtDoor();
rooms.begin();
rig.on("now", offerTime);
follow({
  async refused() { if ((await rights()) === null) location.reload(); },
  heard: rig.heard,
  silent: rig.silent,
});
