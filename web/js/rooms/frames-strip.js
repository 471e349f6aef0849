// The whole shoot in one strip: bars as high as the scene was bright, pictures once they are asked for, and below them a
// cross where a slot has no frame, a line between the first and the last of such a run. A finger on it goes there.

import { draw, make } from "../dom.js";
import { none, pictureOf } from "./frames-log.js";

const EDGE = 14; // half the slider's knob, so that strip and slider agree
const HEIGHT = 60, BARS = 46, CROSS = 54, SLICE = 27;

export function openStrip(log, go) {
  const behind = draw("svg", { height: HEIGHT, "aria-hidden": "true" }), marks = draw("svg", { height: HEIGHT, "aria-hidden": "true" });
  const slices = make("div", { class: "slices" }), element = make("div", { id: "strip" }, behind, slices, marks);
  let waiting = null, pictured = false, at = 1;
  const soon = (ms) => { waiting ??= setTimeout(paint, ms); };
  const seen = new ResizeObserver(() => soon(50));
  seen.observe(element);

  const x = (seq, width) => EDGE + ((seq - 1) / Math.max(1, log.last() - 1)) * (width - 2 * EDGE);
  const point = (event) => {
    const box = element.getBoundingClientRect(), share = (event.clientX - box.left - EDGE) / (box.width - 2 * EDGE);
    return Math.round(1 + Math.min(1, Math.max(0, share)) * (log.last() - 1));
  };
  element.addEventListener("pointerdown", (event) => { element.setPointerCapture(event.pointerId); go(point(event)); });
  element.addEventListener("pointermove", (event) => { if (element.hasPointerCapture(event.pointerId)) go(point(event)); });

  function paint() {
    waiting = null;
    const width = element.clientWidth;
    if (!width) return;
    const frames = log.whole(), bright = (frame) => none(frame) ? null : frame.scene_ev ?? frame.exposure_ev;
    const levels = frames.map(bright).filter((level) => level != null);
    const low = Math.min(...levels) - 1, high = Math.max(...levels, low + 3);
    const bars = frames.filter((frame) => bright(frame) != null).map((frame) =>
      `M${x(frame.seq, width).toFixed(1)} ${BARS}V${(BARS - ((bright(frame) - low) / (high - low)) * BARS).toFixed(1)}`);
    const runs = log.runs(), crosses = new Set(runs.flat().map((seq) => Math.round(x(seq, width))));
    const gaps = runs.map(([from, to]) => `M${x(from, width).toFixed(1)} ${CROSS}H${x(to, width).toFixed(1)}`);
    const thick = Math.max(1, Math.min(12, (width - 2 * EDGE) / Math.max(1, bars.length) - 1));
    for (const svg of [behind, marks]) svg.setAttribute("viewBox", `0 0 ${width} ${HEIGHT}`);
    behind.replaceChildren(draw("path", { class: "bars", d: bars.join(""), "stroke-width": thick.toFixed(1) }));
    marks.replaceChildren(
      draw("path", { class: "line", d: [...gaps, ...[...crosses].map((place) => `M${place - 4} ${CROSS - 4}l8 8m0 -8l-8 8`)].join("") }),
      draw("path", { class: "here", d: `M${x(at, width).toFixed(1)} 0V${HEIGHT}` }));
    slices.hidden = !pictured;
    if (pictured) cut(frames.filter((frame) => frame.preview), width);
  }

  /** One slice of each of as many frames as there is room for, evenly over the shoot. */
  function cut(frames, width) {
    const count = Math.floor((width - 2 * EDGE) / SLICE);
    for (let i = 0; i < count; i++) {
      const middle = 1 + ((i + 0.5) / count) * (log.last() - 1);
      const near = frames.reduce((best, frame) => (best && Math.abs(best.seq - middle) <= Math.abs(frame.seq - middle) ? best : frame), null);
      const slice = slices.children[i] ?? slices.appendChild(make("img", { alt: "", loading: "lazy" }));
      const far = near === null || Math.abs(near.seq - middle) > Math.max(log.every(), log.last() / count);
      slice.hidden = false;
      slice.style.visibility = far ? "hidden" : "visible";
      if (!far && slice.dataset.frame !== String(near.id)) {
        // A slice stays until a frame is clearly nearer: while the shoot goes on they would all be fetched with each frame.
        const had = Number(slice.dataset.seq ?? -Infinity), spare = (log.last() / count) * 0.75;
        if (Math.abs(had - middle) <= spare) continue;
        slice.dataset.frame = near.id;
        slice.dataset.seq = near.seq;
        slice.src = pictureOf(near);
      }
    }
    for (const slice of [...slices.children].slice(count)) slice.remove();
  }

  return {
    element,
    changed: () => soon(300),
    here(seq) { at = seq; marks.querySelector(".here")?.setAttribute("d", `M${x(at, element.clientWidth).toFixed(1)} 0V${HEIGHT}`); },
    picture(wanted) { pictured = wanted; paint(); },
    close() { clearTimeout(waiting); seen.disconnect(); },
  };
}
