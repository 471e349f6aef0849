// The plans that are kept on the rig, and one of them to be written: `#plans`, `#plans/NAME`.

import { plans as say } from "../words.js";
import * as words from "../words.js";
import { ask } from "../link.js";
import { make, set } from "../dom.js";
import { mayChange } from "../rig.js";
import { inWords, todays } from "../sheets/when.js";
import { draftNames } from "./plans-draft.js";
import { openEditor } from "./plans-editor.js";
import { newSheet } from "./plans-sheets.js";

export function open(place, hall) {
  let over = false, end = null;
  const asked = location.hash.split("/")[1];
  const name = asked ? decodeURIComponent(asked) : null;
  begin();
  return () => { over = true; end?.(); };

  async function begin() {
    place.replaceChildren(make("p", { role: "status", class: "quiet" }, say.working));
    try {
      if (name === null) await list();
      else end = await openEditor(place, hall, name, () => over);
      if (over) end?.();
    } catch (error) {
      if (over) return;
      place.replaceChildren(make("p", { class: "trouble", role: "alert" }, error.answered ? error.message : error.answered === false ? say.noAnswer : words.ROOM_NOT_THERE),
        make("div", { class: "pair" }, make("button", { type: "button", onclick: begin }, words.AGAIN),
          name === null ? null : make("button", { type: "button", onclick: () => { location.hash = "plans"; } }, say.all)));
      if (error.answered === undefined) console.warn(String(error));
    }
  }

  async function list() {
    const kept = await ask("GET", "plans");
    if (over) return;
    const names = kept.map((plan) => plan.name), drafts = draftNames();
    const row = (plan, more) => make("li", {}, make("a", { class: "button", href: `#plans/${encodeURIComponent(plan)}` }, make("span", {}, plan, more)));
    const says = (plan, time) => [inWords(plan.when ?? {}, time), say.paces[plan.pace?.kind], drafts.includes(plan.name) && say.unsaved].filter(Boolean).join(" · ");
    const smalls = new Map(kept.map((plan) => [plan, make("small", {}, says(plan))]));
    place.replaceChildren(
      kept.length || drafts.length ? make("p", { class: "quiet" }, say.listSays) : make("p", {}, say.none),
      make("ul", { id: "plans-list" },
        kept.map((plan) => row(plan.name, smalls.get(plan))),
        drafts.filter((draft) => !names.includes(draft)).map((draft) => row(draft, make("small", {}, say.neverSaved)))));
    if (mayChange()) hall.tools(make("button", { type: "button", id: "plan-new", onclick: () => newSheet([...names, ...drafts]) }, say.new));
    const timed = await todays(kept);
    for (const [plan, small] of smalls) set(small, says(plan, timed(plan)));
  }
}
