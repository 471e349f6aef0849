// Every word that the page says. Another language is another file like this one; the rig gives each device its own, as
// `js/words.js`. How figures are written is in `js/figures.js`.

import { clock, count, degrees, ev, number, percent, runs, seconds, shutter, signed, size, span } from "./figures.js";

export const UNITS = { days: (n) => (n === 1 ? "1 day" : `${n} days`) };

export const NAMES = {
  "door-why": "This phone is not known to the rig. On the rig, the command “duskhand pair” shows a code.",
  "door-code-name": "Code", "door-phone-name": "Name of this phone (as you like)", "door-do": "Pair",
  "time-do": "Take this phone's time",
  "view-only": "You may look. Changing needs other rights.",
  "done-name": "Frames done", "to-come-name": "To come", "missed-name": "Missed",
  "interval-name": "Interval", "exposure-name": "Exposure", "gap-name": "Gap",
  "scene-name": "Light now", "sun-name": "Sun",
  "card-name": "Card", "rig-disk-name": "Rig's disk", "battery-name": "Battery",
  "hold": "Hold", "resume": "Resume", "change": "Change…", "stop": "Stop", "start": "Start…",
  "rooms": "Go to…", "rooms-title": "Go to", "room-back": "Rig",
};

// ---- rooms

export const ROOMS = {
  rig: "Rig", frames: "Frames", camera: "Camera", plans: "Plans", black: "Black screen", lamp: "Lamp", phone: "This phone",
};
export const ROOMS_SAY = {
  rig: "How it stands now", frames: "Pictures, gaps, curves", camera: "Settings, focus, checks", plans: "Write, rehearse, start",
  black: "Dark, with a mark for each frame", lamp: "Light on the foreground", phone: "Theme, language, access",
};
export const ROOM_NOT_THERE = "This part of the page did not come through. See whether the link holds.";
export const SHEET_NOT_THERE = "This part of the page did not come through. See whether the link holds, and tap again.";
export const AGAIN = "Try again";
export const CLOSE = "Close";

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
export const endedAt = (utc, now) => `Ended ${clock(utc, now)}`;

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
/** Said where the times shown are not those of this phone's own zone. */
export const zoneOfTimes = (zone) => (zone === null ? "" : `times of ${zone.replace("_", " ")}`);
export const nextIn = (s) => `Next in ${span(s)}.`;
export const untilFrames = (frames) => `Runs until it has ${frames} frames`;
export const UNTIL_COUNTED = "Runs until it has its frames";
export const NO_END = "Runs until you stop it";
export const NOT_UNTIL_RESUMED = "No release until you resume.";

// ---- figures

export const heater = ({ on, trouble }) => `Dew heater: ${trouble ? trouble : on ? "on" : "off"}`;
export const place = ({ name, waiting, trouble }) => `Copies to ${name}: ${trouble ? trouble : waiting ? `${count(waiting)} waiting` : "all made"}`;

export const wholeClip = (s) => `Clip ${runs(s)}`;
export const WHILE_HELD = "What is to come is not counted down while held.";
export const clip = (soFar, inTheEnd) =>
  inTheEnd == null ? `Clip ${runs(soFar)} so far` : `Clip ${runs(soFar)} so far, ${runs(inTheEnd)} in the end`;
/** A label such as "1/8 s  f/2.8  ISO 400" on two lines. */
export const exposure = (label) => label.replace(/ {2,}/, ", ").replace(/ {2,}/, "\n");
export const missed = (missedSlots, lost) => (lost ? `${count(missedSlots)}, ${count(lost)} lost` : count(missedSlots));
export const biased = (value) => `bias ${signed(value)} EV`;
/** Where interval and exposure are on their way to. */
export const heading = ({ utc, interval_s, exposure }, now) =>
  `Heading for ${[interval_s && seconds(interval_s), exposure?.label.replace(/ {2,}/g, ", ")].filter(Boolean).join(", ")} at ${clock(Date.parse(utc) / 1000, now)}`;
const enough = (hours) => (hours < 48 ? `${number(hours, hours < 10 ? 1 : 0)} h left` : `${UNITS.days(Math.floor(hours / 24))} left`);
export const battery = (left, hours) => percent(left) + (hours == null ? "" : `\n${enough(hours)}`);
export const room = (bytes, hours) => size(bytes) + (hours == null ? "" : `\n${enough(hours)}`);
export const PAUSED = "fetching paused";
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

