// How sharp it is and was, and how the light is spread: for turning a focus ring in the dark, an arm's length away.

import { camera as say } from "../words.js";
import { draw, make, set } from "../dom.js";

const SPAN_S = 60, BACK_S = 4, TELL = 0.04; // differences that are told; less is the picture's own unrest
const ENOUGH = 5; // of fewer figures each is the best by chance

const middle = (values) => [...values].sort((a, b) => a - b)[Math.floor((values.length - 1) / 2)];

/** The figures of the last minute and the best of them all. Each counts as the middle of three, so that no single flash is best. */
export class Trend {
  constructor() { this.clear(); }

  clear() { this.raw = []; this.points = []; this.best = null; }

  /** `at` in seconds of a clock that does not step. */
  add(at, value) {
    this.raw = [...this.raw, value].slice(-3);
    this.points = [...this.points, { at, value: middle(this.raw) }].filter((point) => at - point.at <= SPAN_S);
    this.best = Math.max(this.best ?? 0, this.points.at(-1).value);
  }

  get share() { return this.best && this.points.length >= ENOUGH ? this.points.at(-1).value / this.best : null; }

  /** A key of the words: how the last one stands to the best, and to some seconds ago. */
  get word() {
    if (this.share === null) return "none";
    if (this.share >= 1 - TELL) return "best";
    const last = this.points.at(-1);
    const before = this.points.filter((point) => last.at - point.at >= 1 && last.at - point.at <= BACK_S);
    if (!before.length) return "below";
    const change = last.value / (before.reduce((sum, point) => sum + point.value, 0) / before.length);
    return change > 1 + TELL ? "sharper" : change < 1 - TELL ? "softer" : "below";
  }
}

const WIDTH = 320, HEIGHT = 160, TOP = 24, BOTTOM = 136;

/** The curve; `show(trend, at)` draws it as of that moment. */
export function trendDrawing() {
  const line = draw("path", { class: "line" }), best = draw("path", { class: "best" }), dot = draw("circle", { r: 7 });
  const name = draw("text", { x: 0, y: 16 }, say.best);
  const svg = draw("svg", { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, id: "trend", role: "img", "aria-label": say.sharpness, hidden: true }, best, line, dot, name,
    draw("text", { x: 0, y: HEIGHT - 4 }, say.ago), draw("text", { x: WIDTH, y: HEIGHT - 4, "text-anchor": "end" }, say.now));

  function show(trend, at) {
    svg.toggleAttribute("hidden", !trend.points.length);
    if (!trend.points.length) return;
    const low = Math.min(0.8 * trend.best, ...trend.points.map((point) => point.value));
    const x = (when) => Math.round(10 * (WIDTH - 8 - ((at - when) / SPAN_S) * (WIDTH - 8))) / 10;
    const y = (value) => Math.round(10 * (BOTTOM - ((value - low) / (trend.best - low || 1)) * (BOTTOM - TOP))) / 10;
    const seen = trend.points.filter((point) => at - point.at <= SPAN_S);
    line.setAttribute("d", seen.map((point, i) => `${i ? "L" : "M"}${x(point.at)} ${y(point.value)}`).join(""));
    best.setAttribute("d", `M0 ${TOP}H${WIDTH}`);
    const last = seen.at(-1);
    if (last) { dot.setAttribute("cx", x(last.at)); dot.setAttribute("cy", y(last.value)); }
    svg.setAttribute("aria-label", trend.share === null ? say.sharpness : `${say.sharpness}: ${say.ofBest(trend.share)}`);
  }
  return { svg, show };
}

/** Shares of the picture by stops below white, dark on the left; `show(seen)` draws it. */
export function lightDrawing() {
  const top = 8, base = 74, bars = [], said = make("p", { id: "light-says", class: "quiet" });
  const svg = draw("svg", { viewBox: `0 0 ${WIDTH} 94`, id: "light-drawing", role: "img", "aria-labelledby": "light-says" });

  function show(seen) {
    const { histogram, clipped, black } = seen, n = histogram.length, wide = WIDTH / n, highest = Math.max(...histogram);
    if (bars.length !== n) {
      bars.splice(0, bars.length, ...histogram.map((_, stop) => draw("rect", { x: (n - 1 - stop) * wide + 2, width: wide - 4 })));
      svg.replaceChildren(...bars, draw("path", { class: "best", d: `M0 ${base}H${WIDTH}` }),
        ...histogram.map((_, stop) => draw("text", { x: (n - 0.5 - stop) * wide, y: 90, "text-anchor": "middle" }, say.stop(stop))));
    }
    histogram.forEach((share, stop) => {
      const high = (base - top) * (share / (highest || 1));
      bars[stop].setAttribute("y", base - high);
      bars[stop].setAttribute("height", high);
    });
    set(said, say.lightSays(histogram.indexOf(highest), clipped, black));
  }
  return { element: make("div", { id: "light-spread" }, make("h4", {}, say.light), svg, said), show };
}
