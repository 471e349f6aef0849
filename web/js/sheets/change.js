// Change pace, brightness or limits while it runs: one of them at a time, its effect beside how it stands.

import { change as say } from "../words.js";
import { make, set } from "../dom.js";
import { heard, on, running, shoot } from "../rig.js";
import { Order } from "../once.js";
import { openSheet } from "../sheet.js";
import { effectOf } from "./effect.js";
import { brightness, limits, pace } from "./parts.js";

const PARTS = { pace, brightness, limits };

export function open(wanted = "pace") {
  const before = shoot(), order = new Order(), effect = effectOf(before.id), place = make("div");
  const others = make("p", { id: "change-others", role: "status", hidden: true });
  let part = null, adjust = JSON.stringify(before.adjust);

  const tabs = Object.keys(PARTS).map((name) =>
    make("button", { type: "button", data: { part: name }, "aria-pressed": "false", onclick: () => choose(name) }, say.parts[name]));
  function choose(name) {
    for (const tab of tabs) tab.setAttribute("aria-pressed", String(tab.dataset.part === name));
    part = PARTS[name](shoot());
    place.replaceChildren(part.element);
    sheet?.complain("");
    sheet?.again();
  }

  /** Show what is to be changed, as the rig's call has it, or why nothing is. */
  async function look() {
    let wish = null, why = say.nothing;
    try { wish = part.wanted(); } catch (error) { why = error.message; }
    const last = await effect.look(wish && { [part.call]: wish }, why);
    return last && !over() ? wish !== null : null;
  }
  const over = () => !running() || shoot().id !== before.id;

  /** Another may have changed or ended it meanwhile. */
  function seen() {
    if (over()) {
      effect.end();
      sheet.ready(false);
      sheet.complain(say.ended(shoot()?.id === before.id ? shoot().state : "none"));
    } else if (JSON.stringify(shoot().adjust) !== adjust) {
      adjust = JSON.stringify(shoot().adjust);
      others.hidden = false;
      set(others, say.byOthers);
      sheet.again();
    }
  }

  let sheet = null;
  choose(wanted);
  const body = make("div", { class: "stack", oninput: effect.stale }, make("div", { class: "parts", role: "group", "aria-label": say.title }, tabs), others, place, effect);
  sheet = openSheet({
    name: "change", title: say.title, body, doing: say.act, look,
    async act() {
      const wish = part.wanted();
      const after = await order.give(`shoots/${encodeURIComponent(before.id)}/${part.call}`, wish);
      adjust = JSON.stringify(after.adjust);
      heard("shoot", after);
      return part.done(wish);
    },
  });
  const deaf = [on("shoot", seen), on("now", seen)];
  sheet.addEventListener("close", () => { effect.end(); for (const end of deaf) end(); });
}
