// The settings that the body offers: our names, its own words. Choosing only names a value: a second
// tap sets it, and it is read back and shown as it is then. While a shoot is at work nothing is set.

import { camera as say } from "../words.js";
import { make, set, show } from "../dom.js";
import { ask } from "../link.js";
import { tell } from "../orders.js";
import { clockSeconds } from "../figures.js";
import { mayChange, on } from "../rig.js";
import { complain, path, taken, trouble, why } from "./camera-common.js";

const ABOVE = ["battery", "shots_left"]; // shown with the camera
const OF_THE_SHOOT = ["shutter", "aperture", "iso"], NOT_MEANWHILE = [...OF_THE_SHOOT, "clock"];
const PATIENCE_MS = 60000; // settings are read between releases

export function open(box, id) {
  let gone = false, rows = [], of = taken(id);
  const status = make("p", { class: "quiet", role: "status", id: "settings-status" }, say.asking), said = trouble();
  const list = make("div", { id: "settings" }), whileRuns = make("p", { class: "quiet", hidden: true, id: "settings-locked" }, say.check.whileRuns);
  const again = make("button", { type: "button", id: "settings-again", onclick: read }, say.again);
  box.append(status, said, whileRuns, list, make("p", { class: "quiet" }, say.texts), again);

  async function read() {
    complain(said);
    set(status, say.asking);
    box.setAttribute("aria-busy", "true");
    try {
      const settings = await ask("GET", path(id, "settings"), undefined, { patience_ms: PATIENCE_MS });
      if (!gone) fill(settings);
    } catch (refusal) {
      if (!gone) complain(said, why(refusal));
    } finally {
      set(status, "");
      box.removeAttribute("aria-busy");
    }
  }

  /** What the body has after it refused: perhaps not what it had before. */
  async function readBack() {
    const settings = await ask("GET", path(id, "settings"), undefined, { patience_ms: PATIENCE_MS }).catch(() => []);
    if (!gone) for (const now of settings) rows.find(({ setting }) => setting === now.setting)?.put(now);
  }

  function fill(settings) {
    rows = settings.filter(({ setting }) => !ABOVE.includes(setting)).map(row);
    list.replaceChildren(...rows.map(({ element }) => element));
    offer();
  }

  function row(now) {
    const { setting } = now, name = say.names[setting], clock = setting === "clock", key = `setting-${setting}`;
    const shown = make("p", { class: "figure" }), trouble_ = trouble(), how = make("small", {});
    const may = mayChange() && now.writable && now.choices.length > 0;
    const control = !may ? null : clock
      ? make("button", { type: "button", id: key, onclick: () => change("now") }, say.clockSet)
      : make("select", { id: key, onchange: offerToSet });
    const sure = make("button", { type: "button", class: "set", hidden: true, onclick: () => change(control.value) });

    const named = (value) => (now.unnamed[value] ? say.unnamed(now.unnamed[value]) : value || say.empty);
    const text = ({ value, number }) => (clock && number !== null ? clockSeconds(number) : named(value));

    /** A list can be turned by a glove or an arrow key, so what it shows is set by the button below it alone. */
    function offerToSet() {
      set(sure, say.check.fix(name, named(control.value)));
      show(sure, control.value !== now.value);
    }

    function put(next) {
      now = next;
      set(shown, text(now));
      if (!control || clock) return;
      const known = now.choices.includes(now.value) ? now.choices : [now.value, ...now.choices];
      control.replaceChildren(...known.map((value) => make("option", { value }, named(value))));
      control.value = now.value;
      show(sure, false);
    }

    async function change(value) {
      if (control.getAttribute("aria-busy") === "true" || gone) return;
      const focused = document.activeElement === sure;
      control.setAttribute("aria-busy", "true");
      complain(trouble_);
      set(status, say.setting(name));
      try {
        const [next] = await ask("PUT", path(id, "settings"), { settings: { [setting]: value } }, { patience_ms: PATIENCE_MS });
        if (gone) return;
        put(next);
        if (focused) control.focus(); // the button that had it is gone
        tell(say.isSet(name, text(next)));
      } catch (refusal) {
        if (gone) return;
        put(now);
        if (focused) control.focus();
        complain(trouble_, why(refusal));
        await readBack();
      } finally {
        control.removeAttribute("aria-busy");
        set(status, "");
      }
    }

    /** Nothing is offered while a shoot is at work, and what it sets itself not while it is held either. */
    function draw() {
      const has = taken(id), locked = has === "runs" || (has !== null && NOT_MEANWHILE.includes(setting));
      if (locked && !sure.hidden) put(now);
      if (control) show(control, !locked);
      show(shown, clock || !control || locked);
      set(how, locked && OF_THE_SHOOT.includes(setting) ? say.shootSets : !now.writable || !now.choices.length ? say.onBody : "");
    }
    put(now);
    return { setting, put, draw, element: make("div", { class: "setting", data: { setting } }, make(control && !clock ? "label" : "p", control && !clock ? { for: key } : {}, name), shown, control, control && sure, how, trouble_) };
  }

  function offer() {
    for (const each of rows) each.draw();
    show(whileRuns, taken(id) === "runs" && mayChange());
    if (of !== taken(id)) { // the shoot has begun, or has ended: what it set is not known
      of = taken(id);
      if (rows.length) read();
    }
  }

  const ears = ["now", "shoot"].map((kind) => on(kind, offer));
  read();
  return { end() { gone = true; for (const ear of ears) ear(); } };
}
