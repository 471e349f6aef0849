// How fast the body is, as far as it was seen: the interval that is safe, what each step takes, and the steady beat.

import { camera as say } from "../words.js";
import { make, set, show } from "../dom.js";
import { ask } from "../link.js";
import { count, number } from "../figures.js";
import { mayChange, on } from "../rig.js";
import { rigSays } from "../rig-says.js";
import { complain, facts, path, taken, trouble, why } from "./camera-common.js";

const MEASURES = ["write", "set", "readout", "late", "call", "preview", "fetch"];
const BEAT_MS = 45 * 60 * 1000, SURE_MS = 6000;

export function open(box, id) {
  const words = say.timing;
  let gone = false, given = null, begun = 0, sure = null;
  const known = make("div", { id: "timing", class: "stack" }), status = make("p", { class: "quiet", role: "status" }, say.asking), said = trouble();
  const not = make("p", { class: "quiet", hidden: true }, words.busy);
  const act = make("button", { type: "button", id: "beat", class: "wide", onclick: tap }, words.act);
  box.append(status, known, said);
  if (mayChange()) box.append(make("section", {}, make("h4", {}, words.beat), make("p", {}, words.beatSays), not, act));

  async function read() {
    try {
      const timed = await ask("GET", path(id, "timing"));
      if (!gone) fill(timed);
      set(status, "");
    } catch (refusal) {
      set(status, "");
      if (!gone) complain(said, why(refusal));
    }
  }

  function fill({ safe, timings, beats }) {
    const parts = [];
    if (safe === null) parts.push(make("p", {}, words.none));
    else parts.push(facts([[words.gap, words.gap_(safe.gap_s)], [words.interval, words.both(safe.step_s, safe.gap_s)]]), make("p", { class: "quiet" }, words.from(rigSays(safe.basis))));
    parts.push(...timings.map(table));
    parts.push(...beats.map((beat) => make("p", {}, `${words.files(beat.files)}. ${words.beatHeld(beat.held_s, beat.frames)} ${beat.failed_s === null ? "" : words.beatFailed(beat.failed_s, rigSays(beat.cause))}`)));
    known.replaceChildren(...parts);
  }

  const cell = (timing, key) => number(timing[key], timing[key] < 10 ? 2 : 0);
  const table = (of) => make("table", {},
    make("caption", {}, words.files(of.files)),
    make("thead", {}, make("tr", {}, [words.measure, words.half, words.most, words.count].map((text) => make("th", { scope: "col" }, text)))),
    make("tbody", {}, MEASURES.filter((name) => of[name]).map((name) => make("tr", {}, make("th", { scope: "row" }, words.names[name]),
      make("td", {}, cell(of[name], "p50")), make("td", {}, cell(of[name], "p99")), make("td", {}, count(of[name].count))))));

  // ---- the steady beat: a second tap within some seconds begins it

  function tap() {
    if (given) given.abort();
    else if (sure !== null) { forget(); find(); }
    else { sure = setTimeout(forget, SURE_MS); draw(); }
  }
  function forget() { clearTimeout(sure); sure = null; draw(); }

  async function find() {
    given = new AbortController();
    begun = performance.now();
    complain(said);
    const ticking = setInterval(() => set(status, words.doing((performance.now() - begun) / 1000)), 1000);
    draw();
    try {
      await ask("POST", path(id, "beat"), {}, { patience_ms: BEAT_MS, given_up: given.signal });
      if (!gone) await read();
    } catch (refusal) {
      if (!gone) complain(said, given.signal.aborted ? words.ended : why(refusal));
    } finally {
      clearInterval(ticking);
      given = null;
      set(status, "");
      draw();
    }
  }

  function draw() {
    const not_ = taken(id) !== null;
    act.disabled = not_ && !given;
    show(not, not_ && !given);
    set(act, given ? words.stop : sure !== null ? words.sure : words.act);
  }

  const away = () => { if (document.visibilityState === "hidden") given?.abort(); };
  document.addEventListener("visibilitychange", away);
  const ears = ["now", "shoot"].map((kind) => on(kind, draw));
  draw();
  read();
  return { end() { gone = true; forget(); given?.abort(); document.removeEventListener("visibilitychange", away); for (const ear of ears) ear(); } };
}
