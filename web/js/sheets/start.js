// Start one of the plans that are kept on the rig, now or when it says, or at a time: what it comes to stands below it.

import { start as say } from "../words.js";
import { ask } from "../link.js";
import { make, show } from "../dom.js";
import { clock } from "../figures.js";
import { heard, rigTime, seconds } from "../rig.js";
import { Order } from "../once.js";
import { openSheet } from "../sheet.js";
import { coming } from "./coming.js";
import { readiness } from "./ready.js";

/** `plan` as it would be started: its name where nothing is changed, else a document. */
function begun(plan, begin, time) {
  if (begin === "planned") return plan.name;
  return { ...plan, when: { ...plan.when, date: undefined, start: begin === "now" ? "now" : time } };
}
/** Whether a plan can begin at another time than its own: one that comes round again cannot. */
const movable = ({ when }) => !when?.every && !when?.windows;

/** `wanted`: the name of the plan that is chosen at first. */
export async function open(wanted) {
  const plans = await ask("GET", "plans"), order = new Order();
  const chosen = plans.find((plan) => plan.name === wanted) ?? plans[0];
  const choice = (group, value, text, small, checked) => make("label", { class: "choice" },
    make("input", { type: "radio", name: group, value, checked }), make("span", {}, text, small && make("small", {}, small)));
  const list = make("div", { id: "start-plans", role: "radiogroup", "aria-labelledby": "start-title" },
    plans.map((plan) => choice("plan", plan.name, plan.name, say.when(plan.when ?? {}), plan === chosen)));
  const time = make("div", { class: "field" }, make("label", { for: "start-at" }, say.at), // a picker of the phone's own would be bright
    make("input", { id: "start-at", inputmode: "numeric", autocomplete: "off", maxlength: 5 }));
  const begins = make("div", { id: "start-begins", class: "parts", role: "radiogroup", "aria-label": say.begin },
    Object.entries(say.begins).map(([value, text]) => choice("begin", value, text, null, value === "planned")));
  const ready = readiness(() => plan()?.name), comes = coming({ order, changed: (can, text) => { sheet?.ready(can); sheet?.name(text); } });
  const body = make("div", { class: "stack", oninput: stale }, list, begins, time, comes, plans.length > 0 && ready.element);

  const plan = () => plans.find(({ name }) => name === body.querySelector("[name=plan]:checked")?.value);
  const begin = () => (movable(plan()) ? body.querySelector("[name=begin]:checked").value : "planned");
  /** `18:20` of what was typed, with a colon or without; null where that is no time. */
  function typed() {
    const [, hour, minute] = /^(\d{1,2})[:. ]?(\d\d)$/.exec(time.lastChild.value.trim()) ?? [];
    return hour < 24 && minute < 60 ? `${hour.padStart(2, "0")}:${minute}` : null;
  }
  /** What is to be started; null where a time is still to be given. */
  const wish = () => (begin() === "at" && typed() === null ? null : begun(plan(), begin(), typed()));

  function stale() {
    if (!plan()) return;
    show(begins, movable(plan()));
    show(time, begin() === "at");
    ready.clear();
    comes.stale(wish() === null ? say.noTime : say.looking);
  }

  async function look() {
    stale();
    return plan() && wish() !== null ? comes.look(plan(), wish()) : false;
  }

  let sheet = null;
  sheet = openSheet({
    name: "start", title: say.title, body, doing: say.act(null, 0), look,
    async act() {
      const started = await order.give("shoots", { plan: wish() });
      heard("shoot", started);
      return say.done(started.plan_name, clock(seconds(started.start_utc), rigTime(), started.plan.site.timezone), seconds(started.start_utc) - rigTime());
    },
  });
  show(begins, plans.length > 0 && movable(chosen));
  show(time, false);
  if (!plans.length) sheet.complain(say.none);
  sheet.addEventListener("close", () => { comes.end(); ready.clear(); });
}
