// Start one of the plans that are kept on the rig, now or when it says, or at a time: what it comes to stands below it,
// whether another shoot has the camera then, and whether the rig is ready, which is asked only by a tap.

import { effect, start as say, plans as words } from "../words.js";
import { ask } from "../link.js";
import { make, set, show } from "../dom.js";
import { clock, timeOfDay } from "../figures.js";
import { document_, heard, on, rigTime, running, seconds, shoot, state } from "../rig.js";
import { Order } from "../once.js";
import { openSheet } from "../sheet.js";
import { rigSays } from "../rig-says.js";
import { inWords, todays } from "./when.js";

const MOST_WARNINGS = 3, FORECAST_MS = 90000, SLOW_MS = 15000, CHECK_MS = 70000; // cameras are slow to tell

/** When the shoot that runs has the camera, as far as the page knows: POSIX seconds; null where only the rig can tell. */
function had(plan) {
  const { when, cameras } = shoot().plan;
  if (plan.cameras || cameras) return null; // they may share the rig
  const from = state() === "waiting" ? seconds(shoot().start_utc) : 0;
  if (when.every || when.windows) return from ? null : { from, until: (rigTime() ?? 0) + 1 };
  return { from, until: seconds(document_().end_utc) ?? Infinity };
}

/** Why a plan whose first window is that cannot be started; null where nothing is known to be in its way. */
function inTheWay(plan, { start_utc, end_utc }) {
  const its = running() ? had(plan) : null;
  if (!its || seconds(start_utc) >= its.until || (seconds(end_utc) ?? Infinity) <= its.from) return null;
  return say.taken(shoot().plan_name, document_().end_utc && clock(seconds(document_().end_utc), rigTime()));
}

/**
 * The part of a sheet; `changed(can, act)` hears whether it can be started, and what the button says, each time that
 * something is known anew. `drawn(forecast)` may show more of it. A start of `order` that was not answered may be what is in
 * the way: it can be given again.
 */
export function coming({ order, changed, drawn = () => {} }) {
  const comes = make("p", { id: "start-comes", class: "lines", role: "status" }), warns = make("ul", { id: "start-warns", class: "told" });
  const enough = make("button", { type: "button", id: "start-enough", class: "wide", hidden: true, onclick: () => asked?.abort() }, effect.enough);
  const more = make("p", { class: "quiet" }), others = make("p", { id: "start-others", role: "status" });
  const part = make("div", {}, comes, enough, others, warns, more), known = new Map(), before = running() ? shoot().id : null;
  let turn = 0, asked = null, plan = null, told = null, settled = false;

  /** What was told belongs to another choice; `text` stands there meanwhile. */
  part.stale = (text = say.looking) => {
    turn += 1;
    asked?.abort();
    [told, settled] = [null, false];
    show(enough, false);
    set(comes, text);
    warn([]);
    seen();
  };

  /** Ask what `wish`, a document or the name of `of`, comes to. Whether it can be started, or null: another look follows. */
  part.look = async (of, wish) => {
    part.stale();
    const mine = turn, body = { plan: wish }, key = JSON.stringify(body);
    plan = of;
    asked = new AbortController();
    const slow = setTimeout(() => { set(comes, effect.slow); show(enough, true); }, SLOW_MS);
    try {
      if (!known.has(key)) known.set(key, await ask("POST", "forecast", body, { patience_ms: FORECAST_MS, given_up: asked.signal }));
      if (mine !== turn) return null;
      told = known.get(key);
      draw(told);
    } catch (refusal) {
      if (mine !== turn) return null;
      set(comes, refusal.answered ? refusal.message : say.notTold);
    } finally {
      clearTimeout(slow);
      if (mine === turn) show(enough, false);
    }
    settled = true;
    return seen();
  };

  function draw({ windows, frames, clip_s, warnings, timezone }) {
    const now = rigTime() ?? Date.now() / 1000, [first] = windows, wait = seconds(first.start_utc) - now;
    const at = (utc) => (utc === null ? null : clock(seconds(utc), now, timezone)), from = at(first.start_utc);
    set(comes, [[say.from(from, wait), say.until(at(first.end_utc))].join(", "), say.comes(frames, clip_s), say.windows(windows.length)].filter(Boolean).join("\n"));
    warn(warnings);
    drawn(told);
  }

  /** The worst, each with its remedy, and how many more there are. */
  function warn(warnings) {
    const worst = warnings.filter(({ costs }) => costs !== "comfort").slice(0, MOST_WARNINGS);
    warns.replaceChildren(...worst.map((one) => make("li", {}, make("strong", {}, `▲ ${words.costs[one.costs]}: `), rigSays(one.what), make("small", {}, rigSays(one.remedy)))));
    set(more, say.more(warnings.length - worst.length, worst.length));
  }

  /** Another shoot may have begun or ended meanwhile; what is not known here, the rig refuses. */
  function seen() {
    const why = told && inTheWay(plan, told.windows[0]), began = running() && shoot().id !== before;
    set(others, why ?? (began ? say.runs(shoot().plan_name) : ""));
    const wait = told && seconds(told.windows[0].start_utc) - rigTime();
    const can = why === null || order.unheard;
    changed(settled && can, told ? say.act(clock(seconds(told.windows[0].start_utc), rigTime(), told.timezone), wait) : say.act(null, 0));
    return can;
  }

  const deaf = [on("shoot", seen), on("now", seen)];
  part.end = () => { turn += 1; asked?.abort(); for (const end of deaf) end(); };
  return part;
}

