// The door: a phone that the rig does not know yet gives the code that is shown there.

import * as say from "./words.js";
import { ask } from "./link.js";
import { $, set } from "./dom.js";

/** The code that came with the link, which is taken out of the address before anything else. */
function codeOfLink() {
  const after = location.hash.slice(1);
  const code = /^[0-9a-z-]{8,9}$/i.test(after) ? after : new URLSearchParams(after).get("code");
  if (code !== null) history.replaceState(null, "", location.pathname);
  return code;
}

/** Wait until the code was right; what this device may do from then on. */
export function waitAtDoor() {
  const code = codeOfLink();
  $("door").hidden = false;
  set("state", say.NOT_PAIRED);
  return new Promise((letIn) => {
    async function knock(given) {
      $("door-do").disabled = true;
      try {
        const { rights } = await ask("POST", "session", { code: given, name: $("door-phone").value.trim() });
        $("door").hidden = true;
        letIn(rights);
      } catch (refusal) {
        set("door-trouble", refusal.answered ? refusal.message : say.NO_ANSWER);
        $("door-trouble").hidden = false;
        $("door-code").select();
      } finally {
        $("door-do").disabled = false;
      }
    }
    $("door-form").addEventListener("submit", (event) => {
      event.preventDefault();
      knock($("door-code").value);
    });
    if (code) knock(code);
    else $("door-code").focus();
  });
}
