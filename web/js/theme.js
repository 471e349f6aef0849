// Night's theme after dusk at the rig's place, day's by day, or as this phone wants it. The rig has chosen already for the
// first look; from then on the sun's altitude in `now` decides.

import { document_, on } from "./rig.js";

const DUSK_DEG = -6, YEAR_S = 365 * 86400;

/** Small things that this phone keeps, and that the rig reads when the page is asked for. */
export function cookie(name) {
  return document.cookie.split("; ").find((one) => one.startsWith(`${name}=`))?.slice(name.length + 1) ?? null;
}
export function keep(name, value) {
  document.cookie = `${name}=${value ?? ""}; path=/; SameSite=Strict; max-age=${value == null ? 0 : YEAR_S}`;
}

/** What this phone wants: `night`, `day`, or null for whichever suits the light. */
export const chosen = () => { const theme = cookie("theme"); return theme === "night" || theme === "day" ? theme : null; };

export function choose(theme) {
  keep("theme", theme);
  dress();
}

function dress() {
  const sun = document_()?.sun_altitude_deg;
  const theme = chosen() ?? (document_() === null ? null : sun == null || sun < DUSK_DEG ? "night" : "day");
  const root = document.documentElement;
  if (theme !== null && root.dataset.theme !== theme) root.dataset.theme = theme;
  const ground = getComputedStyle(root).getPropertyValue("--ground").trim();
  document.querySelector('meta[name="theme-color"]').content = ground;
}

export function begin() {
  dress();
  on("now", dress);
}
