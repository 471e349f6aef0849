// The rig's clock, where the rig does not know whether it is right: this phone's can be taken.

import * as say from "./words.js";
import { ask } from "./link.js";
import { $, set } from "./dom.js";
import { mayChange } from "./rig.js";

/** Offer it where that helps; `clock` is what the rig says of its own. */
export function offerTime(clock) {
  const wanted = clock != null && clock.state !== "right" && mayChange();
  $("time").hidden = !wanted;
  if (wanted) set("time-says", say.phonesTime(Date.now() / 1000));
}

async function take() {
  $("time-do").disabled = true;
  try {
    offerTime(await ask("POST", "clock", { utc: new Date().toISOString() }));
    $("time-trouble").hidden = true;
  } catch (refusal) {
    set("time-trouble", refusal.answered ? refusal.message : say.NO_ANSWER);
    $("time-trouble").hidden = false;
  } finally {
    $("time-do").disabled = false;
  }
}

$("time-do").addEventListener("click", take);
