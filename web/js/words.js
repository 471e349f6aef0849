// Every word that the page says, and how it writes figures. Another language is another file like this one.

export const NAMES = {
  "door-why": "This phone is not known to the rig. On the rig, the command “duskhand pair” shows a code.",
  "door-code-name": "Code", "door-phone-name": "Name of this phone (as you like)", "door-do": "Pair",
  "time-do": "Take this phone's time",
  "view-only": "You may look. Changing needs other rights.",
  "done-name": "Frames done", "to-come-name": "To come", "missed-name": "Missed",
  "interval-name": "Interval", "exposure-name": "Exposure", "gap-name": "Gap",
  "scene-name": "Light now", "sun-name": "Sun",
  "card-name": "Card", "rig-name": "Rig's disk", "battery-name": "Battery",
  "curves-name": "Over the sun's altitude",
  "hold": "Hold", "resume": "Resume", "pace": "Pace…", "stop": "Stop", "start": "Start a plan…",
  "pace-title": "Change the pace", "pace-to-name": "New interval, seconds", "pace-over-name": "Get there within, minutes",
  "pace-do": "Change it", "start-title": "Which plan?", "start-do": "Start it",
};
export const LEAVE = "Leave it";
export const LESS = "less", MORE = "more";

export const STATES = {
  none: "Nothing is running",
  waiting: "Waiting to start",
  checking: "Checking the camera",
  shooting: "Shooting",
  held: "Held",
  recovering: "Recovering",
  done: "Done",
  stopped: "Stopped",
  failed: "Failed",
};
export const ALL_WELL = "All is well.", NO_NEED = "Nothing needs you.", LAST_HEARD = "So it was when last heard.";
export const fast = (rate) => `clock ${number(rate)} × faster`;
export const attends = (count) => (count === 1 ? "One thing needs you:" : `${count} things need you:`);
export const because = (cause) => `Why: ${cause}`;
export const endedAt = (utc, now) => `Ended ${clock(utc, now)} ${PHONES_TIME}`;

// ---- the link

export const LOOKING = "Looking for the rig…";
export const NOT_PAIRED = "Not paired";
export const NO_ANSWER = "The rig did not answer. Try again.";
export const LIVE = "Live";
export const noLink = (seconds) => `No link for ${span(seconds)}. What you see is that old. Trying again…`;

export const phonesTime = (utc) => `This phone says ${clock(utc, 0)}. Is that right?`;

// ---- what comes

export const NEXT_IN = "Next release in", NEXT = "Next release";
export const NO_CAMERA = "Camera not there";
export const STARTS = "Starts in";
export const NOW = "now";
export const overdue = (seconds) => `due ${span(seconds)} ago`;
export const UNKNOWN = "not known", NONE = "—";
export const startsAt = (utc, now) => `at ${clock(utc, now)}`;
export const left = (utc, now) => `${span(utc - now)} left, ends ${clock(utc, now)}`;
export const past = (utc, now) => `Its end, ${clock(utc, now)}, has passed`;
export const PHONES_TIME = "phone time";
export const untilFrames = (frames) => `Runs until it has ${frames} frames`;
export const UNTIL_COUNTED = "Runs until it has its frames";
export const NO_END = "Runs until you stop it";
export const NOT_UNTIL_RESUMED = "No release until you resume.";

// ---- figures

export const wholeClip = (s) => `Clip ${runs(s)}`;
export const WHILE_HELD = "What is to come is not counted down while held.";
export const clip = (soFar, inTheEnd) =>
  inTheEnd == null ? `Clip ${runs(soFar)} so far` : `Clip ${runs(soFar)} so far, ${runs(inTheEnd)} in the end`;
/** A label such as "1/8 s  f/2.8  ISO 400" on two lines. */
export const exposure = (label) => label.replace(/ {2,}/, ", ").replace(/ {2,}/, "\n");
export const missed = (missedSlots, lost) => (lost ? `${missedSlots}, ${lost} lost` : `${missedSlots}`);
export const ev = (value) => `${number(value, 1)} EV`;
export const biased = (value) => `bias ${value > 0 ? "+" : ""}${number(value, 1)} EV`;
export const seconds = (value) => `${number(value, value < 100 ? 1 : 0)} s`;
export const room = (bytes, hours) => size(bytes) + (hours == null ? "" : `\n${enough(hours)}`);
export const PAUSED = "fetching paused";
export const percent = (value) => `${value} %`;
/** A line for a camera beside the first. */
export function beside({ id, connected, battery_percent, card_free_bytes }) {
  if (!connected) return `${id}: not there`;
  const told = [battery_percent == null ? null : `battery ${percent(battery_percent)}`, card_free_bytes == null ? null : `card ${size(card_free_bytes)}`];
  return [`${id}: there`, ...told.filter(Boolean)].join(", ");
}
export function sun(altitude) {
  const phase = altitude > -0.833 ? "day" : altitude > -6 ? "civil twilight" : altitude > -12 ? "nautical twilight"
    : altitude > -18 ? "astronomical twilight" : "night";
  return `${degrees(altitude, 1)}, ${phase}`;
}