/** A button and the line below it, for the plan that `named()` names; `clear()` takes the line away. */
export function readiness(named) {
  const line = make("p", { id: "ready-says", class: "lines", role: "status" });
  const button = make("button", { type: "button", id: "ready", class: "wide", onclick: look }, say.ready);
  let turn = 0, asked = null;

  function clear() {
    turn += 1;
    asked?.abort();
    set(line, "");
    button.removeAttribute("aria-busy");
  }
  async function look() {
    clear();
    const mine = turn;
    asked = new AbortController();
    button.setAttribute("aria-busy", "true");
    set(line, say.checking);
    try {
      const checked = await ask("GET", `check?plan=${encodeURIComponent(named())}`, undefined, { patience_ms: CHECK_MS, given_up: asked.signal });
      if (mine === turn) set(line, told(checked));
    } catch (refusal) {
      if (mine === turn) set(line, refusal.answered ? refusal.message : say.notChecked);
    } finally {
      if (mine === turn) button.removeAttribute("aria-busy");
    }
  }
  return { element: make("div", {}, button, line), clear };
}

/** How ready, and the worst finding with its remedy. */
function told({ ready, findings }) {
  const of = (level) => findings.filter((finding) => finding.level === level), worst = findings.find(({ level }) => level !== "pass");
  return [ready ? say.isReady(of("warn").length) : say.notReady(of("fail").length), worst && [worst.what, worst.remedy].filter(Boolean).map(rigSays).join(". ")].filter(Boolean).join("\n");
}

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
  if (document.getElementById("start-sheet")) return; // tapped twice on a slow link
  const chosen = plans.find((plan) => plan.name === wanted) ?? plans[0];
  const choice = (group, value, text, small, checked) => make("label", { class: "choice" },
    make("input", { type: "radio", name: group, value, checked }), make("span", {}, text, small && make("small", {}, small)));
  const list = make("div", { id: "start-plans", role: "radiogroup", "aria-labelledby": "start-title" },
    plans.map((plan) => choice("plan", plan.name, plan.name, inWords(plan.when ?? {}), plan === chosen)));
  const time = make("div", { class: "field" }, make("label", { for: "start-at" }, say.at), // a picker of the phone's own would be bright
    make("input", { id: "start-at", inputmode: "numeric", autocomplete: "off", maxlength: 5 }));
  const begins = make("div", { id: "start-begins", class: "parts", role: "radiogroup", "aria-label": say.begin },
    Object.entries(say.begins).map(([value, text]) => choice("begin", value, text, null, value === "planned")));
  const ready = readiness(() => plan()?.name), comes = coming({ order, changed: (can, text) => { sheet?.ready(can); sheet?.name(text); } });
  const body = make("div", { class: "stack", oninput: stale }, list, begins, time, comes, plans.length > 0 && ready.element);

  const plan = () => plans.find(({ name }) => name === body.querySelector("[name=plan]:checked")?.value);
  const begin = () => (movable(plan()) ? body.querySelector("[name=begin]:checked").value : "planned");
  const typed = () => timeOfDay(time.lastChild.value);
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
  const timed = await todays(plans);
  plans.forEach((plan, i) => set(list.children[i].querySelector("small"), inWords(plan.when ?? {}, timed(plan))));
}
