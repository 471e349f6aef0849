// The parts of the sheet for changes: each with its fields, what they ask of the rig, and what is said once it is done.

import { DONE, change as say, goesOn } from "../words.js";
import { make, set } from "../dom.js";
import { typed } from "../figures.js";
import { interval, rigTime, seconds, shoot as current } from "../rig.js";
import { stepper } from "../sheet.js";
import { DIALS, chooser } from "./chooser.js";

const size = (value) => (value < 10 ? 0.5 : value < 30 ? 1 : value < 120 ? 5 : 30);
const THIRD = 1 / 3;
const check = (id, text, hidden = false) => make("label", { class: "choice", hidden }, make("input", { type: "checkbox", id }), text);
const number = (element, id) => typed(element.querySelector(`#${id}`).value);

/** `part` with a way back to the plan's own, where anything was `changed`; whatever else is touched then goes before it. */
function withWayBack(part, changed, text) {
  const label = check("own", text, !changed), box = label.firstChild, { wanted, done } = part;
  part.element.prepend(label);
  part.element.addEventListener("input", ({ target }) => { if (target !== box) box.checked = false; });
  part.wanted = () => (box.checked ? { to: "plan" } : wanted());
  part.done = (wish) => (wish.to ? say.backToPlan : done(wish));
  return part;
}

export function pace(shoot) {
  const is = Math.round((interval() ?? 5) * 10) / 10, within = 10;
  const element = make("div", {},
    stepper({ id: "pace-to", label: say.to(interval()), value: is, min: 0.1, max: 86400, step: size }),
    stepper({ id: "pace-over", label: say.over, value: within, min: 0, max: 1440, step: () => 5 }),
    make("p", { id: "pace-rule", class: "quiet" }, say.rule(shoot.plan.pace.max_change)));
  return withWayBack({
    element, call: "pace",
    wanted() {
      const [to_s, minutes] = [number(element, "pace-to"), number(element, "pace-over")];
      if (!(to_s > 0) || !(minutes >= 0)) throw new Error(say.noNumber);
      return to_s === is && minutes === within ? null : { to_s, over_s: minutes * 60 };
    },
    done: ({ to_s, over_s }) => say.paced(to_s, over_s / 60),
  }, shoot.adjust.pace, say.ownPace);
}

/** Whether a shoot's light is not the plan's own. */
const lit = ({ adjust: { pace: _, ...light } }) => Object.keys(light).length > 0;

/** What a plan with fixed exposures offers in the place of light. */
const fixed = () => ({ element: make("p", {}, say.fixed), call: "light", wanted: () => null });

export function brightness(shoot) {
  if (shoot.plan.light.kind !== "follow") return fixed();
  const is = Math.round((shoot.adjust.bias_ev ?? 0) * 100) / 100;
  const element = make("div", {}, stepper({ id: "bias", label: say.bias(is), value: is, min: -5, max: 5, step: () => THIRD }));
  return withWayBack({
    element, call: "light",
    wanted() {
      const bias_ev = number(element, "bias");
      if (Number.isNaN(bias_ev)) throw new Error(say.noBias);
      return bias_ev === is ? null : { bias_ev };
    },
    done: ({ bias_ev }) => say.biased(bias_ev),
  }, lit(shoot), say.ownLight);
}

const DARK = { shutter_s: 1, iso: 1, aperture: 0 }; // which end of each limit is met as it gets dark

export function limits(shoot) {
  if (shoot.plan.light.kind !== "follow") return fixed();
  const inForce = (name) => current().adjust[name] ?? shoot.plan.light[name]; // another may change it meanwhile
  const rows = (dark) => Object.entries(DARK).map(([name, end]) => {
    const at = dark ? end : 1 - end;
    return { name, at, row: chooser({ id: `${name}-${at}`, label: say.limits[name][at], values: DIALS[name], value: inForce(name)[at], write: say.values[name] }) };
  });
  const [dark, bright] = [rows(true), rows(false)], all = [...dark, ...bright];
  const element = make("div", {}, dark.map(({ row }) => row),
    make("details", {}, make("summary", {}, say.brightEnd), bright.map(({ row }) => row)));
  return withWayBack({
    element, call: "light",
    wanted() {
      const wish = {};
      for (const { name, at, row } of all) {
        if (!row.changed()) continue;
        wish[name] ??= [...inForce(name)];
        wish[name][at] = row.value();
      }
      return Object.keys(wish).length ? wish : null;
    },
    done: () => say.limited,
  }, lit(shoot), say.ownLight);
}

/** Held until somebody resumes, or for a time. What it costs is told for that time either way. */
export function hold(shoot) {
  const byItself = check("hold-by-itself", say.byItself), box = byItself.firstChild, says = make("p", { id: "hold-says", class: "quiet" });
  const element = make("div", {}, stepper({ id: "hold-for", label: say.holdFor, value: 10, min: 1, max: 1440, step: size }), byItself, says);
  const for_s = () => number(element, "hold-for") * 60;
  const tell = () => set(says, !(for_s() > 0) ? "" : box.checked ? goesOn(rigTime() + for_s(), rigTime()) : say.untilResumed);
  box.checked = Boolean(shoot.held_until_utc);
  element.addEventListener("input", tell); // at once: what is worked out comes later
  tell();
  return {
    element, call: "hold", title: say.parts.hold, act: say.hold, hurried: true,
    looks: () => ({ hold_s: for_s() }),
    wanted() {
      if (!(for_s() > 0)) throw new Error(say.noTime);
      tell();
      return box.checked ? { for_s: for_s() } : shoot.state === "held" && !current().held_until_utc ? null : {};
    },
    done: () => [DONE.hold, box.checked && goesOn(seconds(current().held_until_utc), rigTime())].filter(Boolean).join(" "),
  };
}
