// The page's colours, and the first screen: what it shows of `now`, and the figures that run on between events.

import * as say from "./words.js";
import { $, make, set, show } from "./dom.js";
import { rigSays } from "./rig-says.js";
import { LATE_S } from "./link.js";
import { countdown, count, ev, otherZone, percent, seconds as inSeconds, size, span } from "./figures.js";
import { ENDED, away, document_, live, nextRelease, on, rigTime, seconds, state } from "./rig.js";

let now = null, tapped = false;

/** What needs attention, each cause in full once: where it stands already, only what comes before it is left. */
function attention() {
  return now.attention.map((text, i) => {
    const cut = text.indexOf(": "), before = now.attention.slice(0, i), shown = rigSays(text);
    return cut > 0 && before.some((other) => other.includes(text.slice(cut + 2))) ? shown.split(": ")[0] : shown;
  });
}

/** Why the shoot is in its state, unless that is said above: a shoot recovers for the trouble of a camera that is away. */
function cause() {
  const why = now.shoot?.cause;
  const told = now.attention.some((text) => text.includes(why)) || (state() === "recovering" && !now.camera?.connected);
  return why && !told ? why : null;
}

function draw() {
  now = document_();
  if (!now) return;
  const name = state(), ended = ENDED.includes(name), running = now.shoot !== null && !ended;
  const mark = name === "done" || name === "stopped" ? "ended" : name;
  $("mark").setAttribute("href", `#mark-${mark}`);
  set("state", say.STATES[name]);
  drawWell(name);
  const list = $("attention");
  const shown = attention();
  if (list.dataset.shown !== shown.join("\n")) {
    list.dataset.shown = shown.join("\n");
    list.replaceChildren(...shown.map((text) => make("li", {}, text)));
  }
  show("attention", shown.length > 0);
  const why = cause(), fast = now.rate !== 1 && say.fast(now.rate);
  const ended_utc = ended ? seconds(now.shoot.ended_utc) : null;
  set("plan", [now.shoot?.plan_name, why && say.because(rigSays(why)), ended_utc && say.endedAt(ended_utc, seconds(now.utc)), fast].filter(Boolean).join(" · "));

  show("coming", running);
  show("got", now.shoot !== null);
  set("done", count(now.frames_done));
  show("ahead", !ended);
  set("to-come", now.frames_left == null ? say.NONE : count(now.frames_left));
  show("while-held", name === "held" && now.frames_left != null);
  set("missed", say.missed(now.frames_missed, now.frames_lost));
  set("clip", ended ? say.wholeClip(now.clip_s) : say.clip(now.clip_s, now.clip_end_s));

  show("setting", running && (now.interval_s != null || now.exposure !== null));
  set("interval", now.interval_s == null ? say.NONE : inSeconds(now.interval_s));
  set("exposure", now.exposure ? say.exposure(now.exposure.label) : say.NONE);
  set("gap", now.gap_s == null ? say.NONE : inSeconds(now.gap_s));

  show("heading", running && now.heading != null);
  if (now.heading != null) set("heading", say.heading(now.heading, seconds(now.utc)));

  show("light", now.scene_ev != null || now.sun_altitude_deg != null);
  set("scene", now.scene_ev == null ? say.NONE : ev(now.scene_ev) + (now.bias_ev ? `\n${say.biased(now.bias_ev)}` : ""));
  set("sun", now.sun_altitude_deg == null ? say.NONE : say.sun(now.sun_altitude_deg));

  const { storage, camera } = now;
  show("means", storage !== null || camera !== null);
  const lasts = (hours) => (hours != null ? `\n${say.enough(hours)}` : running ? `\n${say.HOURS_UNKNOWN}` : "");
  set("card", storage?.card_free_bytes == null ? say.NONE : size(storage.card_free_bytes) + lasts(storage.card_hours_left));
  set("rig-disk", !storage ? say.NONE : size(storage.rig_free_bytes) + (storage.fetching === "paused" ? `\n${say.PAUSED}` : storage.fetching === "off" ? "" : lasts(storage.rig_hours_left)));
  set("battery", camera?.battery_percent == null ? say.NONE : percent(camera.battery_percent) + lasts(camera.battery_hours_left));
  const worded = (one) => ({ ...one, trouble: rigSays(one.trouble) });
  const beside = [...now.beside.map(say.beside), now.heater && say.heater(worded(now.heater)), ...now.places.map((place) => say.place(worded(place), seconds(now.utc)))].filter(Boolean);
  show("beside", beside.length > 0);
  set("beside", beside.join("\n"));
  drawPicture();
  tick();
}

function drawWell(name) {
  const calm = ["waiting", "checking", "shooting"].includes(name) ? say.ALL_WELL : name === "held" && !now.shoot.held_until_utc ? say.WAITS : say.NO_NEED;
  set("well", !live() ? say.LAST_HEARD : now.well ? calm : say.attends(now.attention.length));
}

