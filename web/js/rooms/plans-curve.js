// The interval over the sun's altitude, or over the light, as points that a finger or the arrow keys move. As it gets dark
// is to the right. The interval runs by equal factors, so that between two points the line is straight.

import { plans as say } from "../words.js";
import { draw, make, set } from "../dom.js";
import { degrees, ev, number } from "../figures.js";

const HEIGHT = 240, TOP = 24, BOTTOM = 216, EDGE = 26;
const AXES = { sun: { high: 8, low: -20, step: 0.5, most: 90 }, light: { high: 14, low: -8, step: 0.5, most: 25 } };
const TICKS = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000, 50000];

const rounded = (value) => { const step = value < 2 ? 0.05 : value < 10 ? 0.1 : value < 60 ? 0.5 : 1; return Math.round(Math.round(value / step) * step * 100) / 100; };

/** `points` is changed in place; `moved(at)` is told of it. Gives the element, with `paint()` for changes from elsewhere. */
export function curve(kind, points, moved) {
  const axis = AXES[kind], write = kind === "sun" ? degrees : ev;
  const place = (x) => say.at[kind](write(x, Number.isInteger(x) ? 0 : 1));
  const svg = draw("svg", { class: "chart", height: HEIGHT, "aria-hidden": "true" });
  const told = make("p", { class: "at", "aria-hidden": "true" }), plot = make("div", { class: "curve" }, svg);
  const box = make("div", { role: "group", "aria-label": say.curve }, told, plot);
  let handles = [], width = 300, range = null, dragging = false;

  const good = () => points.filter(([x, y]) => Number.isFinite(x) && y > 0);
  function measure() {
    const all = good(), xs = all.map(([x]) => x), ys = all.map(([, y]) => y);
    let [low, high] = [Math.min(...ys, 1e9) / 1.8, Math.max(...ys, 0) * 1.8];
    if (!all.length) [low, high] = [1, 60];
    const spare = Math.max(1, Math.sqrt(8 / (high / low)));
    range = { left: Math.max(axis.high, ...xs), right: Math.min(axis.low, ...xs), low: low / spare, high: high * spare };
  }
  const xOf = (x) => EDGE + ((range.left - x) / (range.left - range.right)) * (width - 2 * EDGE);
  const yOf = (y) => BOTTOM - (Math.log(y / range.low) / Math.log(range.high / range.low)) * (BOTTOM - TOP);

  function paint() {
    width = plot.clientWidth || width;
    if (!dragging || !range) measure();
    svg.setAttribute("viewBox", `0 0 ${width} ${HEIGHT}`);
    svg.replaceChildren();
    const put = (tag, members, text) => svg.append(draw(tag, members, text));
    for (const tick of TICKS.filter((one) => one >= range.low && one <= range.high)) {
      put("path", { class: "grid", d: `M0 ${yOf(tick)}H${width}` });
      put("text", { x: 2, y: yOf(tick) - 3 }, `${number(tick)} s`);
    }
    const step = range.left - range.right > 60 ? 20 : 6;
    for (let x = Math.floor(range.left / step) * step; x >= range.right; x -= step) {
      put("path", { class: "grid", d: `M${xOf(x)} ${TOP}V${BOTTOM}` });
      put("text", { x: xOf(x), y: HEIGHT - 6, "text-anchor": "middle" }, write(x, 0));
    }
    const line = good().sort((a, b) => b[0] - a[0]).map(([x, y]) => [xOf(x), yOf(y)]);
    if (line.length) put("path", { class: "line", d: `M0 ${line[0][1]}L${line.map((one) => one.join(" ")).join("L")}H${width}` });
    while (handles.length > points.length) handles.pop().remove();
    while (handles.length < points.length) { const one = handle(handles.length); handles.push(one); plot.append(one); }
    handles.forEach((one, i) => {
      const [x, y] = points[i], fits = Number.isFinite(x) && y > 0;
      one.hidden = !fits;
      if (!fits) return;
      one.style.left = `${xOf(x)}px`;
      one.style.top = `${yOf(y)}px`;
      one.setAttribute("aria-valuenow", String(y));
      one.setAttribute("aria-valuetext", `${place(x)}, ${number(y)} s`);
    });
    tell();
  }

  /** Where the point is that is held, above the chart: a finger hides it. */
  function tell() {
    const one = handles.find((handle) => handle === document.activeElement);
    set(told, one?.getAttribute("aria-valuetext") ?? "");
  }

  /** Put point `i` there, as far as its neighbours let it. */
  function move(i, x, y) {
    const [one, next] = [i - 1, i + 1].map((j) => points[j]?.[0]).map((at) => (Number.isFinite(at) ? at : undefined));
    const falls = points.length < 2 || points[0][0] > points.at(-1)[0];
    const [before, after] = falls ? [next, one] : [one, next];
    let at = Math.round(x / axis.step) * axis.step;
    at = Math.min(at, (after ?? Infinity) - axis.step);
    at = Math.max(-axis.most, Math.min(axis.most, Math.max(at, (before ?? -Infinity) + axis.step)));
    points[i][0] = at;
    points[i][1] = Math.max(0.1, Math.min(86400, rounded(y)));
    paint();
    moved(i);
  }

  function handle(i) {
    const one = make("div", {
      class: "handle", role: "slider", tabindex: "0", "aria-label": say.point(i + 1), "aria-valuemin": "0.1", "aria-valuemax": "86400",
      onpointerdown(event) {
        if (box.closest("fieldset")?.disabled) return;
        event.preventDefault();
        one.setPointerCapture(event.pointerId);
        one.focus({ preventScroll: true });
        dragging = true;
      },
      onpointermove(event) {
        if (!dragging || !one.hasPointerCapture(event.pointerId)) return;
        const { left, top } = plot.getBoundingClientRect();
        const x = range.left - ((event.clientX - left - EDGE) / (width - 2 * EDGE)) * (range.left - range.right);
        const share = (BOTTOM - Math.max(TOP, Math.min(BOTTOM, event.clientY - top))) / (BOTTOM - TOP);
        move(i, Math.max(range.right, Math.min(range.left, x)), range.low * (range.high / range.low) ** share);
      },
      onfocus: tell,
      onblur: () => set(told, ""),
      onlostpointercapture() { dragging = false; paint(); },
      onkeydown(event) {
        const [x, y] = points[i], big = event.shiftKey ? 5 : 1, factor = y < 10 ? 0.1 : y < 60 ? 0.5 : 5;
        const to = {
          ArrowRight: [x - axis.step * big, y], ArrowLeft: [x + axis.step * big, y], ArrowUp: [x, y + factor * big], ArrowDown: [x, y - factor * big],
          PageUp: [x, y * 1.2], PageDown: [x, y / 1.2],
        }[event.key];
        if (!to || box.closest("fieldset")?.disabled) return;
        event.preventDefault();
        move(i, ...to);
      },
    });
    return one;
  }

  new ResizeObserver(paint).observe(plot);
  box.paint = paint;
  return box;
}
