// Start one of the plans that are kept on the rig.

import { start as say } from "../words.js";
import { ask } from "../link.js";
import { make } from "../dom.js";
import { heard } from "../rig.js";
import { openSheet } from "../sheet.js";

export async function open() {
  const plans = await ask("GET", "plans");
  const body = make("div", { id: "start-plans", role: "radiogroup", "aria-labelledby": "start-title" }, plans.map((plan, number) =>
    make("label", { class: "choice" },
      make("input", { type: "radio", name: "plan", value: plan.name, checked: number === 0 }),
      make("span", {}, plan.name, make("small", {}, say.when(plan.when ?? {}))))));
  const sheet = openSheet({
    name: "start", title: say.title, body, doing: say.act,
    async act() {
      const plan = body.querySelector("input:checked").value;
      const started = await ask("POST", "shoots", { plan });
      heard("shoot", started);
      return say.done(started);
    },
  });
  sheet.ready(plans.length > 0);
  if (!plans.length) sheet.complain(say.none);
}