/** The figures that run by themselves; called several times a second. */
function tick() {
  if (!now) return;
  const next = nextRelease(), time = rigTime();
  set("well-next", next !== null && !away() && state() === "shooting" && live() ? say.nextIn(Math.max(0, next - time)) : "");
  if ($("coming").hidden) return;
  const start = seconds(now.next_release_utc);
  if (state() === "waiting" && start !== null) {
    show("coming-name", true);
    show("countdown", true);
    set("coming-name", say.STARTS);
    set("countdown", span(start - time));
    $("countdown").classList.remove("words");
    set("left", say.startsAt(start, time));
    set("zone", say.zoneOfTimes(otherZone()));
    show("zone", otherZone() !== null);
    show("gauge", false);
    return;
  }
  set("zone", say.zoneOfTimes(otherZone()));
  const held = state() === "held", until = held ? seconds(now.shoot.held_until_utc) : null;
  const wait = held || away() || next === null ? null : next - time;
  show("coming-name", !held || until !== null);
  show("countdown", !held || until !== null);
  set("coming-name", held ? say.GOES_ON_IN : wait > 0.05 ? say.NEXT_IN : say.NEXT);
  $("countdown").classList.toggle("words", away() && until === null);
  set("countdown", until !== null ? countdown(Math.max(0, until - time), now.rate) : away() ? say.NO_CAMERA : wait === null || (wait < 0 && !live()) ? say.NONE
    : wait > 0.05 ? countdown(wait, now.rate) : wait > -2 * now.rate ? say.NOW : say.overdue(-wait));
  show("gauge", wait !== null);
  if (wait !== null) $("gauge-left").style.transform = `scaleX(${Math.min(1, Math.max(0, wait / (now.interval_s || 1)))})`;
  const end = seconds(now.end_utc ?? now.shoot.stop_utc), { frames, windows } = now.shoot.plan.when ?? {};
  set("left", held ? (until === null ? say.NOT_UNTIL_RESUMED : say.goesOn(until, time)) : end !== null ? (end > time ? say.left(end, time) : say.past(end, time))
    : frames ? say.untilFrames(frames) : windows ? say.UNTIL_COUNTED : say.NO_END);
  show("zone", (until ?? (held ? null : end)) !== null && otherZone() !== null);
}

/** Say how fresh all this is. */
function tellLink({ silence, ok }) {
  const lost = !ok && now !== null && silence >= LATE_S;
  set("link", ok ? say.LIVE : lost ? say.noLink(silence) : say.CONNECTING);
  document.body.classList.toggle("lost", lost);
  document.body.classList.toggle("old", !ok);
  if (now) drawWell(state());
}

/** Whether a picture of 4:3 is one of 3:2 between black bars; in a black night it cannot be told, nor need it be. */
export function barred(image) {
  const [width, height] = [64, 120], canvas = Object.assign(document.createElement("canvas"), { width, height });
  if (Math.abs(image.naturalWidth / image.naturalHeight - 4 / 3) > 0.01) return false;
  const context = canvas.getContext("2d", { willReadFrequently: true });
  context.drawImage(image, 0, 0, width, height);
  const light = (from, rows) => Math.max(...context.getImageData(0, from, width, rows).data.filter((_, i) => i % 4 < 3));
  return Math.max(light(0, 5), light(115, 5)) < 24 && Math.min(light(8, 4), light(108, 4)) > 32;
}

// ---- the last picture, hidden until it is asked for: it would be the brightest thing for miles

function drawPicture() {
  const frame = now.last_frame, open = !$("picture-frame").hidden;
  show("picture", frame !== null && frame.preview);
  set("picture-show", open ? say.HIDE_PICTURE : say.SHOW_PICTURE);
  $("picture-show").setAttribute("aria-expanded", String(open));
  if (!open || !frame?.preview) return;
  const image = $("picture-image"), source = `api/v1/frames/${frame.id}/preview.jpg`;
  if (image.getAttribute("src") !== source) image.src = source;
  image.alt = say.pictured(frame);
  set("picture-name", say.pictured(frame));
}

// ---- night's theme after dusk at the rig's place, day's by day, or as this phone wants it. The rig has chosen already for
// the first look; from then on the sun's altitude in `now` decides.

const DUSK_DEG = -6, YEAR_S = 365 * 86400;

/** Small things that this phone keeps, and that the rig reads when the page is asked for. */
export const cookie = (name) => document.cookie.split("; ").find((one) => one.startsWith(`${name}=`))?.slice(name.length + 1) || null;
export function keep(name, value) {
  document.cookie = `${name}=${value ?? ""}; path=/; SameSite=Strict; max-age=${value == null ? 0 : YEAR_S}`;
}

/** `slowly`: nobody asked for it now, so nothing jumps (page.css). */
export function dress(slowly = false) {
  const chosen = cookie("theme"), sun = document_()?.sun_altitude_deg, root = document.documentElement;
  const theme = chosen ?? (document_() === null ? root.dataset.theme : sun == null || sun < DUSK_DEG ? "night" : "day");
  if (root.dataset.theme === theme) return;
  root.classList.toggle("turning", slowly);
  root.dataset.theme = theme;
  document.querySelector('meta[name="color-scheme"]').content = theme === "night" ? "dark" : "light";
  colourBars();
}

/** What is around the page, of the phone's own, goes along with it. */
function colourBars() {
  const root = document.documentElement, ground = getComputedStyle(root).getPropertyValue("--ground").trim();
  document.querySelector('meta[name="theme-color"]').content = ground;
  if (root.getAnimations().length) setTimeout(colourBars, 200);
}

export function begin() {
  for (const [id, text] of Object.entries(say.NAMES)) set(id, text);
  set("state", say.LOOKING);
  set("while-held", say.WHILE_HELD);
  $("picture-show").addEventListener("click", () => {
    $("picture-frame").hidden = !$("picture-frame").hidden;
    tapped = !$("picture-frame").hidden;
    drawPicture();
  });
  $("picture-image").addEventListener("load", ({ target }) => {
    target.classList.toggle("barred", barred(target));
    if (tapped) $("picture").scrollIntoView({ block: "end" }); // once: later pictures move nothing
    tapped = false;
  });
  $("picture-image").addEventListener("error", () => set("picture-name", say.NO_PICTURE));
  dress();
  on("now", draw);
  on("now", () => dress(true));
  on("shoot", draw);
  on("words", draw);
  on("frame", () => { if (document_()) drawPicture(); });
  on("link", tellLink);
  setInterval(tick, 200);
}
