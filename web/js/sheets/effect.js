// What a change comes to, before it is made: how the shoot stands beside what it would be then.

import { effect as say } from "../words.js";
import { ask } from "../link.js";
import { make, set, show } from "../dom.js";
import { rigTime, seconds } from "../rig.js";

const PATIENCE_MS = 20000; // it is worked out in a process of its own, which is slow on a small machine

const ROWS = {
  frames: (course) => say.frames(course.frames),
  clip: (course) => say.clip(course.clip_s),
  end: (course) => say.end(seconds(course.end_utc), rigTime()),
  interval: (course) => say.interval(course.interval_s),
};
const first = (course, limit) => course.limits.find((met) => met.limit === limit);

/** A table for `shoot` (its id), with `stale()` for a change that is not looked at yet, and `look(change)`. */
export function effectOf(shoot) {
  const says = make("p", { id: "effect-says", role: "status" }), words = make("p", { id: "effect-words", class: "lines" });
  const rows = new Map([...Object.keys(ROWS), ...Object.keys(say.limits)].map((name) => {
    const [stands, then] = [make("td"), make("td")];
    const row = make("tr", { data: { row: name } }, make("th", { scope: "row" }, say.rows[name] ?? say.limits[name]), stands, then);
    row.hidden = !(name in ROWS);
    return [name, { row, stands, then }];
  }));
  const table = make("table", {},
    make("thead", {}, make("tr", {}, make("td"), make("th", { scope: "col" }, say.stands), make("th", { scope: "col" }, say.then))),
    make("tbody", {}, [...rows.values()].map(({ row }) => row)));
  const panel = make("section", { class: "effect", "aria-label": say.title }, says, table, words);
  let turn = 0, asked = null, drawn = false;

  /** Nothing is said of `then` that belongs to another value. */
  panel.stale = () => {
    turn += 1;
    asked?.abort();
    set(says, say.looking);
    mark(say.coming);
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
    for (const limit of Object.keys(say.limits)) {
      const [one, other] = [first(stands, limit), first(then, limit)], { row } = rows.get(limit);
      show(row, Boolean(one ?? other));
      set(rows.get(limit).stands, said(one));
      set(rows.get(limit).then, said(other));
    }
    set(says, change === null ? why : say.differs(stands, then, seconds(then.end_utc) - seconds(stands.end_utc)));
    set(words, more.join("\n"));
  }
  const said = (met) => (met ? say.met(seconds(met.from_utc), rigTime(), met.darker_ev) : say.notMet);

  /**
   * Ask what `change` comes to; null shows how it stands, and `why` there is nothing else. Where it cannot be told, that is
   * said. Whether this was the last look so far.
   */
  panel.look = async (change, why) => {
    panel.stale();
    const mine = turn;
    asked = new AbortController();
    try {
      const answer = await ask("POST", `shoots/${encodeURIComponent(shoot)}/effect`, change ?? {}, { patience_ms: PATIENCE_MS, given_up: asked.signal });
      if (mine === turn) draw(answer, change, why);
    } catch (refusal) {
      if (mine !== turn) return false;
      set(says, change === null ? why : refusal.answered ? refusal.message : say.notTold);
      mark(say.unknown);
    }
    return mine === turn;
  };
  panel.end = () => { turn += 1; asked?.abort(); };
  return panel;
}