/** A number with a true minus sign. */
export const number = (value, digits = 2) =>
  (digits === 2 ? String(Math.round(value * 100) / 100) : value.toFixed(digits)).replace("-", "−");
export const degrees = (value, digits = 0) => `${number(value, digits)}°`;

/** A length of time as one would say it. */
export function span(s) {
  const whole = Math.max(0, Math.round(s));
  if (whole < 60) return `${whole} s`;
  const minutes = Math.floor(whole / 60);
  if (minutes < 10) return whole % 60 ? `${minutes} min ${whole % 60} s` : `${minutes} min`;
  if (minutes < 60) return `${minutes} min`;
  const hours = Math.floor(minutes / 60);
  if (hours < 48) return minutes % 60 ? `${hours} h ${minutes % 60} min` : `${hours} h`;
  return `${Math.round(hours / 24)} days`;
}
/** Seconds left until a release; with tenths while they can be read. */
export const countdown = (s, rate) => (s < 60 ? `${s.toFixed(rate < 3 && s < 20 ? 1 : 0)} s` : span(s));
const runs = (s) => (s < 60 ? `${s.toFixed(1)} s` : span(s));
const size = (bytes) =>
  bytes >= 1e9 ? `${number(bytes / 1e9, bytes < 1e10 ? 1 : 0)} GB` : `${Math.round(bytes / 1e6)} MB`;
const enough = (hours) => (hours < 48 ? `${number(hours, hours < 10 ? 1 : 0)} h left` : `${Math.floor(hours / 24)} days left`);

/** Clock time where this phone is; with the day where it is another than that of `now`, the rig's time. */
export function clock(utc, now = utc) {
  const when = new Date(utc * 1000);
  const time = when.toLocaleTimeString([], { hour: "numeric", minute: "2-digit" });
  return when.toDateString() === new Date(now * 1000).toDateString() ? time
    : `${when.toLocaleDateString([], { weekday: "short", day: "numeric", month: "short" })} ${time}`;
}

// ---- the last picture

export const SHOW_PICTURE = "Show the last picture";
export const HIDE_PICTURE = "Hide the picture";
export const pictured = (frame) => `Frame ${frame.seq}, ${clock(Date.parse(frame.due_utc) / 1000)}`;
export const NO_PICTURE = "The picture did not come through.";

// ---- curves

export const SCENE_KEY = "scene", EXPOSURE_KEY = "exposure";
export const missedKey = (slots, lost) => "× " + [slots && `${slots} missed`, lost && `${lost} lost`].filter(Boolean).join(", ");
export const EV_AXIS = "EV at ISO 100";
export const INTERVAL_AXIS = "Interval, s";
export const SUN_AXIS = "sun's altitude";
export const curvesSay = (first, last) =>
  `${span((Date.parse(last.due_utc) - Date.parse(first.due_utc)) / 1000)} of shooting: sun from ` +
  `${degrees(first.sun_altitude_deg, 1)} to ${degrees(last.sun_altitude_deg, 1)}, scene from ` +
  `${first.scene_ev == null ? UNKNOWN : ev(first.scene_ev)} to ${last.scene_ev == null ? UNKNOWN : ev(last.scene_ev)}, ` +
  `interval from ${seconds(first.interval_s)} to ${seconds(last.interval_s)}.`;

// ---- orders

export const DOING = { hold: "Holding…", resume: "Resuming…", stop: "Stopping…" };
export const DONE = {
  hold: "Held.", resume: "Going on.", stop: "Stopped.", stopping: "Stopping, once the frames on their way are in.", kept: "Not stopped.",
  pace: (to, minutes) => `Going to ${seconds(to)}${minutes ? ` within ${number(minutes)} min` : ""}, then stays there until the end.`,
  start: (shoot) => `${shoot.plan_name}: ${STATES[shoot.state].toLowerCase()}.`,
};
export const stopsIn = (s) => `Stops in ${s} s.`;
export const DO_NOT_STOP = "Do not stop";
export const STOP_NOT_SENT = "Stop was not sent: no link to the rig. The shoot goes on there.";
export const UNDERSTOOD = "OK";
export const failed = (order, why) => `${NAMES[order].replace("…", "")} was not done. ${why}`;
export const unanswered = (order) =>
  `${NAMES[order].replace("…", "")}: no answer from the rig. It may or may not have got it; the state above tells once the link is back.`;
export const paceNow = (interval) => `Now ${interval == null ? UNKNOWN : seconds(interval)}.`;
export const paceRule = (change) =>
  "From now on this replaces the plan's own pace: the interval goes there, then stays there until the end. " +
  `It changes by ${percent(Math.round(change * 1000) / 10)} a frame at most, so 0 minutes takes some frames too.`;
export const NO_NUMBER = "Both need a number, and the interval more than 0.";
export const NO_PLANS = "No plan is kept on this rig yet. The first has to be started from a computer; from then on it can be chosen here.";
export const planWhen = (when) => (when.windows ?? [when]).map((one) =>
  `${one.start ?? "now"} → ${one.stop ?? one.duration ?? (one.frames ? `${one.frames} frames` : "until stopped")}`).join(", ");
