// Start one of the plans that are kept on the rig, now or when it says, or at a time: what it comes to stands below it.

import { start as say } from "../words.js";
import { ask } from "../link.js";
import { make, set, show } from "../dom.js";
import { clock } from "../figures.js";
import { heard, on, rigTime, running, seconds, shoot } from "../rig.js";
import { Order } from "../once.js";
import { openSheet } from "../sheet.js";
import { readiness } from "./ready.js";

const PATIENCE_MS = 30000;

/** `plan` as it would be started: its name where nothing is changed, else a document. */
function begun(plan, begin, time) {
  if (begin === "planned") return plan.name;
  return { ...plan, when: { ...plan.when, date: undefined, start: begin === "now" ? "now" : time } };
}
/** Whether a plan can begin at another time than its own: one that comes round again cannot. */
const movable = ({ when }) => !when?.every && !when?.windows;

/** `wanted`: the name of the plan that is chosen at first. */
export async function open(wanted) {
  const plans = await ask("GET", "plans"), order = new Order(), runsBefore = running() ? shoot().id : null;
  const chosen = plans.find((plan) => plan.name === wanted) ?? plans[0];
  const choice = (group, value, text, small, checked) => make("label", { class: "choice" },
    make("input", { type: "radio", name: group, value, checked }), make("span", {}, text, small && make("small", {}, small)));
  const list = make("div", { id: "start-plans", role: "radiogroup", "aria-labelledby": "start-title" },
    plans.map((plan) => choice("plan", plan.name, plan.name, say.when(plan.when ?? {}), plan === chosen)));
  const time = make("div", { class: "field" }, make("label", { for: "start-at" }, say.at), // a picker of the phone's own would be bright
    make("input", { id: "start-at", inputmode: "numeric", autocomplete: "off", maxlength: 5 }));
  const begins = make("div", { id: "start-begins", class: "parts", role: "radiogroup", "aria-label": say.begin },
    Object.entries(say.begins).map(([value, text]) => choice("begin", value, text, null, value === "planned")));
  const comes = make("p", { id: "start-comes", class: "lines", role: "status" }), warns = make("p", { id: "start-warns", class: "lines" });
  const others = make("p", { id: "start-others", role: "status", hidden: true }), ready = readiness(() => plan()?.name);
  const body = make("div", { class: "stack", oninput: stale }, list, begins, time, comes, warns, plans.length > 0 && ready.element, others);
  const known = new Map();
  let turn = 0, asked = null;

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
    turn += 1;
    asked?.abort();
    if (!plan()) return;
    show(begins, movable(plan()));
    show(time, begin() === "at");
    ready.clear();
    set(comes, wish() === null ? say.noTime : say.looking);
    set(warns, "");
    sheet?.name(say.act(null, 0));
  }

  async function look() {
    stale();
    if (!plan() || wish() === null) return;
    const mine = turn, body = { plan: wish() }, key = JSON.stringify(body);
    asked = new AbortController();
    try {
      if (!known.has(key)) known.set(key, await ask("POST", "forecast", body, { patience_ms: PATIENCE_MS, given_up: asked.signal }));
      if (mine === turn) draw(known.get(key));
    } catch (refusal) {
      if (mine === turn) set(comes, refusal.answered ? refusal.message : say.notTold);
    }
  }

  function draw({ windows, frames, clip_s, warnings, timezone }) {
    const now = rigTime() ?? Date.now() / 1000, [first] = windows, wait = seconds(first.start_utc) - now;
    const at = (utc) => (utc === null ? null : clock(seconds(utc), now, timezone)), from = at(first.start_utc);
    set(comes, [[say.from(from, wait), say.until(at(first.end_utc))].join(", "), say.comes(frames, clip_s), say.windows(windows.length)].filter(Boolean).join("\n"));
    const worst = warnings.find(({ costs }) => costs !== "comfort");
    set(warns, worst ? [`▲ ${worst.what}. ${worst.remedy}`, say.more(warnings.length - 1)].filter(Boolean).join("\n") : say.more(warnings.length));
    sheet?.name(say.act(from, wait));
  }

  /** Another may have started one meanwhile; the rig refuses what it cannot do beside it. */
  function seen() {
    const other = running() && shoot().id !== runsBefore;
    show(others, other);
    if (other) set(others, say.runs(shoot().plan_name));
  }

  let sheet = null;
  sheet = openSheet({
    name: "start", title: say.title, body, doing: say.act(null, 0), look,
    async act() {
      if (wish() === null) throw new Error(say.noTime);
      const started = await order.give("shoots", { plan: wish() });
      heard("shoot", started);
      return say.done(started.plan_name, clock(seconds(started.start_utc), rigTime(), started.plan.site.timezone), seconds(started.start_utc) - rigTime());
    },
  });
  sheet.ready(plans.length > 0);
  show(begins, plans.length > 0 && movable(chosen));
  show(time, false);
  if (!plans.length) sheet.complain(say.none);
  const deaf = [on("shoot", seen), on("now", seen)];
  sheet.addEventListener("close", () => { turn += 1; asked?.abort(); ready.clear(); for (const end of deaf) end(); });
}
