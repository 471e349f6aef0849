// What the page shows of `now`, and the figures that run on between events.

import * as say from "./words.js";

export const $ = (id) => document.getElementById(id);
export const ENDED = ["done", "stopped", "failed"];

/** Seconds of `text` (ISO 8601), or null. */
const seconds = (text) => (text == null ? null : Date.parse(text) / 1000);

export function set(id, text) {
  const element = $(id);
  if (element.textContent !== text) element.textContent = text;
}
const show = (id, wanted) => { $(id).hidden = !wanted; };

let now = null, at = 0, next = null, linked = false;

/** The rig's clock, which runs `rate` times faster than ours and did so since `now` came. */
const rigTime = () => seconds(now.utc) + ((Date.now() - at) / 1000) * now.rate;

/** Take a new `now`, received this moment. */
export function take(document_) {
  now = document_;
  at = Date.now();
  next = now.next_release_in_s == null ? null : seconds(now.utc) + now.next_release_in_s;
  draw();
}

/** The shoot that `now` is about changed. */
export function takeShoot(shoot) {
  if (!now) return;
  const other = now.shoot && now.shoot.id !== shoot.id;
  if (other && !ENDED.includes(now.shoot.state)) return;
  now.shoot = shoot;
  if (shoot.state !== "shooting" && shoot.state !== "recovering") next = null;
  draw();
}

/** Whether a frame is of the shoot and the camera that are shown; of several cameras that is the first. */
export const ours = (frame) => frame.shoot === now?.shoot?.id && frame.camera === now.camera?.id;

/** A frame was released, of whichever camera: the next one is due an interval later. */
export function takeFrame(frame) {
  if (!now || frame.shoot !== now.shoot?.id || !["shooting", "recovering"].includes(state())) return;
  const due = seconds(frame.due_utc) + frame.interval_s;
  if (next !== null && due > next) next = due;
  if (ours(frame) && frame.preview && frame.seq >= (now.last_frame?.seq ?? 0)) {
    now.last_frame = frame;
    drawPicture();
  }
}

export const state = () => now?.shoot?.state ?? "none";
export const shoot = () => now?.shoot ?? null;
export const camera = () => now?.camera?.id ?? null;
export const interval = () => now?.interval_s ?? null;
export const live = () => linked;

/** What needs attention, each cause in full once: where it stands already, only what comes before it is left. */
function attention() {
  return now.attention.map((text, i) => {
    const cut = text.indexOf(": "), before = now.attention.slice(0, i);
    return cut > 0 && before.some((other) => other.includes(text.slice(cut + 2))) ? text.slice(0, cut) : text;
  });
}

/** Why the shoot is in its state, unless that is said above: a shoot recovers for the trouble of a camera that is away. */
function cause(said) {
  const why = now.shoot?.cause;
  const told = said.some((text) => text.includes(why)) || (state() === "recovering" && !now.camera?.connected);
  return why && !told ? why : null;
}

/** No camera is there that could release the next frame. */
const away = () => ![now.camera, ...now.beside].some((each) => each?.connected);

