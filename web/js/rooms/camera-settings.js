// The settings that the body offers: our names, its own words. Each is set at once, read back, and shown as it is then.

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
  const list = make("div", { id: "settings" });
  const again = make("button", { type: "button", id: "settings-again", onclick: read }, say.again);
  box.append(status, said, list, make("p", { class: "quiet" }, say.texts), again);

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
      : make("select", { id: key, onchange: ({ target }) => change(target.value) });

    const text = ({ value, number }) => (clock && number !== null ? clockSeconds(number) : value || say.empty);

    function put(next) {
      now = next;
      set(shown, text(now));
      if (!control || clock) return;
      const known = now.choices.includes(now.value) ? now.choices : [now.value, ...now.choices];
      control.replaceChildren(...known.map((value) => make("option", { value }, value || say.empty)));
      control.value = now.value;
    }

    async function change(value) {
      if (control.getAttribute("aria-busy") === "true" || gone) return;
      control.setAttribute("aria-busy", "true");
      complain(trouble_);
      set(status, say.setting(name));
      try {
        const [next] = await ask("PUT", path(id, "settings"), { settings: { [setting]: value } }, { patience_ms: PATIENCE_MS });
        if (gone) return;
        put(next);
        tell(say.isSet(name, text(next)));
      } catch (refusal) {
        if (gone) return;
        put(now);
        complain(trouble_, why(refusal));
        await readBack();
      } finally {
        control.removeAttribute("aria-busy");
        set(status, "");
      }
    }

    /** What the shoot sets itself is shown, and offered no more while it has the camera. */
    function draw() {
      const locked = taken(id) !== null && NOT_MEANWHILE.includes(setting);
      if (control) show(control, !locked);
      show(shown, clock || !control || locked);
      set(how, locked && OF_THE_SHOOT.includes(setting) ? say.shootSets : !now.writable || !now.choices.length ? say.onBody : "");
    }
    put(now);
    return { setting, put, draw, element: make("div", { class: "setting", data: { setting } }, make(control && !clock ? "label" : "p", control && !clock ? { for: key } : {}, name), shown, control, how, trouble_) };
  }

  function offer() {
    for (const each of rows) each.draw();
    if (of !== taken(id)) { // the shoot has begun, or has ended: what it set is not known
      of = taken(id);
      if (rows.length) read();
    }
  }

  const ears = ["now", "shoot"].map((kind) => on(kind, offer));
  read();
  return { end() { gone = true; for (const ear of ears) ear(); } };
}
