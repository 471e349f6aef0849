// Scene EV, exposure and interval over the sun's altitude, as far as the shoot has come; slots without a frame as crosses.
// Where the sun turns, at midnight and noon, the curves go on beside, from left to right in time: they would fold back.

import { frames as say } from "../words.js";
import { draw, make, show } from "../dom.js";
import { number } from "../figures.js";
import { none } from "./frames-log.js";

const LEFT = 30, RIGHT = 6, TOP = 28, MIDDLE = 172, LOW = 208, BOTTOM = 280, HEIGHT = 318;
const STEPS = [0.1, 0.2, 0.5, 1, 2, 3, 5, 10, 15, 30, 60, 120, 300, 600];

const round = (value) => Math.round(value * 10) / 10;

/** A scale from values to pixels, with ticks at round values, at most `most` of them. */
export function scale(values, from, to, most, least) {
  let low = Math.min(...values), high = Math.max(...values);
  const spare = Math.max(0, least - (high - low)) / 2;
  [low, high] = [low - spare, high + spare];
  const step = STEPS.find((size) => (high - low) / size <= most) ?? STEPS.at(-1);
  const ticks = [];
  for (let tick = Math.ceil(low / step); tick * step <= high; tick++) ticks.push(round(tick * step));
  return { at: (value) => round(from + ((value - low) / (high - low)) * (to - from)), ticks };
}

const APART_PX = 14, LEAST_PX = 20, PAUSE_S = 7200;
const sun = (frame) => frame.sun_altitude_deg, when = (frame) => Date.parse(frame.due_utc) / 1000;

/** Frames in runs through which the sun goes one way. Where it turns is in both; after a long pause a run begins anew. */
export function branches(frames) {
  const found = [];
  let way = 0, before = null;
  for (const frame of frames) {
    const turn = before === null ? 0 : Math.sign(sun(frame) - sun(before));
    if (before === null || when(frame) - when(before) > PAUSE_S) {
      found.push([]);
      way = 0;
    } else if (turn * way < 0) {
      found.push([before]);
      way = turn;
    } else {
      way ||= turn;
    }
    found.at(-1).push(frame);
    before = frame;
  }
  return found;
}

/** A scale for each of the runs, side by side, as wide as the sun's way in it; each with `has(frame)` and `rises`. */
function sideBySide(runs, left, right) {
  const ways = runs.map((run) => Math.abs(sun(run.at(-1)) - sun(run[0]))), sum = ways.reduce((all, way) => all + way, 0) || 1;
  const room = right - left - (runs.length - 1) * APART_PX - runs.length * LEAST_PX;
  let from = left;
  return runs.map((run, i) => {
    const to = from + LEAST_PX + Math.max(0, room) * (ways[i] / sum), rises = sun(run.at(-1)) > sun(run[0]);
    const own = scale(run.map(sun), rises ? from : to, rises ? to : from, (to - from) / 48, 0.2);
    const made = { ...own, left: from, right: to, rises, has: (frame) => frame.seq <= run.at(-1).seq };
    from = to + APART_PX;
    return made;
  });
}

const line = (pairs, x, y) => pairs.map(([a, b], i) => `${i ? "L" : "M"}${x.at(a)} ${y.at(b)}`).join("");
const crosses = (places) => places.map(([a, b]) => `M${a - 4} ${b - 4}l8 8m0 -8l-8 8`).join("");

export function openCurves(log) {
  const drawing = make("div", { id: "curves-drawing" }), early = make("p", { class: "quiet" }, say.curvesEarly);
  const element = make("section", { id: "curves" }, make("h3", {}, say.curves), early, drawing);
  let waiting = null;
  const soon = (ms) => { waiting ??= setTimeout(paint, ms); };
  const seen = new ResizeObserver(() => soon(100));
  seen.observe(drawing);

  function paint() {
    waiting = null;
    const frames = log.whole().filter((frame) => frame.sun_altitude_deg != null);
    show(early, frames.length < 2);
    if (frames.length < 2 || !drawing.clientWidth) return;
    const width = drawing.clientWidth, right = width - RIGHT, runs = branches(frames), xs = sideBySide(runs, LEFT, right);
    /** Pairs of the sun's altitude and a value, for each run. */
    const pairs = (key) => runs.map((run) => run.filter((frame) => frame[key] != null && !none(frame)).map((frame) => [sun(frame), frame[key]]));
    const scene = pairs("scene_ev"), exposure = pairs("exposure_ev"), interval = pairs("interval_s");
    const lines = (of, y) => of.map((run, i) => line(run, xs[i], y)).join(""), values = (...of) => of.flat(2).map(([, value]) => value);
    const gaps = log.runs().map(([from]) => log.row(from)).filter((frame) => frame?.sun_altitude_deg != null);
    const svg = draw("svg", { viewBox: `0 0 ${width} ${HEIGHT}`, height: HEIGHT, role: "img", "aria-label": say.curvesSay(frames[0], frames.at(-1)) });
    const put = (tag, members, text) => svg.append(draw(tag, members, text));

    function panel(title, y, top, bottom) {
      put("text", { x: 0, y: top - 12 }, title);
      put("path", { class: "grid", d: xs.map((x) => `M${x.left} ${top}V${bottom}H${x.right}`).join("") });
      for (const tick of y.ticks) {
        put("path", { class: "grid", d: xs.map((x) => `M${x.left} ${y.at(tick)}H${x.right}`).join("") });
        put("text", { x: LEFT - 5, y: y.at(tick) + 4, "text-anchor": "end" }, number(tick));
      }
      for (const x of xs) for (const tick of x.ticks) put("path", { class: "grid", d: `M${x.at(tick)} ${top}V${bottom}` });
    }

    const levels = values(scene, exposure);
    if (levels.length) {
      const y = scale(levels, MIDDLE, TOP, 6, 2);
      panel(say.evAxis, y, TOP, MIDDLE);
      put("path", { class: "line exposure", d: lines(exposure, y) });
      put("path", { class: "line", d: lines(scene, y) });
      put("path", { class: "line cross", d: crosses(gaps.map((frame) => [(xs.find((x) => x.has(frame)) ?? xs.at(-1)).at(sun(frame)), MIDDLE - 6])) });
      put("path", { class: "line", d: `M${right - 152} 12h16` });
      put("path", { class: "line exposure", d: `M${right - 86} 12h16` });
      put("text", { x: right - 130, y: 16 }, say.sceneKey);
      put("text", { x: right - 64, y: 16 }, say.exposureKey);
      if (gaps.length) put("text", { x: right, y: MIDDLE + 24, "text-anchor": "end" }, say.missedKey);
    }
    const pace = scale(values(interval), BOTTOM, LOW, 4, 1);
    panel(say.intervalAxis, pace, LOW, BOTTOM);
    put("path", { class: "line", d: lines(interval, pace) });
    for (const x of xs) {
      for (const tick of x.ticks) { // a label that does not fit whole is left out
        const from = x.at(tick);
        if (from > x.left + 8 && from < x.right - 16) put("text", { x: from, y: BOTTOM + 16, "text-anchor": "middle" }, `${number(tick)}°`);
      }
      if (xs.length > 1 && x.right - x.left > 84) put("text", { x: (x.left + x.right) / 2, y: HEIGHT - 4, "text-anchor": "middle" }, x.rises ? say.sunRises : say.sunSinks);
    }
    if (xs.length === 1) put("text", { x: right, y: HEIGHT - 4, "text-anchor": "end" }, say.sunAxis);
    drawing.replaceChildren(svg);
  }

  paint();
  return { element, changed: () => soon(500), close() { clearTimeout(waiting); seen.disconnect(); } };
}