function draw() {
  const name = state(), ended = ENDED.includes(name), running = now.shoot !== null && !ended;
  const mark = name === "done" || name === "stopped" ? "ended" : name;
  $("mark").setAttribute("href", `#mark-${mark}`);
  set("state", say.STATES[name]);
  drawWell(name);
  const list = $("attention");
  const said = attention();
  if (list.dataset.shown !== said.join("\n")) {
    list.dataset.shown = said.join("\n");
    list.replaceChildren(...said.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
  }
  show("attention", said.length > 0);
  const why = cause(said), fast = now.rate !== 1 && say.fast(now.rate);
  const ended_utc = ended ? seconds(now.shoot.ended_utc) : null;
  set("plan", [now.shoot?.plan_name, why && say.because(why), ended_utc && say.endedAt(ended_utc, seconds(now.utc)), fast].filter(Boolean).join(" · "));

  show("coming", running);
  show("got", now.shoot !== null);
  set("done", `${now.frames_done}`);
  show("ahead", !ended);
  set("to-come", now.frames_left == null ? say.NONE : `${now.frames_left}`);
  show("while-held", name === "held" && now.frames_left != null);
  set("missed", say.missed(now.frames_missed, now.frames_lost));
  set("clip", ended ? say.wholeClip(now.clip_s) : say.clip(now.clip_s, now.clip_end_s));

  show("setting", running && (now.interval_s != null || now.exposure !== null));
  set("interval", now.interval_s == null ? say.NONE : say.seconds(now.interval_s));
  set("exposure", now.exposure ? say.exposure(now.exposure.label) : say.NONE);
  set("gap", now.gap_s == null ? say.NONE : say.seconds(now.gap_s));

  show("light", now.scene_ev != null || now.sun_altitude_deg != null);
  set("scene", now.scene_ev == null ? say.NONE : say.ev(now.scene_ev) + (now.bias_ev ? `\n${say.biased(now.bias_ev)}` : ""));
  set("sun", now.sun_altitude_deg == null ? say.NONE : say.sun(now.sun_altitude_deg));

  const { storage, camera } = now;
  show("means", storage !== null || camera !== null);
  set("card", storage?.card_free_bytes == null ? say.NONE : say.room(storage.card_free_bytes, storage.card_hours_left));
  set("rig", !storage ? say.NONE : storage.fetching === "paused" ? `${say.room(storage.rig_free_bytes)}\n${say.PAUSED}`
    : say.room(storage.rig_free_bytes, storage.rig_hours_left));
  set("battery", camera?.battery_percent == null ? say.NONE : say.percent(camera.battery_percent));
  show("beside", now.beside.length > 0);
  set("beside", now.beside.map(say.beside).join("\n"));
  drawPicture();
  tick();
}

function drawWell(name) {
  const calm = ["waiting", "checking", "shooting"].includes(name) ? say.ALL_WELL : say.NO_NEED;
  set("well", !linked ? say.LAST_HEARD : now.well ? calm : say.attends(now.attention.length));
}

/** The figures that run by themselves; called several times a second. */
export function tick() {
  if (!now || $("coming").hidden) return;
  const time = rigTime(), start = seconds(now.next_release_utc);
  if (state() === "waiting" && start !== null) {
    show("coming-name", true);
    show("countdown", true);
    set("coming-name", say.STARTS);
    set("countdown", say.span(start - time));
    $("countdown").classList.remove("words");
    set("left", say.startsAt(start, time));
    show("zone", true);
    show("gauge", false);
    return;
  }
  const held = state() === "held", wait = held || away() || next === null ? null : next - time;
  show("coming-name", !held);
  show("countdown", !held);
  set("coming-name", wait > 0.05 ? say.NEXT_IN : say.NEXT);
  $("countdown").classList.toggle("words", away());
  set("countdown", away() ? say.NO_CAMERA : wait === null || (wait < 0 && !linked) ? say.NONE
    : wait > 0.05 ? say.countdown(wait, now.rate) : wait > -2 * now.rate ? say.NOW : say.overdue(-wait));
  show("gauge", wait !== null);
  if (wait !== null) $("gauge-left").style.transform = `scaleX(${Math.min(1, Math.max(0, wait / (now.interval_s || 1)))})`;
  const end = seconds(now.end_utc ?? now.shoot.stop_utc), { frames, windows } = now.shoot.plan.when ?? {};
  set("left", held ? say.NOT_UNTIL_RESUMED : end !== null ? (end > time ? say.left(end, time) : say.past(end, time))
    : frames ? say.untilFrames(frames) : windows ? say.UNTIL_COUNTED : say.NO_END);
  show("zone", !held && end !== null);
}

/** Say how fresh all this is. */
export function tellLink(silence, ok) {
  set("link", ok ? say.LIVE : now ? say.noLink(silence) : say.LOOKING);
  $("link").classList.toggle("lost", !ok && now !== null);
  $("page").classList.toggle("old", !ok);
  if (linked === ok) return;
  linked = ok;
  if (now) drawWell(state());
}

/** Whether a picture of 4:3 is one of 3:2 between black bars; in a black night it cannot be told, nor need it be. */
function barred(image) {
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

export function begin() {
  for (const [id, text] of Object.entries(say.NAMES)) set(id, text);
  set("state", say.LOOKING);
  set("zone", say.PHONES_TIME);
  set("while-held", say.WHILE_HELD);
  $("picture-show").addEventListener("click", () => {
    $("picture-frame").hidden = !$("picture-frame").hidden;
    drawPicture();
  });
  $("picture-image").addEventListener("load", ({ target }) => target.classList.toggle("barred", barred(target)));
  $("picture-image").addEventListener("error", () => set("picture-name", say.NO_PICTURE));
  setInterval(tick, 200);
}
