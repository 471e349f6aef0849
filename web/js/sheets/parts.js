// The parts of the sheet for changes: each with its fields, what they ask of the rig, and what is said once it is done.

import { change as say } from "../words.js";
import { make } from "../dom.js";
import { typed } from "../figures.js";
import { interval, shoot as current } from "../rig.js";
import { stepper } from "../sheet.js";
import { DIALS, chooser } from "./chooser.js";

const size = (value) => (value < 10 ? 0.5 : value < 30 ? 1 : value < 120 ? 5 : 30);
const THIRD = 1 / 3;

export function pace(shoot) {
  const is = Math.round((interval() ?? 5) * 10) / 10, within = 10;
  const element = make("div", {},
    stepper({ id: "pace-to", label: say.to(interval()), value: is, min: 0.1, max: 86400, step: size }),
    stepper({ id: "pace-over", label: say.over, value: within, min: 0, max: 1440, step: () => 5 }),
    make("p", { id: "pace-rule", class: "quiet" }, say.rule(shoot.plan.pace.max_change)));
  const value = (id) => typed(element.querySelector(`#${id}`).value);
  return {
    element, call: "pace",
    wanted() {
      const [to_s, minutes] = [value("pace-to"), value("pace-over")];
      if (!(to_s > 0) || !(minutes >= 0)) throw new Error(say.noNumber);
      return to_s === is && minutes === within ? null : { to_s, over_s: minutes * 60 };
    },
    done: ({ to_s, over_s }) => say.paced(to_s, over_s / 60),
  };
}

/** What a plan with fixed exposures offers in the place of light. */
const fixed = () => ({ element: make("p", {}, say.fixed), call: "light", wanted: () => null });

export function brightness(shoot) {
  if (shoot.plan.light.kind !== "follow") return fixed();
  const is = Math.round((shoot.adjust.bias_ev ?? 0) * 100) / 100;
  const element = make("div", {}, stepper({ id: "bias", label: say.bias(is), value: is, min: -5, max: 5, step: () => THIRD }));
  return {
    element, call: "light",
    wanted() {
      const bias_ev = typed(element.querySelector("#bias").value);
      if (Number.isNaN(bias_ev)) throw new Error(say.noBias);
      return bias_ev === is ? null : { bias_ev };
    },
    done: ({ bias_ev }) => say.biased(bias_ev),
  };
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
  return {
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
  };
}
