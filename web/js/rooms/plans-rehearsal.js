// A rehearsal of the draft: the same engine before a model of sky and camera, and what came of it as a drawing.

import { plans as say } from "../words.js";
import { ask } from "../link.js";
import { draw, make, set, show } from "../dom.js";
import { rigSays } from "../rig-says.js";
import { clock, count, degrees, number, runs, seconds as inSeconds, shutter, span } from "../figures.js";
import { seconds } from "../rig.js";

const LEFT = 44, RIGHT = 8, TOP = 24, BOTTOM = 190, HEIGHT = 236, PATIENCE_MS = 180_000;
const DECADES = [0.0001, 0.001, 0.01, 0.1, 1, 10, 100, 1000, 10000];
const STEPS_S = [300, 600, 1800, 3600, 7200, 14400, 43200, 86400];

/** Interval and exposure time in seconds over time, with the sun's altitude below: what is between them is the gap. */
export function chart(curves, summary, zone, width) {
  const { utc, interval_s, shutter_s, sun_altitude_deg } = curves, right = width - RIGHT;
  const values = [...interval_s, ...shutter_s].filter((one) => one > 0);
  const [low, high] = [Math.min(...values) / 1.5, Math.max(...values) * 1.5], [from, to] = [utc[0], Math.max(utc.at(-1), utc[0] + 1)];
  const x = (value) => Math.round((LEFT + ((value - from) / (to - from)) * (right - LEFT)) * 10) / 10;
  const y = (value) => Math.round((BOTTOM - (Math.log(value / low) / Math.log(high / low)) * (BOTTOM - TOP)) * 10) / 10;
  const svg = draw("svg", { class: "chart", viewBox: `0 0 ${width} ${HEIGHT}`, height: HEIGHT, role: "img", "aria-label": say.chartSays(summary) });
  const put = (tag, members, text) => svg.append(draw(tag, members, text));
  for (const tick of DECADES.filter((one) => one >= low && one <= high)) {
    put("path", { class: "grid", d: `M${LEFT} ${y(tick)}H${right}` });
    put("text", { x: LEFT - 4, y: y(tick) + 4, "text-anchor": "end" }, tick < 0.3 ? shutter(tick).replace(" s", "") : number(tick));
  }
  put("text", { x: 0, y: 14 }, say.axis.s);
  const most = Math.max(2, Math.floor((right - LEFT) / 64)), step = STEPS_S.find((one) => (to - from) / one <= most) ?? STEPS_S.at(-1);
  for (let tick = Math.ceil(from / step) * step; tick <= to; tick += step) {
    const near = utc.reduce((best, one, i) => (Math.abs(one - tick) < Math.abs(utc[best] - tick) ? i : best), 0);
    const at = x(tick), anchor = at > right - 20 ? "end" : at < LEFT + 20 ? "start" : "middle";
    put("path", { class: "grid", d: `M${at} ${TOP}V${BOTTOM}` });
    put("text", { x: at, y: BOTTOM + 18, "text-anchor": anchor }, clock(tick, undefined, zone));
    if (sun_altitude_deg[near] != null) put("text", { x: at, y: BOTTOM + 36, "text-anchor": anchor }, degrees(sun_altitude_deg[near]));
  }
  const line = (list) => list.map((value, i) => (value > 0 ? `${list[i - 1] > 0 && utc[i] - utc[i - 1] < 6 * 3600 ? "L" : "M"}${x(utc[i])} ${y(value)}` : "")).join("");
  put("path", { class: "line", d: line(interval_s) });
  put("path", { class: "line dashed", d: line(shutter_s) });
  for (const missed of curves.missed_utc) put("path", { class: "line", d: `M${x(missed) - 4} ${TOP - 4}l8 8m0-8l-8 8` });
  return svg;
}

function told({ summary, notes, curves }, zone, width) {
  const lines = [say.rehearsed(count(summary.frames), runs(summary.clip_s))];
  for (const [cause, n] of Object.entries(summary.missed)) lines.push(say.missedSlots(n, rigSays(cause)));
  return [
    ...(curves.utc.length > 1 ? [make("figure", {}, chart(curves, summary, zone, width), make("figcaption", { class: "quiet" }, say.key(curves.missed_utc.length)))] : []),
    make("p", {}, lines.join(" ")),
    make("ul", { class: "told" }, summary.binds.map((one) => make("li", {}, sentence(rigSays(one.text)), make("small", {}, rigSays(one.remedy)))),
      notes.map((one) => make("li", {}, make("span", { class: "quiet" }, `${clock(seconds(one.utc), undefined, zone)} `), rigSays(one.text)))),
  ];
}
const sentence = (text) => text[0].toUpperCase() + text.slice(1);

export function rehearsalPart(form) {
  const waits = make("p", { role: "status", class: "quiet" }), came = make("div", { id: "plan-rehearsed" });
  const trouble = make("p", { class: "trouble", role: "alert", hidden: true });
  const old = make("p", { class: "quiet", hidden: true }, say.rehearsalOld);
  let over = new AbortController();
  const buttons = ["clear", "cloudy"].map((sky) => make("button", { type: "button", data: { sky }, onclick: () => run(sky) }, say.skies[sky]));

  async function run(sky) {
    if (buttons.some((one) => one.getAttribute("aria-busy"))) return;
    const began = Date.now(), plan = structuredClone(form.plan), button = buttons.find((one) => one.dataset.sky === sky);
    const tick = () => set(waits, say.rehearsing(Math.round((Date.now() - began) / 1000)));
    const ticking = setInterval(tick, 1000);
    button.setAttribute("aria-busy", "true");
    tick();
    show(trouble, false);
    try {
      const answer = await ask("POST", "rehearsal", { plan, sky }, { patience_ms: PATIENCE_MS, given_up: over.signal });
      came.replaceChildren(...told(answer, plan.site.timezone, came.clientWidth || 320));
      show(old, JSON.stringify(plan) !== JSON.stringify(form.plan));
      set(waits, say.took((Date.now() - began) / 1000));
    } catch (refusal) {
      if (over.signal.aborted) return;
      set(waits, "");
      set(trouble, refusal.answered === false ? say.noAnswer : refusal.message);
      show(trouble, true);
    } finally {
      clearInterval(ticking);
      button.removeAttribute("aria-busy");
    }
  }

  form.onChange.push(() => show(old, came.childElementCount > 0));
  const part = make("section", { id: "plan-rehearsal" }, make("h3", {}, say.rehearsal), make("p", { class: "quiet" }, say.rehearsalSays),
    make("div", { class: "pair" }, buttons), waits, trouble, old, came);
  return { part, end: () => over.abort() };
}
