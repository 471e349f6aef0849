// Where the rig stands: pasted, or typed.

import { plans as say } from "../words.js";
import { make, set } from "../dom.js";
import { entry, phonesZone } from "../figures.js";
import { field, figure, text } from "./plans-fields.js";
import { readPlace } from "./plans-place.js";

export function sitePart(form) {
  const { site } = form.plan;
  const degrees = (key) => figure(form, `[site] ${key}`, say[key], site, key, {}, true);
  const latitude = degrees("latitude"), longitude = degrees("longitude");
  const read = make("p", { class: "quiet", role: "status", id: "plan-read" });
  const paste = make("input", {
    id: "plan-paste", autocomplete: "off", spellcheck: "false", placeholder: "57.7, 11.95",
    oninput() {
      const found = readPlace(paste.value);
      set(read, !paste.value.trim() ? "" : found ? say.placed(found) : say.noPlace);
      if (!found) return;
      Object.assign(site, found);
      latitude.querySelector("input").value = entry(found.latitude);
      longitude.querySelector("input").value = entry(found.longitude);
      form.changed();
    },
  });
  const zones = make("datalist", { id: "plan-zones" });
  const zone = text(form, "[site] timezone", say.zone, site, "timezone", {
    list: "plan-zones",
    onfocus() { if (!zones.children.length) zones.append(...(Intl.supportedValuesOf?.("timeZone") ?? []).map((value) => make("option", { value }))); },
  }, zones);
  const own = make("button", {
    type: "button", class: "wide", id: "plan-own-zone",
    onclick() { const input = zone.querySelector("input"); input.value = phonesZone(); input.dispatchEvent(new Event("input", { bubbles: true })); },
  }, say.ownZone(phonesZone()));
  const inside = [field(form, "site", say.paste, paste, read), latitude, longitude, zone, own];
  const details = make("details", { open: site.latitude === undefined }, make("summary", { id: "plan-where" }, say.where(site)), inside);
  form.onChange.push(() => set(details.firstChild, say.where(site)));
  return make("section", { id: "plan-site" }, make("h3", {}, say.site), details);
}
