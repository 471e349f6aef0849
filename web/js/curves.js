// Scene EV, exposure and interval over the sun's altitude, as far as the shoot has come.

import * as say from "./words.js";
import { ask } from "./link.js";
import { $ } from "./face.js";

const MOST = 400, NS = "http://www.w3.org/2000/svg", LEFT = 30, RIGHT = 6;
const STEPS = [0.1, 0.2, 0.5, 1, 2, 3, 5, 10, 15, 30, 60, 120, 300, 600];

let shoot = null, every = 1, points = new Map(), waiting = null, loads = 0;

/** Fetch the frames of `wanted` (a shoot), or what came since where it is the same; thinned out to what can be seen. */
export async function load(wanted, camera) {
  const same = shoot === wanted.id, turn = ++loads;
  if (!same) {
    const { released, written, fetched, lost, missed } = wanted.counts;
    [shoot, points] = [wanted.id, new Map()];
    every = Math.ceil(Math.max(1, released + written + fetched + lost + missed) / MOST); // more than enough where cameras share it
  }
  const after = same ? Math.max(0, ...points.keys()) - 20 * every : 0;
  const frames = await ask("GET", `shoots/${encodeURIComponent(wanted.id)}/frames?after=${Math.max(0, after)}&every=${every}&limit=${2 * MOST}${camera ? `&camera=${camera}` : ""}`);
  if (turn === loads) frames.forEach(add);
}

/** One frame, new or with more known of it. */
export function add(frame) {
  if (frame.shoot !== shoot || frame.seq % every || frame.sun_altitude_deg == null) return;
  points.set(frame.seq, frame);
  if (points.size > 2 * MOST) {
    every *= 2;
    points = new Map([...points].filter(([seq]) => seq % every === 0));
  }
  waiting ??= setTimeout(draw, 500);
}

const round = (value) => Math.round(value * 10) / 10;

function make(name, attributes, text) {
  const element = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text !== undefined) element.textContent = text;
  return element;
}

/** A scale from values to pixels, with ticks at round values, at most `most` of them. */
function scale(values, from, to, most, least) {
  let low = Math.min(...values), high = Math.max(...values);
  const spare = Math.max(0, least - (high - low)) / 2;
  [low, high] = [low - spare, high + spare];
  const step = STEPS.find((size) => (high - low) / size <= most) ?? STEPS.at(-1);
  const ticks = [];
  for (let tick = Math.ceil(low / step); tick * step <= high; tick++) ticks.push(round(tick * step));
  return { at: (value) => round(from + ((value - low) / (high - low)) * (to - from)), ticks };
}

const line = (frames, x, y) => frames.map(([a, b], i) => `${i ? "L" : "M"}${x.at(a)} ${y.at(b)}`).join("");
const crosses = (places) => places.map(([a, b]) => `M${a - 4} ${b - 4}l8 8m0 -8l-8 8`).join("");

function draw() {
  waiting = null;
  const frames = [...points.values()].sort((a, b) => a.seq - b.seq);
  $("curves").hidden = frames.length < 2;
  if (frames.length < 2) return;
  const sun = (frame) => frame.sun_altitude_deg;
  const width = $("curves-drawing").clientWidth || 320, right = width - RIGHT;
  const falling = sun(frames[0]) >= sun(frames.at(-1));
  const x = scale(frames.map(sun), falling ? right : LEFT, falling ? LEFT : right, width / 48, 0.2);
  const pairs = (key) => frames.filter((frame) => frame[key] != null).map((frame) => [sun(frame), frame[key]]);
  const scene = pairs("scene_ev"), exposure = pairs("exposure_ev"), interval = pairs("interval_s");
  const missed = frames.filter((frame) => frame.state === "missed" || frame.state === "lost");
  const evTop = 28, evBottom = 172, paceTop = 208, paceBottom = 280, height = 318;
  const svg = make("svg", { viewBox: `0 0 ${width} ${height}`, height, role: "img", "aria-label": say.curvesSay(frames[0], frames.at(-1)) });
  const put = (...made) => svg.append(...made);

  function panel(title, y, top, bottom) {
    put(make("text", { x: 0, y: top - 12 }, title), make("path", { class: "grid", d: `M${LEFT} ${top}V${bottom}H${right}` }));
    for (const tick of y.ticks) {
      put(make("path", { class: "grid", d: `M${LEFT} ${y.at(tick)}H${right}` }));
      put(make("text", { x: LEFT - 5, y: y.at(tick) + 4, "text-anchor": "end" }, say.number(tick)));
    }
    for (const tick of x.ticks) put(make("path", { class: "grid", d: `M${x.at(tick)} ${top}V${bottom}` }));
  }

  const levels = [...scene, ...exposure].map((pair) => pair[1]);
  if (levels.length) {
    const y = scale(levels, evBottom, evTop, 6, 2);
    panel(say.EV_AXIS, y, evTop, evBottom);
    put(make("path", { class: "line exposure", d: line(exposure, x, y) }), make("path", { class: "line", d: line(scene, x, y) }));
    put(make("path", { class: "line", d: crosses(missed.map((frame) => [x.at(sun(frame)), evBottom - 6])) }));
    const key = (offset, text) => put(make("text", { x: right - offset, y: 16 }, text));
    put(make("path", { class: "line", d: `M${right - 152} 12h16` }), make("path", { class: "line exposure", d: `M${right - 86} 12h16` }));
    key(130, say.SCENE_KEY);
    key(64, say.EXPOSURE_KEY);
    if (missed.length) {
      const lost = missed.filter((frame) => frame.state === "lost").length;
      put(make("text", { x: right, y: evBottom + 24, "text-anchor": "end" }, say.missedKey(missed.length - lost, lost)));
    }
  }
  const pace = scale(interval.map((pair) => pair[1]), paceBottom, paceTop, 4, 1);
  panel(say.INTERVAL_AXIS, pace, paceTop, paceBottom);
  put(make("path", { class: "line", d: line(interval, x, pace) }));
  for (const tick of x.ticks) {
    const anchor = x.at(tick) > right - 16 ? "end" : "middle";
    put(make("text", { x: x.at(tick), y: paceBottom + 16, "text-anchor": anchor }, say.degrees(tick, 2)));
  };
  put(make("text", { x: right, y: height - 4, "text-anchor": "end" }, say.SUN_AXIS));
  $("curves-drawing").replaceChildren(svg);
}

new ResizeObserver(() => { waiting ??= setTimeout(draw, 100); }).observe($("curves-drawing"));