// ---- the last picture

export const SHOW_PICTURE = "Show the last picture";
export const HIDE_PICTURE = "Hide the picture";
export const pictured = (frame) => `Frame ${frame.seq}, ${clock(Date.parse(frame.due_utc) / 1000)}`;
export const NO_PICTURE = "The picture did not come through.";

// ---- orders

export const DOING = { hold: "Holding…", resume: "Resuming…", stop: "Stopping…" };
export const DONE = {
  hold: "Held.", resume: "Going on.", stop: "Stopped.", stopping: "Stopping, once the frames on their way are in.", kept: "Not stopped.",
};
export const stopsIn = (s) => `Stops in ${s} s.`;
export const DO_NOT_STOP = "Do not stop";
export const STOP_NOT_SENT = "Stop was not sent: no link to the rig. The shoot goes on there.";
export const UNDERSTOOD = "OK";
/** What else can fail to be done, beside the orders of `NAMES`. */
export const SHEETS = { pace: "Change of pace", start: "Start" };
const named = (order) => (SHEETS[order] ?? NAMES[order]).replace("…", "");
export const failed = (order, why) => `${named(order)} was not done. ${why}`;
export const unanswered = (order) =>
  `${named(order)}: no answer from the rig. It may or may not have got it; the state above tells once the link is back.`;

// ---- changes while it runs

export const change = {
  title: "Change the pace", to: "New interval, seconds", over: "Get there within, minutes", act: "Change it",
  now: (interval) => `Now ${interval == null ? UNKNOWN : seconds(interval)}.`,
  rule: (most) =>
    "From now on this replaces the plan's own pace: the interval goes there, then stays there until the end. " +
    `It changes by ${percent(most * 100)} a frame at most, so 0 minutes takes some frames too.`,
  noNumber: "Both need a number, and the interval more than 0.",
  done: (to, minutes) => `Going to ${seconds(to)}${minutes ? ` within ${number(minutes)} min` : ""}, then stays there until the end.`,
};

// ---- starting

export const start = {
  title: "Which plan?", act: "Start it",
  none: "No plan is kept on this rig yet. Write one under Plans.",
  when: (when) => (when.windows ?? [when]).map((one) =>
    `${one.start ?? "now"} → ${one.stop ?? one.duration ?? (one.frames ? `${one.frames} frames` : "until stopped")}`).join(", "),
  done: (shoot) => `${shoot.plan_name}: ${STATES[shoot.state].toLowerCase()}.`,
};

// ---- black screen, lamp, this phone

export const black = {
  says: "Black screen. A dot is lit with each frame; a ring waits, a cross needs you. Tap for words.",
  back: "Back",
  noLink: "No link to the rig.",
  frames: (n) => `${count(n)} frames.`,
};

export const lamp = {
  says: "Put it down facing the foreground. It shows in your frames while it is on.",
  next: (s) => `Next release in ${span(s)}.`,
  bright: "Brightness", red: "Red", white: "White", back: "Back",
};

export const phone = {
  theme: "Colours", byLight: "By the light", night: "Night", day: "Day",
  themeSays: "By the light: red on black once the sun is 6° below the horizon at the rig's place, else dark on light.",
  language: "Language", byPhone: "As the phone",
  languageSays: "Texts that come from the rig itself, such as causes and remedies, are in English.",
  access: "Access", noAnswer: "The rig did not answer.", unnamed: "unnamed",
  here: "This is the rig itself, or a machine that it trusts.",
  paired: (name, rights) => `Paired${name ? ` as “${name}”` : ""}, ${rights === "all" ? "may change everything" : "may look only"}.`,
  invite: { all: "Let a phone in", view: "Let one look" },
  code: (code, rights) => `Code for the other phone: ${code}. It lets one device ${rights === "all" ? "change everything" : "look only"}, once.`,
  since: (day, rights, mine) => `${mine ? "this phone, " : ""}since ${day}, ${rights === "all" ? "may change" : "may look"}`,
  revoke: "Take away", sure: "Sure?",
  home: "On the home screen",
  homeSays: "In the browser's menu: “Add to home screen”. It then opens like an app, and still needs the rig's Wi-Fi.",
  dark: "In the dark",
  darkSays: "Turn the phone's own brightness down first: it matters more than any colour. Know the ground around the tripod before it is dark, stay off roads and away from edges while you look at a screen.",
};
