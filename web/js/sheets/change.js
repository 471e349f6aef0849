// Change pace, brightness or limits while it runs, or hold it: one of them at a time, and before it is made, what it comes
// to: how the shoot stands beside what it would be then.

import { change as say, effect as words } from "../words.js";
import { ask } from "../link.js";
import { make, set, show } from "../dom.js";
import { heard, on, rigTime, running, seconds, shoot } from "../rig.js";
import { Order } from "../once.js";
import { openSheet } from "../sheet.js";
import { lead } from "../orders.js";
import { brightness, hold, limits, pace } from "./parts.js";

const PATIENCE_MS = 90000, SLOW_MS = 15000; // it is worked out in a process of its own, which is slow on a small machine
const HURRY_MS = 5000; // after which whoever holds is not kept waiting for what it costs

const ROWS = {
  frames: (course) => words.frames(course.frames),
  clip: (course) => words.clip(course.clip_s),
  end: (course) => words.end(seconds(course.end_utc), rigTime()),
  interval: (course) => words.interval(course.interval_s),
};
const first = (course, limit) => course.limits.find((met) => met.limit === limit);

/** A table for the shoot of that `id`, with `stale()` for a change that is not looked at yet, and `look(change)`. */
function effectOf(id) {
  const says = make("p", { id: "effect-says", role: "status" }), lines = make("p", { id: "effect-words", class: "lines" });
  const rows = new Map([...Object.keys(ROWS), ...Object.keys(words.limits)].map((name) => {
    const [stands, then] = [make("td"), make("td")];
    const row = make("tr", { data: { row: name } }, make("th", { scope: "row" }, words.rows[name] ?? words.limits[name]), stands, then);
    row.hidden = !(name in ROWS);
    return [name, { row, stands, then }];
  }));
  const table = make("table", {},
    make("thead", {}, make("tr", {}, make("td"), make("th", { scope: "col" }, words.stands), make("th", { scope: "col" }, words.then))),
    make("tbody", {}, [...rows.values()].map(({ row }) => row)));
  const enough = make("button", { type: "button", id: "effect-enough", class: "wide", hidden: true, onclick: () => asked?.abort() }, words.enough);
  const panel = make("section", { class: "effect", "aria-label": words.title }, says, enough, table, lines);
  let turn = 0, asked = null, drawn = false;

  /** Nothing is said of `then` that belongs to another value. */
  panel.stale = () => {
    turn += 1;
    asked?.abort();
    show(enough, false);
    set(says, words.looking);
    mark(words.coming);
  };

  /** In the place of what is not told; how it stands is kept once it was. */
  function mark(text) {
    for (const { stands, then } of rows.values()) {
      set(then, text);
      if (!drawn) set(stands, text);
    }
  }

  function draw({ stands, then, words: more }, change, why) {
    drawn = true;
    for (const [name, write] of Object.entries(ROWS)) {
      set(rows.get(name).stands, write(stands));
      set(rows.get(name).then, write(then));
    }
    for (const limit of Object.keys(words.limits)) {
      const [one, other] = [first(stands, limit), first(then, limit)], { row } = rows.get(limit);
      show(row, Boolean(one ?? other));
      set(rows.get(limit).stands, said(one));
      set(rows.get(limit).then, said(other));
    }
    set(says, change === null ? why : words.differs(stands, then, seconds(then.end_utc) - seconds(stands.end_utc)));
    set(lines, more.join("\n"));
  }
  const said = (met) => (met ? words.met(seconds(met.from_utc), rigTime(), met.darker_ev) : words.notMet);

  /**
   * Ask what `change` comes to; null shows how it stands, and `why` there is nothing else. Where it cannot be told, that is
   * said. Whether this was the last look so far.
   */
  panel.look = async (change, why) => {
    panel.stale();
    const mine = turn;
    asked = new AbortController();
    const slow = setTimeout(() => { set(says, words.slow); show(enough, true); }, SLOW_MS);
    try {
      const answer = await ask("POST", `shoots/${encodeURIComponent(id)}/effect`, change ?? {}, { patience_ms: PATIENCE_MS, given_up: asked.signal });
      if (mine === turn) draw(answer, change, why);
    } catch (refusal) {
      if (mine !== turn) return false;
      set(says, change === null ? why : refusal.answered ? refusal.message : words.notTold);
      mark(words.unknown);
    } finally {
      clearTimeout(slow);
      if (mine === turn) show(enough, false);
    }
    return mine === turn;
  };
  panel.end = () => { turn += 1; asked?.abort(); };
  return panel;
}

const PARTS = { pace, brightness, limits, hold };
/** What another may have changed: of holding, when it ends. */
const sign = ({ adjust, state, held_until_utc }) => JSON.stringify([adjust, state === "held", held_until_utc]);

export function open(wanted = "pace") {
  const before = shoot(), order = new Order(), effect = effectOf(before.id), place = make("div");
  const others = make("p", { id: "change-others", role: "status", hidden: true });
  let part = null, stood = sign(before);

  const tabs = Object.keys(PARTS).map((name) =>
    make("button", { type: "button", data: { part: name }, "aria-pressed": "false", onclick: () => choose(name) }, say.parts[name]));
  function choose(name) {
    for (const tab of tabs) tab.setAttribute("aria-pressed", String(tab.dataset.part === name));
    part = PARTS[name](shoot());
    place.replaceChildren(part.element);
    sheet?.name(part.act ?? say.act);
    sheet?.entitle(part.title ?? say.title);
    sheet?.complain("");
    sheet?.again();
  }

  /** Show what is to be changed, as the rig's call has it, or why nothing is. */
  async function look() {
    let wish = null, why = say.nothing;
    try { wish = part.wanted(); } catch (error) { why = error.message; }
    const early = part.hurried && wish !== null && setTimeout(() => sheet.ready(!over()), HURRY_MS);
    const last = await effect.look(wish && (part.looks?.() ?? { [part.call]: wish }), why);
    clearTimeout(early);
    return last && !over() ? wish !== null : null;
  }
  const over = () => !running() || shoot().id !== before.id;

  /** Another may have changed or ended it meanwhile. */
  function seen() {
    if (over()) {
      effect.end();
      sheet.ready(false);
      sheet.complain(say.ended(shoot()?.id === before.id ? shoot().state : "none"));
    } else if (sign(shoot()) !== stood) {
      stood = sign(shoot());
      others.hidden = false;
      set(others, say.byOthers);
      sheet.again();
    }
  }

  let sheet = null;
  choose(wanted);
  const body = make("div", { class: "stack", oninput: effect.stale }, make("div", { class: "parts", role: "group", "aria-label": say.title }, tabs), others, place, effect);
  sheet = openSheet({
    name: "change", title: part.title ?? say.title, body, doing: part.act ?? say.act, look,
    async act() {
      const wish = part.wanted();
      const after = await order.give(`shoots/${encodeURIComponent(before.id)}/${part.call}`, wish);
      stood = sign(after);
      heard("shoot", after);
      return part.done(wish);
    },
  });
  const deaf = [on("shoot", seen), on("now", seen)];
  sheet.addEventListener("close", () => {
    effect.end();
    for (const end of deaf) end();
    if (document.activeElement === document.body) lead("hold", "resume"); // it stood on what has gone meanwhile
  });
}
