// The shoot as a flip book: one picture, a slider over all slots, and what is known of the frame that is shown.

import { frames as say, NO_ANSWER } from "../words.js";
import { draw, make, set, show } from "../dom.js";
import { barred } from "../face.js";
import { rigSays } from "../rig-says.js";
import { due, factsOf } from "./frames-facts.js";
import { none } from "./frames-log.js";
import { openPictures } from "./frames-pictures.js";
import { after, openStride } from "./frames-player.js";
import { openStrip } from "./frames-strip.js";

const SETTLE_MS = 120; // a finger that slides on wants no picture of where it was
const MISSED_MS = 600; // a slot without a frame stands for so long at least
const AHEAD = 4;
const ALL_S = 30; // the longest shoot is played through in so long, if one wants

const pause = (ms) => new Promise((done) => setTimeout(done, ms));
const icon = (d) => draw("svg", { viewBox: "0 0 24 24", class: "mark", "aria-hidden": "true" }, draw("path", { d }));

/**
 * `kept.at` is the slot to begin at, null for the newest, and on from there as new ones come; `kept.pictured` whether pictures
 * were asked for. Both are kept up, for whoever comes back from another view.
 */
export function openLook(log, hall, kept, fps) {
  let at = kept.at ?? log.newest(), turn = 0, pictured = false, held = false, playing = false, follows = false, gone = false, detailed;
  const pictures = openPictures(), strip = openStrip(log, (seq) => slide(seq));

  const button = (id, name, d, act) => make("button", { type: "button", id, "aria-label": name, onclick: act }, icon(d));
  const back = button("back", say.back, "M16 4v16L6 12z", () => step(-1));
  const on = button("on", say.on, "M8 4v16l10-8z", () => step(1));
  const play = button("play", say.play, "M6 3v18l15-9z", () => (playing ? stop() : run()));
  const place = make("div", { id: "shown-place" }), says = make("figcaption", { id: "shown-says" });
  const told = make("p", { id: "look-told", class: "quiet", role: "status" });
  const slider = make("input", { type: "range", id: "at", min: 1, step: 1, "aria-label": say.slider });
  const ask = make("button", { type: "button", id: "pictures", class: "wide", onclick: () => setPictured(!pictured) });
  const speed = make("select", { id: "speed" }, [...new Set([1, 3, 6, 12, 25, fps])].sort((a, b) => a - b).map((each) =>
    make("option", { value: each, selected: each === 6 }, each === fps ? say.clipSpeed(each) : say.speed(each))),
    make("option", { value: "all" }, say.allIn(ALL_S)));
  const facts = make("div", { id: "facts" });
  const element = make("section", { id: "look" }, make("figure", { id: "shown" }, place, says), strip.element, slider,
    make("div", { class: "side" }, ask, make("label", { class: "speed" }, make("span", { class: "quiet" }, say.speedName), speed)), told,
    make("h3", {}, say.about), facts);

  /** What is said of the slot, with what is known of it by now. */
  function tell() {
    const frame = log.row(at), run = playing && log.runs().find(([from, to]) => from <= at && at <= to);
    const when = frame ? due(frame, log.zone) : "";
    set(says, !frame ? say.slot(at, log.last(), when)
      : !none(frame) ? say.frame(at, log.last(), when)
        : run && run[1] > run[0] ? say.missedRun(run[0], run[1], when) : say.missedSlot(at, log.last(), when, frame.state));
    slider.max = log.last();
    if (!held) slider.value = at;
    slider.setAttribute("aria-valuetext", says.textContent);
    strip.here(at);
    if (frame !== undefined && frame !== detailed) {
      detailed = frame;
      facts.replaceChildren(factsOf(frame, log.zone));
    }
  }

  const note = (text, image) => {
    const old = image && place.querySelector("img");
    place.classList.toggle("waits", Boolean(old));
    if (!old) place.replaceChildren(make("p", {}, text));
  };

  /** Show the slot's picture, or why there is none. Gives false where somebody has gone on meanwhile. */
  async function paint(mine) {
    const frame = log.row(at);
    show(place, pictured);
    if (!pictured) return true;
    if (!frame) note(say.noRow);
    else if (none(frame)) note(say.states[frame.state] + (frame.cause ? `\n${rigSays(frame.cause)}` : ""));
    else if (!frame.preview) note(say.noPicture);
    else {
      const late = setTimeout(() => { if (mine === turn) note(say.coming, true); }, 150);
      const image = await pictures.get(frame);
      clearTimeout(late);
      if (mine !== turn) return false;
      if (!image) note(say.notThrough);
      else {
        image.alt = says.textContent;
        // Once for all of them: in the dark it cannot be told, and a flip book must not jump.
        if (!element.classList.contains("barred") && barred(image)) element.classList.add("barred");
        place.classList.remove("waits");
        if (place.firstChild !== image) place.replaceChildren(image);
      }
    }
    return true;
  }

  function follow(wanted) {
    follows = wanted;
    kept.at = wanted ? null : at;
  }

  async function go(seq, settle = 0, stride = 1) {
    const mine = ++turn;
    at = Math.min(log.last(), Math.max(1, seq));
    follow(at === log.last());
    tell();
    try {
      if (settle) await pause(settle);
      if (mine !== turn || gone) return false;
      if (log.row(at) === undefined) {
        await log.need(at, stride);
        if (mine !== turn || gone) return false;
        tell();
      }
      return await paint(mine);
    } catch (refusal) {
      if (mine === turn && !gone) set(told, refusal.answered ? refusal.message : NO_ANSWER);
      return false;
    }
  }

  function step(by) {
    stop();
    set(told, "");
    go(at + by);
  }

  /** Where a finger slides it goes in steps of the view over all: those rows are there already. */
  function slide(seq) {
    stop();
    const every = log.every();
    go(Math.abs(seq - at) >= every ? Math.max(1, Math.round(seq / every) * every) : seq, SETTLE_MS);
  }

  function setPictured(wanted) {
    pictured = kept.pictured = wanted;
    set(ask, wanted ? say.hide : say.show);
    ask.setAttribute("aria-expanded", String(wanted));
    strip.picture(wanted);
    if (!wanted) { stop(); place.replaceChildren(); }
    paint(++turn);
  }

  function stop() {
    if (!playing) return;
    playing = false;
    ++turn;
    put();
    tell();
  }

  function put() {
    play.setAttribute("aria-label", playing ? say.pause : say.play);
    play.replaceChildren(icon(playing ? "M5 4h5v16H5zM14 4h5v16h-5z" : "M6 3v18l15-9z"));
  }

  /** Play from here on, or anew from the first slot where this is the last. */
  async function run() {
    const stride = openStride(), wanted = () => (speed.value === "all" ? Math.max(1, log.last() / ALL_S) : Number(speed.value));
    if (!pictured) setPictured(true);
    playing = true;
    put();
    set(told, "");
    let cursor = at >= log.last() ? 0 : at, shown = cursor;
    while (playing && cursor < log.last()) {
      const began = performance.now(), by = stride.at(wanted()), to = after(cursor, by, log.runs(), log.last());
      try {
        await log.need(to, by);
      } catch (refusal) {
        if (playing) set(told, refusal.answered ? refusal.message : NO_ANSWER);
        break;
      }
      if (!playing || gone) return;
      cursor = to;
      const frame = log.row(to);
      if (frame && !frame.preview && !none(frame)) continue; // no picture of it was wanted: the one before stays
      const here = go(to, 0, by);
      ahead(to, by);
      if (!(await here)) break;
      const took = performance.now() - began, given = (1000 * (to - shown)) / wanted();
      shown = to;
      stride.took(took, given, wanted());
      set(told, by === 1 ? "" : say.thinned(by));
      await pause(Math.max(0, frame && none(frame) ? MISSED_MS : given - took));
    }
    if (!gone) stop();
  }

  let reaching = false;
  /** Have the next few on their way before they are wanted. */
  async function ahead(seq, stride) {
    if (reaching) return;
    reaching = true;
    try {
      for (let i = 0; i < AHEAD && playing && seq < log.last(); i++) {
        seq = after(seq, stride, log.runs(), log.last());
        await log.need(seq, stride);
        const frame = log.row(seq);
        if (playing && frame?.preview) pictures.get(frame);
      }
    } catch {
      // who plays meets it at that slot, and says so
    } finally {
      reaching = false;
    }
  }

  slider.addEventListener("pointerdown", () => { held = true; });
  for (const kind of ["pointerup", "pointercancel", "change"]) slider.addEventListener(kind, () => { held = false; slider.value = at; });
  slider.addEventListener("input", () => (held ? slide(slider.valueAsNumber) : step(slider.valueAsNumber - at)));
  const keys = (event) => {
    if (event.target.closest("input, select, dialog") || event.ctrlKey || event.altKey || event.metaKey) return;
    const by = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (by) { event.preventDefault(); step(by); }
  };
  const away = () => { if (document.visibilityState === "hidden") stop(); };
  document.addEventListener("keydown", keys);
  document.addEventListener("visibilitychange", away);
  hall.tools(back, play, on);
  const begins = kept.at;
  setPictured(kept.pictured);
  go(at);
  follow(begins === null);

  return {
    element,
    /** A frame came, or more is known of one. */
    changed(frame) {
      strip.changed();
      const newer = frame.seq > at && (frame.preview || none(frame) || !log.whole().some((each) => each.preview));
      const still = follows;
      if (playing || held) return;
      if (still && newer) go(frame.seq);
      else if (frame.seq === at) go(at);
      else tell();
      follow(still || follows);
    },
    drawn() { strip.changed(); tell(); },
    close() {
      gone = true;
      playing = false;
      strip.close();
      document.removeEventListener("keydown", keys);
      document.removeEventListener("visibilitychange", away);
      hall.tools();
    },
  };
}
