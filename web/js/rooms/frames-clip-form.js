// A clip that is asked for: which frames, and how they are shown. What is seldom wanted is left to REST and the command.

import { clips as say, NO_ANSWER } from "../words.js";
import { make, set, show } from "../dom.js";
import { entry, typed } from "../figures.js";
import { sign } from "../sheet.js";
import { Order } from "../once.js";
import { tell } from "../orders.js";

const PATIENCE_MS = 45_000; // the rig looks through its log before it says yes
const SIZES = [[1920, 1080], [1280, 720], [3840, 2160]];

/** Boxes of which each may be ticked; `chosen` gives the names of those that are. */
function boxes(legend, words, ticked = []) {
  const all = Object.entries(words).map(([name, text]) => [name, make("input", { type: "checkbox", data: { box: name }, checked: ticked.includes(name) }), text]);
  const element = make("fieldset", { class: "plain" }, make("legend", {}, legend), all.map(([, box, text]) => make("label", { class: "choice" }, box, text)));
  return { element, chosen: () => all.filter(([, box]) => box.checked).map(([name]) => name) };
}

const labelled = (id, text, control, after = null) => {
  control.id = id;
  return make("div", { class: "field" }, make("label", { for: id }, text), control, after);
};

/** `path` is that of the shoot's clips; `taken` is given what the rig says of the new one. */
export function clipForm(path, camera, taken) {
  const order = new Order(), over = new AbortController();
  const which = make("select", { onchange: fit }, Object.entries(say.which).map(([value, text]) => make("option", { value }, text)));
  const degrees = make("input", { type: "text", inputmode: "decimal", autocomplete: "off", value: "180" });
  const side = make("select", {}, Object.entries(say.sides).map(([value, text]) => make("option", { value }, text)));
  const [first, last] = [0, 1].map(() => make("input", { type: "date" }));
  const size = make("select", {}, SIZES.map(([w, h]) => make("option", { value: `${w}x${h}` }, say.size(w, h))));
  const skip = boxes(say.skip, say.skips), how = boxes(say.how, say.hows, ["steady"]), burn = boxes(say.burn, say.burns);
  const angle = labelled("clip-degrees", "", degrees, sign(degrees)), of = labelled("clip-side", say.side, side);
  const trouble = make("p", { class: "trouble", role: "alert", hidden: true }), waits = make("p", { role: "status", class: "quiet" });
  const act = make("button", { type: "button", id: "clip-make", class: "wide", onclick: go }, say.make);
  const element = make("details", { id: "clip-form" }, make("summary", {}, say.form), make("div", { class: "stack" },
    labelled("clip-which", say.whichFrames, which), angle, of, skip.element,
    make("details", {}, make("summary", {}, say.days), labelled("clip-first", say.first, first), labelled("clip-last", say.last, last)),
    how.element, labelled("clip-size", say.sizeName, size), burn.element, trouble, act, waits));

  function fit() {
    const sun = which.value.startsWith("sun");
    show(angle, sun);
    show(of, which.value === "sun-altitude");
    set(angle.firstChild, which.value === "sun-altitude" ? say.altitude : say.azimuth);
    if (sun) degrees.value = which.value === "sun-altitude" ? "20" : "180";
  }

  function wanted() {
    const body = { steady: how.chosen().includes("steady") ? "level" : "off", size: size.value.split("x").map(Number) };
    if (how.chosen().includes("even")) body.retime = "blend";
    if (camera) body.camera = camera;
    if (which.value === "hour-best") body.series = which.value;
    if (which.value.startsWith("sun")) {
      const value = typed(degrees.value);
      if (Number.isNaN(value)) throw new Error(say.noAngle(entry(degrees.value)));
      body.series = `${which.value}=${value}${which.value === "sun-altitude" ? `,${side.value}` : ""}`;
    }
    if (skip.chosen().length) body.skip = skip.chosen();
    if (burn.chosen().length) body.burn = burn.chosen();
    if (first.value || last.value) body.days = `${first.value}..${last.value}`;
    return body;
  }

  async function go() {
    if (act.getAttribute("aria-busy")) return;
    show(trouble, false);
    act.setAttribute("aria-busy", "true");
    set(waits, say.asking);
    try {
      taken(await order.give(path, wanted(), { patience_ms: PATIENCE_MS, given_up: over.signal }));
      element.open = false;
      set(waits, "");
      tell(say.taken);
    } catch (refusal) {
      if (over.signal.aborted) return;
      set(waits, "");
      set(trouble, refusal.answered === false ? NO_ANSWER : refusal.message);
      show(trouble, true);
    } finally {
      act.removeAttribute("aria-busy");
    }
  }

  fit();
  return { element, end: () => over.abort() };
}
