// The pace: the rule that gives the interval.

import { plans as say } from "../words.js";
import { make } from "../dom.js";
import { entry } from "../figures.js";
import { curve } from "./plans-curve.js";
import { sign } from "../sheet.js";
import { choice, field, figure, folded, given, numeric, text } from "./plans-fields.js";

const OWN = ["kind", "interval_s", "from_s", "to_s", "over", "points", "min_interval_s"];
const BEGIN = {
  steady: { interval_s: 5 },
  timed: { from_s: 5, to_s: 20 },
  sun: { points: [[2, 5], [-6, 9], [-14, 22]] },
  light: { points: [[8, 5], [0, 12], [-5, 22]] },
  pulse: { min_interval_s: 5 },
};

export function pacePart(form) {
  const { pace } = form.plan, rest = make("div", { class: "stack" });
  const laid = form.laid.pace; // what stood under another kind, should it be wanted again
  const kinds = ["steady", "timed", "sun", "light", ...(pace.kind === "pulse" ? ["pulse"] : [])];
  const head = choice(form, "[pace] kind", say.pace, kinds.map((kind) => [kind, say.paces[kind]]), pace.kind, (kind) => {
    laid[pace.kind] = Object.fromEntries(OWN.filter((key) => key in pace).map((key) => [key, pace[key]]));
    for (const key of OWN) delete pace[key];
    Object.assign(pace, structuredClone(laid[kind] ?? BEGIN[kind]), { kind });
    fill();
  }, rest);

  function fill() {
    const s = (key) => figure(form, `[pace] ${key}`, say.paceFields[key], pace, key);
    rest.replaceChildren(...{
      steady: () => [s("interval_s")],
      timed: () => [make("div", { class: "two" }, s("from_s"), s("to_s")), text(form, "[pace] over", say.paceFields.over, pace, "over", { placeholder: say.wholeWindow })],
      sun: () => pointsPart("sun"), light: () => pointsPart("light"),
      pulse: () => [s("min_interval_s")],
    }[pace.kind]());
  }

  function pointsPart(kind) {
    const drawing = curve(kind, pace.points, (i) => { fit(i); form.changed(); });
    const rows = make("div", { class: "points" });
    const inputs = (i) => rows.querySelectorAll(`[data-point="${i}"]`);
    const fit = (i) => inputs(i).forEach((input, k) => { input.value = entry(pace.points[i][k]); });
    const number = (i, k) => numeric(pace.points[i][k], {
      data: { point: i }, "aria-label": say.pointField[kind][k](i + 1),
      oninput({ target }) { pace.points[i][k] = given(target) ?? null; drawing.paint(); form.changed(); },
    });
    const signed = (input) => [input, sign(input)];
    const again = () => { list(); drawing.paint(); form.changed(); };
    function list() {
      rows.replaceChildren(make("span", { "aria-hidden": "true", class: "quiet" }, say.axis[kind]), make("span", {}), make("span", { "aria-hidden": "true", class: "quiet" }, say.axis.s), make("span", {}),
        ...pace.points.flatMap((_, i) => [...signed(number(i, 0)), number(i, 1), make("button", {
          type: "button", "aria-label": say.dropPoint(i + 1), disabled: pace.points.length < 2,
          onclick() { pace.points.splice(i, 1); again(); rows.querySelector("input").focus(); },
        }, "✕")]));
    }
    /** A new one in the middle of the widest step, where the curve already is. */
    function grow() {
      const { points } = pace, steps = points.slice(1).map(([x], i) => Math.abs(x - points[i][0]));
      const i = steps.indexOf(Math.max(...steps));
      if (i < 0) points.push([points[0][0] - 6, points[0][1]]);
      else points.splice(i + 1, 0, [(points[i][0] + points[i + 1][0]) / 2, Math.round(Math.sqrt(points[i][1] * points[i + 1][1]) * 10) / 10]);
      again();
    }
    list();
    const exact = make("details", { id: "plan-points" }, make("summary", {}, say.points), rows);
    return [field(form, "[pace] points", say.pointsOf[kind], drawing, exact),
      make("button", { type: "button", class: "wide", id: "plan-add-point", onclick: grow }, say.addPoint)];
  }

  fill();
  return make("section", { id: "plan-pace" }, make("h3", {}, say.paceTitle), head,
    folded(say.gapTitle, figure(form, "[pace] min_gap_s", say.minGap, pace, "min_gap_s"), make("p", { class: "quiet" }, say.gapSays),
      figure(form, "[pace] stretch_to_s", say.stretch, pace, "stretch_to_s")));
}
