// One of the values of a dial, with a button for less and one for more: nothing to type in gloves.

import * as say from "../words.js";
import { make, set } from "../dom.js";

/** Exposure times in seconds, f-numbers and ISO as dials are marked, in thirds of a stop: common practice, no source. */
const whole = [8000, 6400, 5000, 4000, 3200, 2500, 2000, 1600, 1250, 1000, 800, 640, 500, 400, 320, 250, 200, 160, 125, 100, 80, 60, 50, 40, 30, 25, 20, 15, 13, 10, 8, 6, 5, 4];
export const DIALS = {
  shutter_s: [...whole.map((part) => 1 / part), 0.3, 0.4, 0.5, 0.6, 0.8, 1, 1.3, 1.6, 2, 2.5, 3.2, 4, 5, 6, 8, 10, 13, 15, 20, 25, 30, 40, 50, 60, 80, 100, 120],
  iso: [50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 2500, 3200, 4000, 5000, 6400, 8000, 10000, 12800, 16000, 20000, 25600, 32000, 40000, 51200, 102400],
  aperture: [1, 1.1, 1.2, 1.4, 1.6, 1.8, 2, 2.2, 2.5, 2.8, 3.2, 3.5, 4, 4.5, 5, 5.6, 6.3, 7.1, 8, 9, 10, 11, 13, 14, 16, 18, 20, 22, 25, 29, 32],
};

/** Where `value`, true or as dials are marked, stands among `values`: 1/64 s is marked 1/60. −1 where it does not. */
function placeOf(value, values) {
  const apart = values.map((one) => Math.abs(Math.log(one / value)));
  const least = Math.min(...apart);
  return least < 0.07 ? apart.indexOf(least) : -1;
}

/**
 * A row with `label`, less, the value, more. `value` stands among `values` even where they have it not;
 * `write(value)` says it. Fires `input`, as a field does; `value()` and `changed()` are of the element given.
 */
export function chooser({ id, label, values, value, write }) {
  const all = placeOf(value, values) >= 0 ? values : [...values, value].sort((one, other) => one - other);
  const first = placeOf(value, all);
  let at = first;
  const shown = make("output", { id, "aria-live": "polite" });
  const by = (direction) => make("button", {
    type: "button", "aria-label": `${label}: ${direction < 0 ? say.LESS : say.MORE}`, data: { step: id, by: direction },
    onclick() {
      at = Math.min(all.length - 1, Math.max(0, at + direction));
      draw();
      row.dispatchEvent(new Event("input", { bubbles: true }));
    },
  }, direction < 0 ? "−" : "+");
  const less = by(-1), more = by(1);
  function draw() {
    set(shown, write(all[at]));
    less.setAttribute("aria-disabled", String(at === 0));
    more.setAttribute("aria-disabled", String(at === all.length - 1));
  }
  const row = make("div", { class: "chooser", role: "group", "aria-label": label }, make("span", { "aria-hidden": "true" }, label), less, shown, more);
  row.value = () => (at === first ? value : all[at]);
  row.changed = () => at !== first;
  draw();
  return row;
}
