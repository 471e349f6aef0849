// The door: a phone that the rig does not know yet gives the code that is shown there.

import * as say from "./words.js";
import { ask } from "./link.js";
import { $, set } from "./face.js";

/** The code that came with the link, which is taken out of the address before anything else. */
function codeOfLink() {
  const code = new URLSearchParams(location.hash.slice(1)).get("code");
  if (code !== null) history.replaceState(null, "", location.pathname);
  return code;
}

async function pair(code) {
  const name = $("door-name").value.trim();
  return (await ask("POST", "session", { code, name })).rights;
}

/** Wait at the door until the code was right; what this device may do. */
function waitAtDoor(code) {
  $("door").hidden = false;
  set("state", say.NOT_PAIRED);
  return new Promise((letIn) => {
    async function knock(given) {
      $("door-do").disabled = true;
      try {
        const rights = await pair(given);
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

/** Go through the door: at once where the rig knows this device, or cannot be asked; else once it is let in. */
export async function enter() {
  for (const [id, text] of Object.entries(say.DOOR)) set(id, text);
  const code = codeOfLink();
  let rights = "all"; // without a link it shows when there is one
  try {
    rights = (await ask("GET", "session")).rights;
  } catch (refusal) {
    if (refusal.answered) throw refusal;
  }
  rights ??= await waitAtDoor(code);
  document.body.dataset.rights = rights;
}

/** The stream was refused or broke off: whether the rig does not know this device any more. */
export async function shut() {
  try {
    return (await ask("GET", "session")).rights === null;
  } catch {
    return false;
  }
}
