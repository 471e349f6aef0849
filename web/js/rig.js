// What is known of the rig: its last `now`, when that came, and whether the link holds. Every part of the page reads it
// here, and hears of changes by `on`.

export const ENDED = ["done", "stopped", "failed"];

let now = null, at = 0, next = null, linked = false;
const ears = new Map();

/** Hear `now`, `frame`, `shoot`, `note`, `clip` or `link` from here on; gives the function that ends it. */
export function on(kind, hear) {
  if (!ears.has(kind)) ears.set(kind, new Set());
  ears.get(kind).add(hear);
  return () => ears.get(kind).delete(hear);
}

function tell(kind, document_) {
  for (const hear of [...(ears.get(kind) ?? [])]) hear(document_);
}

/** Seconds of `text` (ISO 8601), or null. */
export const seconds = (text) => (text == null ? null : Date.parse(text) / 1000);

/** The rig's clock, which runs `rate` times faster than ours and did so since `now` came. POSIX seconds, or null. */
export const rigTime = () => (now === null ? null : seconds(now.utc) + ((Date.now() - at) / 1000) * now.rate);

export const document_ = () => now;
export const state = () => now?.shoot?.state ?? "none";
export const shoot = () => now?.shoot ?? null;
export const running = () => now !== null && now.shoot !== null && !ENDED.includes(now.shoot.state);
export const camera = () => now?.camera?.id ?? null;
export const interval = () => now?.interval_s ?? null;
/** When the next release is due, POSIX seconds by the rig's clock, or null. */
export const nextRelease = () => next;
export const live = () => linked;
/** `all`, `view`, or null where this device is not paired. */
export const rights = () => { const given = document.documentElement.dataset.rights; return given === "none" ? null : given; };
export const mayChange = () => rights() === "all";
/** The time zone of the place that is shot from, or that of this phone. */
export const zone = () => now?.shoot?.plan?.site?.timezone ?? undefined;

/** Whether a frame is of the shoot and the camera that are shown; of several cameras that is the first. */
export const ours = (frame) => frame.shoot === now?.shoot?.id && frame.camera === now.camera?.id;

/** No camera is there that could release the next frame. */
export const away = () => now !== null && ![now.camera, ...now.beside].some((each) => each?.connected);

const take = {
  now(document_) {
    now = document_;
    at = Date.now();
    next = now.next_release_in_s == null ? null : seconds(now.utc) + now.next_release_in_s;
  },
  shoot(shoot) {
    if (!now) return;
    const other = now.shoot && now.shoot.id !== shoot.id;
    if (other && !ENDED.includes(now.shoot.state)) return;
    now.shoot = shoot;
    if (shoot.state !== "shooting" && shoot.state !== "recovering") next = null;
  },
  // A frame was released, of whichever camera: the next one is due an interval later.
  frame(frame) {
    if (!now || frame.shoot !== now.shoot?.id || !["shooting", "recovering"].includes(state())) return;
    const due = seconds(frame.due_utc) + frame.interval_s;
    if (next !== null && due > next) next = due;
    if (ours(frame) && frame.preview && frame.seq >= (now.last_frame?.seq ?? 0)) now.last_frame = frame;
  },
};

/** An event of the rig, or an answer that says the same. */
export function heard(kind, document_) {
  take[kind]?.(document_);
  tell(kind, document_);
}

/** How long nothing was heard, seconds, and whether the link holds. */
export function silent(silence, ok) {
  linked = ok;
  tell("link", { silence, ok });
}
