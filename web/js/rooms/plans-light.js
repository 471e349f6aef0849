// The light: fixed exposures, or limits within which they follow; and what is done with the files.

import { plans as say } from "../words.js";
import { make } from "../dom.js";
import { count, number, shutter } from "../figures.js";
import { DIALS } from "../sheets/chooser.js";
import { choice, figure, folded, tick } from "./plans-fields.js";

const WRITE = { shutter_s: shutter, iso: (value) => `ISO ${count(value)}`, aperture: (value) => `f/${number(value)}` };
const ORDERS = ["shutter,iso", "iso,shutter", "shutter,aperture,iso", "shutter,iso,aperture", "aperture,shutter,iso", "aperture,iso,shutter", "iso,shutter,aperture", "iso,aperture,shutter"];
const near = (one, other) => Math.abs(Math.log(one / other)) < 0.03;
/** What both kinds have; the rest is laid aside with its kind, should that be wanted again. */
const SHARED = ["regions", "bracket_ev", "bulb", "learn_response"];
const LEFT_OUT = { shutter_s: [1 / 8000, 30], iso: [100, 3200] }; // docs/plan.md

/** One stop of a dial. What stands in the plan is offered even where no dial has it. */
function stop(form, where, label, key, is, change) {
  const values = DIALS[key].some((one) => is && near(one, is)) || !is ? DIALS[key].map((one) => (is && near(one, is) ? is : one)) : [...DIALS[key], is].sort((a, b) => a - b);
  return choice(form, where, label, values.map((value) => [String(value), WRITE[key](value)]), String(is), (value) => change(Number(value)));
}

export function lightPart(form) {
  const { light } = form.plan, rest = make("div", {});
  const laid = form.laid.light; // what stood under another kind, should it be wanted again
  const ends = (key) => (Array.isArray(light[key]) ? light[key] : light[key] === undefined ? [...LEFT_OUT[key]] : [light[key], light[key]]);
  const head = choice(form, "[light] kind", say.light, ["fixed", "follow"].map((kind) => [kind, say.lights[kind]]), light.kind, (kind) => {
    const [slow, wide, fast] = [ends("shutter_s"), ends("aperture"), ends("iso")];
    const own = Object.keys(light).filter((key) => !SHARED.includes(key));
    laid[light.kind] = Object.fromEntries(own.map((key) => [key, light[key]]));
    for (const key of own) delete light[key];
    Object.assign(light, structuredClone(laid[kind] ?? (kind === "fixed" ? { shutter_s: slow[1], aperture: wide[0], iso: fast[0] }
      : { shutter_s: [0.0005, slow[1]], aperture: wide, iso: [fast[0], Math.max(3200, fast[1])], order: ["shutter", "iso"] })), { kind });
    fill();
  }, rest);

  function fill() {
    if (light.kind === "fixed") {
      rest.replaceChildren(...["shutter_s", "aperture", "iso"].map((key) => stop(form, `[light] ${key}`, say.stops[key], key, light[key], (value) => { light[key] = value; })));
      return;
    }
    const end = (key, i) => stop(form, i ? `[light] ${key}` : `[light] ${key}[0]`, say.limits[key][i], key, ends(key)[i], (value) => {
      const both = [...ends(key)];
      both[i] = value;
      light[key] = both;
    });
    const orders = [...ORDERS], is = light.order?.join() ?? "shutter,aperture,iso";
    if (!orders.includes(is)) orders.push(is);
    const order = (text) => text.split(",").map((name) => say.gives[name]).join(" → ");
    rest.replaceChildren(
      make("div", { class: "two" }, ["shutter_s", "aperture", "iso"].flatMap((key) => [end(key, 0), end(key, 1)])),
      choice(form, "[light] order", say.order, orders.map((one) => [one, order(one)]), is, (value) => { light.order = value.split(","); }),
      folded(say.biasTitle, figure(form, "[light] bias_ev", say.bias, light, "bias_ev", {}, true)));
  }

  fill();
  return make("section", { id: "plan-light" }, make("h3", {}, say.lightTitle), head);
}

export function filesPart(form) {
  const { files, clip } = form.plan, rest = make("div", {});
  const kind = () => ((files.fetch ?? "preview").startsWith("every") ? "every" : files.fetch ?? "preview");
  const held = { n: Number(/\d+/.exec(files.fetch ?? "")?.[0] ?? 10) };
  const every = () => { if (kind() === "every") files.fetch = `every ${held.n ?? ""}`.trim(); };
  const number_ = figure({ ...form, changed() { every(); form.changed(); } }, "[files] every", say.everyNth, held, "n", { inputmode: "numeric" });
  const fill = () => rest.replaceChildren(...(kind() === "every" ? [number_] : []));
  fill();
  return make("section", { id: "plan-files" }, folded(say.filesTitle,
    choice(form, "[files] fetch", say.fetch, ["preview", "all", "every", "none"].map((one) => [one, say.fetches[one]]), kind(), (value) => {
      files.fetch = value === "every" ? `every ${held.n}` : value;
      fill();
    }, rest),
    figure(form, "[clip] fps", say.fps, clip, "fps"),
    ...["daily", "preview"].map((key) => tick(form, `[clip] ${key}`, say[key], clip, key))));
}
