// Scene EV, exposure and interval over the sun's altitude, as far as the shoot has come; slots without a frame as crosses.

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
    const sun = (frame) => frame.sun_altitude_deg, width = drawing.clientWidth, right = width - RIGHT;
    const falling = sun(frames[0]) >= sun(frames.at(-1));
    const x = scale(frames.map(sun), falling ? right : LEFT, falling ? LEFT : right, width / 48, 0.2);
    const pairs = (key) => frames.filter((frame) => frame[key] != null).map((frame) => [sun(frame), frame[key]]);
    const scene = pairs("scene_ev"), exposure = pairs("exposure_ev"), interval = pairs("interval_s");
    const gaps = log.runs().map(([from]) => log.row(from)).filter((frame) => frame?.sun_altitude_deg != null);
    const svg = draw("svg", { viewBox: `0 0 ${width} ${HEIGHT}`, height: HEIGHT, role: "img", "aria-label": say.curvesSay(frames[0], frames.at(-1)) });
    const put = (tag, members, text) => svg.append(draw(tag, members, text));

    function panel(title, y, top, bottom) {
      put("text", { x: 0, y: top - 12 }, title);
      put("path", { class: "grid", d: `M${LEFT} ${top}V${bottom}H${right}` });
      for (const tick of y.ticks) {
        put("path", { class: "grid", d: `M${LEFT} ${y.at(tick)}H${right}` });
        put("text", { x: LEFT - 5, y: y.at(tick) + 4, "text-anchor": "end" }, number(tick));
      }
      for (const tick of x.ticks) put("path", { class: "grid", d: `M${x.at(tick)} ${top}V${bottom}` });
    }

    const levels = [...scene, ...exposure].map((pair) => pair[1]);
    if (levels.length) {
      const y = scale(levels, MIDDLE, TOP, 6, 2);
      panel(say.evAxis, y, TOP, MIDDLE);
      put("path", { class: "line exposure", d: line(exposure, x, y) });
      put("path", { class: "line", d: line(scene, x, y) });
      put("path", { class: "line cross", d: crosses(gaps.map((frame) => [x.at(sun(frame)), MIDDLE - 6])) });
      put("path", { class: "line", d: `M${right - 152} 12h16` });
      put("path", { class: "line exposure", d: `M${right - 86} 12h16` });
      put("text", { x: right - 130, y: 16 }, say.sceneKey);
      put("text", { x: right - 64, y: 16 }, say.exposureKey);
      if (gaps.length) put("text", { x: right, y: MIDDLE + 24, "text-anchor": "end" }, say.missedKey);
    }
    const pace = scale(interval.map((pair) => pair[1]), BOTTOM, LOW, 4, 1);
    panel(say.intervalAxis, pace, LOW, BOTTOM);
    put("path", { class: "line", d: line(interval, x, pace) });
    for (const tick of x.ticks) { // a label that does not fit whole is left out
      const from = x.at(tick);
      if (from > LEFT + 8 && from < right - 16) put("text", { x: from, y: BOTTOM + 16, "text-anchor": "middle" }, `${number(tick)}°`);
    }
    put("text", { x: right, y: HEIGHT - 4, "text-anchor": "end" }, say.sunAxis);
    drawing.replaceChildren(svg);
  }

  paint();
  return { element, changed: () => soon(500), close() { clearTimeout(waiting); seen.disconnect(); } };
}
