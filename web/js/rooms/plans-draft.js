// What is being written of a plan, kept in this tab until it is saved: a link that breaks, a room left by mistake and a
// page loaded anew take nothing away.

import { phonesZone } from "../figures.js";

const KEY = "plan-draft:";

/** `{plan, was, base}`: the document as it stands, its text when it was last the rig's, and that version's tag; or null. */
export function drafted(name) {
  try {
    return JSON.parse(sessionStorage.getItem(KEY + name));
  } catch {
    return null;
  }
}

/** What the rig takes as a plan's name (docs/plan.md). */
export const NAME = /^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$/;

export const draftNames = () => Object.keys(sessionStorage).filter((key) => key.startsWith(KEY)).map((key) => key.slice(KEY.length)).sort();
export const drop = (name) => sessionStorage.removeItem(KEY + name);

/** Whether something is in it that the rig does not have. */
export const changed = (draft) => JSON.stringify(draft.plan) !== draft.was;

/** Keep what is not saved. False where the browser keeps nothing. */
export function keep(name, draft) {
  try {
    if (changed(draft)) sessionStorage.setItem(KEY + name, JSON.stringify(draft));
    else drop(name);
    return true;
  } catch {
    return false;
  }
}

/** A plan to begin with: a dusk, in the tables that the rig has no defaults for. */
export function fresh(name, defaults) {
  return {
    name,
    site: { timezone: phonesZone() },
    when: { start: "sunset-45min", stop: "nautical_dusk+30min" },
    pace: { kind: "sun", points: [[2, 5], [-6, 9], [-14, 22]], min_gap_s: 1 },
    light: { kind: "follow", shutter_s: [0.0005, 15], aperture: [2.8, 2.8], iso: [100, 3200], order: ["shutter", "iso"] },
    files: { fetch: "preview" },
    clip: { fps: 25 },
    ...defaults,
  };
}

/** What the form has fields for; the rest of a plan goes through it untouched. */
const KNOWN = {
  site: ["latitude", "longitude", "timezone"],
  when: ["start", "stop", "duration", "frames", "date", "every", "from", "until", "skip"],
  pace: ["kind", "interval_s", "from_s", "to_s", "over", "points", "min_gap_s", "min_interval_s", "stretch_to_s"],
  light: ["kind", "shutter_s", "aperture", "iso", "order", "bias_ev"],
  files: ["fetch"],
  clip: ["fps", "daily", "preview"],
};
/** As docs/plan.md has them where they are left out: not worth a word. */
const USUAL = {
  "site.floor_lx": 0.0008, "pace.max_change": 0.04, "light.max_ev_per_min": 1.5, "light.test_frame": true, "files.keep": "all", "files.free_card": "never",
};

/** What else is in a plan, as `table.key value`. */
export function beside(plan) {
  const told = [];
  for (const [table, keys] of Object.entries(plan)) {
    if (table === "name") continue;
    for (const [key, value] of Object.entries(keys ?? {})) {
      const path = `${table}.${key}`, empty = value === null || value === false || (Array.isArray(value) && !value.length);
      if (KNOWN[table]?.includes(key) || empty || USUAL[path] === value) continue;
      told.push(`${path} ${JSON.stringify(value)}`);
    }
  }
  return told;
}
