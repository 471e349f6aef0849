// Every word that the page says. Another language is another file like this one; the rig gives each device its own, as
// `js/words.js`. How figures are written is in `js/figures.js`.

import { clock, count, days, degrees, ev, fNumber, isoSpeed, marked, number, percent, runs, seconds, shutter, signed, size, span } from "./figures.js";

export const NAMES = {
  "door-why": "This phone is not known to the rig. A phone that has access shows a code under “This phone”; on the rig itself the command “duskhand pair” does.",
  "door-code-name": "Code", "door-phone-name": "Name of this phone (as you like)", "door-do": "Pair",
  "time-do": "Take this phone's time",
  "view-only": "You may look. Changing needs other rights.",
  "done-name": "Frames done", "to-come-name": "To come", "missed-name": "Missed",
  "interval-name": "Interval", "exposure-name": "Exposure", "gap-name": "Gap",
  "scene-name": "Light now", "sun-name": "Sun",
  "card-name": "Card", "rig-disk-name": "Rig's disk", "battery-name": "Battery",
  "hold": "Hold…", "resume": "Resume", "change": "Change…", "stop": "Stop", "start": "Start…", "test": "Test frame…", "copy-again": "Try the copies again",
  "rooms": "Go to…", "rooms-title": "Go to", "room-back": "Rig",
};

// ---- rooms

export const ROOMS = {
  rig: "Rig", frames: "Frames", camera: "Camera", plans: "Plans", black: "Black screen", lamp: "Lamp", phone: "This phone",
};
export const ROOMS_SAY = {
  rig: "How it stands now", frames: "Pictures, missed slots, curves", camera: "Settings, focus, checks", plans: "Write, rehearse, start",
  black: "Dark, with a mark for each frame", lamp: "Light on the foreground", phone: "Colours, language, access",
};
export const PART_COMING = "Fetching this part of the page…";
export const ROOM_SLOW = "Still fetching this part of the page: the link is slow, or gone.";
export const ROOM_NOT_THERE = "This part of the page did not come through. See whether the link holds.";
export const SHEET_NOT_THERE = "This part of the page did not come through. See whether the link holds, and tap again.";
export const AGAIN = "Try again";
export const CLOSE = "Close";

export const LEAVE = "Leave it";
export const LESS = "less";
export const MORE = "more";
export const TURN_SIGN = "Turn the sign, + or −";

/** A text within a sentence. */
const within = (text) => text[0].toLowerCase() + text.slice(1);

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
export const ALL_WELL = "All is well.";
export const NO_NEED = "Nothing needs you.";
export const WAITS = "All is well; it waits for you.";
export const LAST_HEARD = "So it was when last heard.";
export const fast = (rate) => `clock ${number(rate)} × faster`;
export const attends = (count) => (count === 1 ? "One thing needs you." : `${count} things need you.`);
export const because = (cause) => `Why: ${cause}`;
/** Where the sentences of the rig itself stand in this language, from js/ on: English is what it says by itself. */
export const sentences = () => [];
export const endedAt = (utc, now) => `Ended ${clock(utc, now)}`;

// ---- the link

export const LOOKING = "Looking for the rig…";
export const NOT_PAIRED = "Not paired";
export const NO_ANSWER = "The rig did not answer. Try again.";
export const LIVE = "Live";
export const CONNECTING = "Connecting…";
export const noLink = (seconds) => `No link for ${span(seconds)}. What you see is that old. Trying again…`;

export const phonesTime = (utc) => `This phone says ${clock(utc, 0)}. Is that right?`;

// ---- what comes

export const NEXT_IN = "Next release in";
export const NEXT = "Next release";
export const NO_CAMERA = "Camera not there";
export const STARTS = "Starts in";
export const NOW = "now";
export const overdue = (seconds) => `due ${span(seconds)} ago`;
export const UNKNOWN = "not known";
export const NONE = "—";
export const OPEN = "open";
export const startsAt = (utc, now) => `at ${clock(utc, now)}`;
export const left = (utc, now) => `${span(utc - now)} left, ends ${clock(utc, now)}`;
export const past = (utc, now) => `Its end, ${clock(utc, now)}, has passed`;
/** Said where the times shown are not those of this phone's own zone. */
export const zoneOfTimes = (zone) => (zone === null ? "" : `times of ${zone.replaceAll("_", " ")}`);
export const nextIn = (s) => `Next in ${span(s)}.`;
export const untilFrames = (frames) => `Runs until it has ${frames} frames`;
export const UNTIL_COUNTED = "Runs until it has its frames";
export const NO_END = "Runs until you stop it";
export const NOT_UNTIL_RESUMED = "No release until you resume.";
export const GOES_ON_IN = "Goes on in";
export const goesOn = (utc, now) => `Goes on by itself at ${clock(utc, now)}.`;

// ---- figures

export const heater = ({ on, trouble }) => `Dew heater: ${trouble ? trouble : on ? "on" : "off"}`;
export const place = ({ name, waiting, trouble }) => `Copies to ${name}: ${trouble ? trouble : waiting ? `${count(waiting)} waiting` : "all made"}`;

export const wholeClip = (s) => `Clip ${runs(s)}`;
export const WHILE_HELD = "What is to come gets less while held.";
export const clip = (soFar, inTheEnd) =>
  inTheEnd == null ? `Clip ${runs(soFar)} so far` : `Clip ${runs(soFar)} so far, ${runs(inTheEnd)} in the end`;
/** A label such as "1/8 s  f/2.8  ISO 400" on two lines. */
export const exposure = (label) => marked(label).replace(/ {2,}/, ", ").replace(/ {2,}/, "\n");
export const missed = (missedSlots, lost) => (lost ? `${count(missedSlots)}, ${count(lost)} lost` : count(missedSlots));
export const biased = (value) => `bias ${signed(value)} EV`;
/** Where interval and exposure are on their way to. */
export const heading = ({ utc, interval_s, exposure }, now) =>
  `Heading for ${[interval_s && `interval ${seconds(interval_s)}`, exposure && `exposure ${marked(exposure.label).replace(/ {2,}/g, ", ")}`].filter(Boolean).join(", ")}, by ${clock(Date.parse(utc) / 1000, now)}`;
export const HOURS_UNKNOWN = "hours not\nknown yet";
export const enough = (hours) => (hours < 48 ? `${number(hours, hours < 10 ? 1 : 0)} h left` : `${days(Math.floor(hours / 24))} left`);
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

export const DOING = { resume: "Resuming…", stop: "Stopping…" };
export const DONE = {
  hold: "Held.", resume: "Shooting goes on.", copies: "The copies are tried again.", stop: "Stopped.", stopping: "Stopping, once the frames on their way are in.", kept: "Not stopped.",
};
/** With what it comes to when it is stopped now: `frames_done`, `clip_s` and `clip_end_s` as in `now`. */
export const stopsIn = (s, { frames_done, clip_s, clip_end_s }) =>
  `Stops in ${s} s, with ${count(frames_done)} frames, clip ${runs(clip_s)}${clip_end_s == null ? "" : ` of ${runs(clip_end_s)}`}.`;
export const DO_NOT_STOP = "Do not stop";
export const STOP_NOT_SENT = "Stop was not sent: no link to the rig. The shoot goes on there.";
export const UNDERSTOOD = "OK";
/** What else can fail to be done, beside the orders of `NAMES`. */
export const SHEETS = { change: "The change", start: "The start", "plan-start": "The start" };
const named = (order) => (SHEETS[order] ?? NAMES[order]).replace("…", "");
export const failed = (order, why) => `${named(order)} was not done. ${why}`;
export const unanswered = (order) =>
  `${named(order)}: no answer from the rig. It may or may not have got it; the state above tells once the link is back.`;

// ---- changes while it runs

export const change = {
  title: "Change", act: "Change it", parts: { pace: "Pace", brightness: "Brightness", limits: "Limits", hold: "Hold" },
  to: (interval) => `New interval, seconds (now ${interval == null ? UNKNOWN : seconds(interval)})`,
  over: "Get there within, minutes",
  rule: (most) =>
    `In place of the plan's pace: it goes there, ${percent(most * 100)} a frame at most, and stays there until the end.`,
  noNumber: "Both need a number, and the interval more than 0.",
  paced: (to, minutes) => `Going to ${seconds(to)}${minutes ? ` within ${number(minutes)} min` : ""}, then stays there until the end.`,
  bias: (is) => `Bias, EV: above 0 is brighter (now ${signed(is, is % 1 ? 2 : 0)})`,
  noBias: "The bias needs a number.",
  biased: (ev) => `Bias ${signed(ev, ev % 1 ? 2 : 0)} EV from the next frames on.`,
  limits: {
    shutter_s: ["Shortest exposure", "Longest exposure"], iso: ["Lowest ISO", "Highest ISO"], aperture: ["Widest aperture", "Narrowest aperture"],
  },
  values: { shutter_s: shutter, iso: isoSpeed, aperture: fNumber },
  brightEnd: "For bright light",
  limited: "New limits from the next frames on.",
  ownPace: "Back to the plan's own pace", ownLight: "Back to the plan's own light: no bias, and its limits",
  backToPlan: "The plan's own again, from the next frames on.",
  hold: "Hold", holdFor: "Minutes of hold", byItself: "Then go on by itself", noTime: "It needs a number of minutes, more than 0.",
  untilResumed: "Held until you resume; the figures below are for so many minutes.",
  fixed: "This plan fixes the exposure. It has neither bias nor limits.",
  nothing: "Nothing is changed yet.",
  ended: (state) => `This shoot has ended meanwhile: ${within(STATES[state])}. Nothing is left to change.`,
  byOthers: "This shoot has just been changed. What is below goes by that.",
};

export const effect = {
  title: "What it comes to", stands: "As it stands", then: "Then", unknown: UNKNOWN, coming: "…",
  looking: "Working out what it comes to…", slow: "Still working out what it comes to: a small rig takes its time…", enough: "Do not wait for it",
  notTold: "What it comes to is not known: the rig did not tell. It can still be done.",
  rows: { frames: "Frames", clip: "Clip", end: "Ends", interval: "Last interval" },
  frames: (n) => (n == null ? OPEN : count(n)),
  clip: (s) => (s == null ? OPEN : runs(s)),
  end: (utc, now) => (utc == null ? OPEN : clock(utc, now)),
  interval: (s) => (s == null ? OPEN : seconds(s)),
  /** What the exposure comes up against, by the rig's names. */
  limits: {
    "longest shutter": "At the longest exposure", "widest aperture": "At the widest aperture", "highest iso": "At the highest ISO",
    gap: "Interval full with exposure",
    "shortest shutter": "At the shortest exposure", "narrowest aperture": "At the narrowest aperture", "lowest iso": "At the lowest ISO",
  },
  met: (from, now, darker) => `${from <= now + 60 ? "now" : `from ${clock(from, now)}`}${darker ? `, up to ${number(Math.abs(darker), 1)} EV too ${darker > 0 ? "dark" : "bright"}` : ""}`,
  notMet: "never",
  /** The difference in one sentence; `later` in seconds. */
  differs(stands, then, later) {
    if (stands.frames == null || then.frames == null) return "Runs until it is stopped; so the sum is open.";
    const frames = then.frames - stands.frames, clip = then.clip_s - stands.clip_s;
    const end = Math.abs(later) < 60 ? "same end" : `ends ${span(Math.abs(later))} ${later > 0 ? "later" : "earlier"}`;
    return frames === 0 ? `Same number of frames, ${end}.`
      : `${count(Math.abs(frames))} frames ${frames > 0 ? "more" : "fewer"}, clip ${runs(Math.abs(clip))} ${frames > 0 ? "longer" : "shorter"}, ${end}.`;
  },
};

export const held = {
  goes: ({ frames, clip_s }, end, byItself) => (frames == null ? "It then runs until it is stopped."
    : `${byItself ? "Going on then" : "Resumed now"}: ${count(frames)} frames in the end, clip ${runs(clip_s)}, ends ${end}.`),
  costs: (frames, clip) => (frames > 0 ? `Ten more minutes of hold cost ${count(frames)} frames, ${runs(clip)} of clip.` : ""),
};

// ---- starting

export const start = {
  title: "Which plan?",
  none: "No plan is kept on this rig yet. Write one under Plans.",
  begin: "Begin", begins: { planned: "As planned", now: "Now", at: "At a time" }, at: "Time of day at the plan's place, such as 18:20",
  looking: "Working out what it comes to…",
  notTold: "What it comes to is not known: the rig did not tell. It can still be started.",
  from: (at, wait) => (wait <= 1 ? "Begins now" : `Begins ${at}, in ${span(wait)}`),
  until: (at) => (at === null ? "runs until it is stopped" : `ends ${at}`),
  comes: (frames, clip) => (frames == null ? "" : `${count(frames)} frames, clip ${runs(clip)}`),
  windows: (n) => (n > 1 ? `${n} times; this is the first` : ""),
  more: (n, told) => (n > 0 ? `${n === 1 ? "One warning" : `${count(n)} warnings`}${told ? " more" : ""} under Plans` : ""),
  act: (at, wait) => (at === null ? "Start it" : wait <= 1 ? "Start now" : `Start at ${at}`),
  ready: "Is the rig ready?", checking: "Looking…",
  isReady: (warnings) => (warnings ? `Ready, with ${warnings === 1 ? "one thing" : `${warnings} things`} to know:` : "Ready."),
  notReady: (faults) => `Not ready, ${faults === 1 ? "one fault" : `${faults} faults`}:`,
  notChecked: "Not known: the rig did not tell.",
  noTime: "Give a time, such as 18:20.",
  runs: (name) => `“${name}” has begun meanwhile.`,
  taken: (name, until) => `“${name}” has the camera ${until === null ? "until it is stopped" : `until ${until}`}. Stop it first, or choose another time.`,
  done: (name, at, wait) => (wait > 1 ? `${name} begins ${at}.` : `${name} begins.`),
};

// ---- the camera

export const camera = {
  which: "Which camera?", there: "there", away: "not there",
  body: "Body", battery: "Battery", card: "Card",
  card_: (bytes, frames) => [bytes == null ? null : size(bytes), frames == null ? null : `${count(frames)} frames`].filter(Boolean).join("\n") || UNKNOWN,
  battery_: (left, hours) => (left == null ? UNKNOWN : percent(left) + (hours == null ? "" : `\n${enough(hours)}`)),
  none: "The rig has no camera yet. Connect one, switch it on, and wait some seconds.",
  noAnswer: "The rig did not answer. Try again.",
  runs: "The shoot has this camera, and its frames come first. To look through it, hold the shoot; resume it afterwards.",
  held: "The shoot is held: you can look through the camera. Do not forget to resume.",
  parts: { look: "Look and focus", frame: "Test frame", checks: "Is it ready?", settings: "Settings", timing: "How fast it is", heater: "Dew heater" },
  partsSay: {
    look: "Live view, magnified part, sharpness", frame: "One frame outside any shoot", checks: "What is wrong, and what to do",
    settings: "What the body offers", timing: "Safe interval, as learned",
  },
  again: "Look again",

  // live view
  look: "Look through", end: "Stop looking", beginning: "Waiting for the first picture…",
  sun: "Never look at the sun through a viewfinder: it blinds. Do not point a long lens at the sun: it burns the sensor, live view too.",
  warm: "Looking keeps the body warm and takes from its battery.",
  picture: (zoom) => (zoom === 1 ? "The whole picture. Tap where you want to look closer." : `A part, ${zoom} times as large.`),
  whole: (age) => `Whole picture, ${span(age)} old. Tap or drag to choose the part.`,
  part: "The part that is magnified: tap, drag, or use the arrow keys",
  nearer: "Magnify more", wider: "Magnify less", times: (zoom) => `${zoom} ×`,
  speed: "How much to send", speeds: { figures: "Figures alone", calm: "Calm", quick: "Quick" },
  speedSays: { figures: "No pictures, for the weakest link.", calm: "A small picture every 2 s.", quick: "Up to 4 whole pictures a second." },
  status: (ran, perS, left) => `Looking for ${span(ran)}, ${number(perS / 1e3, perS < 1e4 ? 1 : 0)} kB/s. Ends in ${span(left)} unless you touch the page.`,
  ended: {
    idle: "Looking ended: nobody touched the page for 3 minutes.",
    away: "Looking ended when this page was out of sight.",
    shoot: "Looking ended: the shoot goes on and has the camera.",
    link: "Looking ended: no link to the rig. Try again.",
    camera: "Looking ended: the camera sends no more pictures. Try again.",
  },
  sharpness: "Sharpness",
  trend: {
    none: "Waiting for figures…", best: "The best so far", sharper: "Getting sharper", softer: "Getting less sharp", below: "Less sharp than the best",
  },
  ofBest: (share) => `${percent(100 * share)} of the best`,
  best: "best", ago: "60 s ago", now: "now",
  trendSays: "Turn the focus ring slowly past the best, then back to it. Choose a bright star and magnify it.",
  anew: "Begin anew",
  light: "Light, in stops below white", stop: (n) => (n === 0 ? "0" : number(-n)),
  lightSays: (most, clipped, black) =>
    `Most of it ${most === 0 ? "within a stop of white" : `${most === 1 ? "one stop" : `${most} stops`} below white`}. White ${percent(100 * clipped)}, black ${percent(100 * black)}.`,

  // test frame
  test: {
    says: "It stays on the card and belongs to no shoot. The body keeps the exposure that you choose; a shoot sets its own when it goes on.",
    shutter: "Exposure time", iso: "ISO", asSet: "as set", asNext: "as the shoot", act: "Take a test frame", taking: "Taking it…",
    busy: "A shoot has this camera. Hold it first, or wait for its end.", away: "The camera is not there. Switch it on and look at its cable.",
    unanswered: "No answer from the rig. The frame may have been taken all the same: look at the card before you take another.",
    exposure: "Exposure", of: (s, aperture, iso) => [shutter(s), aperture == null ? null : fNumber(aperture), `ISO ${isoSpeed(iso)}`].filter(Boolean).join(", "),
    scene: "Light of the scene", notTold: "not to be told: too white or too black",
    ev: (value) => ev(value), ends: "White / black", end: (clipped, black) => `${percent(100 * clipped)} / ${percent(100 * black)}`, files: "On the card",
    show: "Show its picture", hide: "Hide its picture", alt: "The last test frame", lost: "The picture did not come through.",
  },

  // checks
  check: {
    plan: "Checked for", noPlan: "no plan", running: (name) => `${name}, which runs`, looking: "Asking rig and cameras…",
    levels: { fail: "Mend first", warn: "Look at it", pass: "Well" },
    well: (n) => (n === 1 ? "1 is well" : `${n} are well`), rig: "rig",
    fix: (setting, value) => (value === "now" ? "Set the body's clock to the rig's time" : `Set ${setting} to “${value}”`),
    fixAll: (n) => `Set all ${n} of these`,
    fixed: "Set, and looked at again.", notFixed: (setting, why) => `${setting} was not set: ${why}`,
    whileRuns: "While a shoot runs nothing is set from here. Hold it first.",
  },

  // settings
  names: {
    shutter: "Exposure time", aperture: "Aperture", iso: "ISO", iso_auto: "Automatic ISO", format: "File format", target: "Where frames go",
    focus: "Focus", exposure_mode: "Exposure mode", white_balance: "White balance", drive: "Drive mode",
    noise_reduction: "Long-exposure noise reduction", power_off: "Power-off timer", style: "Picture style", clock: "Body's clock",
    battery: "Battery", shots_left: "Frames left",
  },
  asking: "Asking the camera…", shootSets: "set by the shoot", onBody: "only on the body itself", empty: "not shown by the body",
  unnamed: (code) => `not known by name (the body says ${code}): see the camera's own screen`,
  setting: (name) => `Setting ${name}…`, isSet: (name, value) => `${name}: ${value}, as the body reads back.`,
  clockSet: "Set to the rig's time", texts: "The values are the body's own words.",

  // timing
  timing: {
    none: "Nothing is known of this body yet. A shoot of ten frames tells, or the steady beat below.",
    gap: "Safe gap", interval: "Safe interval", gap_: (s) => `at least ${seconds(s)}`, from: (basis) => `From: ${basis}.`,
    both: (s, gap) => `at least ${s > 0 ? `${seconds(s)}, and the ` : ""}exposure + ${seconds(gap)}`,
    files: (kinds) => `With ${kinds}`, measure: "Takes, s", half: "half of them", most: "99 of 100", count: "frames",
    names: { late: "Late by", call: "Release", set: "Setting", readout: "Reading out", write: "Writing", preview: "Small picture", fetch: "Fetching, s/MB" },
    beat: "Steady beat", beatHeld: (s, frames) => (s == null ? `No interval was held in ${count(frames)} frames.` : `Held every ${seconds(s)}, found with ${count(frames)} frames.`),
    beatFailed: (s, why) => `Not held every ${seconds(s)}${why ? `: ${why}` : ""}.`,
    beatSays: "Finds the shortest interval that the body holds. It takes up to 96 test frames, which stay on the card and wear the shutter, and some minutes. It ends if you leave this part or put the phone away.",
    act: "Find the steady beat", sure: "Take up to 96 frames now", doing: (s) => `Running for ${span(s)}…`, stop: "End it",
    ended: "Ended before it found anything. The frames so far are on the card.", busy: "A shoot has this camera, held or not: no steady beat now.",
  },

  // dew heater
  heater: { on: "on", off: "off", unknown: "not known", state: "Heater", air: "Air", humidity: "Humidity", dew: "Dew point", celsius: (c) => `${number(c, 1)} °C` },
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
  clock: "The rig's clock", clockSays: (time, zone) => `${time}${zone ? `, ${zone.replaceAll("_", " ")}` : ""}`,
  clockOf: "Times of the page are those of the place that is shot from, told from 0:00 to 24:00.",
  theme: "Colours", byLight: "By the light", night: "Night", day: "Day",
  themeSays: "By the light: red on black once the sun is 6° below the horizon at the rig's place, else dark on light.",
  language: "Language", byPhone: "As the phone",
  languageSays: "The rig itself speaks English; a page in another language shows what it says in that one, as far as it knows the sentence.",
  access: "Access", noAnswer: "The rig did not answer.", unnamed: "unnamed",
  here: "This is the rig itself, or a machine that it trusts.",
  paired: (name, rights) => `Paired${name ? ` as “${name}”` : ""}, ${rights === "all" ? "may change everything" : "may look only"}.`,
  invite: { all: "Let a phone in", view: "Let a phone only look" },
  code: (code, rights) => `Code for the other phone: ${code}. It lets one device ${rights === "all" ? "change everything" : "look only"}, once.`,
  since: (day, rights, mine) => `${mine ? "this phone, " : ""}since ${day}, ${rights === "all" ? "may change" : "may look"}`,
  revoke: "Remove access", sure: "Sure?",
  home: "On the home screen",
  homeSays: "In the browser's menu: “Add to home screen”. It then opens with one tap, and still needs the rig's Wi-Fi.",
  dark: "In the dark",
  darkSays: "Turn the phone's own brightness down first: it matters more than any colour. Know the ground around the tripod before it is dark, stay off roads and away from edges while you look at a screen.",
};

// ---- frames

export const frames = {
  whichShoot: "Which shoot", whichCamera: "Which camera", viewsName: "Shown as",
  views: { look: "Look", list: "List", curves: "Curves" }, clips: "Clips", report: "Report",
  reportWorks: "The report is being worked out…", reportLong: "A long shoot takes a small rig some minutes.",
  reportLost: "No link. The report is asked for again once it is back.", toFrames: "‹ Frames", print: "Print…", keepReport: "Keep as a file",
  aShoot: (name, when, state) => `${when}, ${within(state)}: ${name}`,
  looking: "Looking into its log…", noShoots: "Nothing was shot on this rig yet.", noFrames: "No slot of it has come yet.",

  show: "Show pictures", hide: "Hide pictures",
  back: "One slot back", on: "One slot on", play: "Play", pause: "Pause",
  slider: "Slot of the shoot", speedName: "Plays", about: "What is known of it",
  speed: (n) => `${n} a second`, clipSpeed: (n) => `${n} as clip`, allIn: (s) => `all in ${s} s`,
  slot: (seq, of, when) => `Slot ${count(seq)} of ${count(of)}` + (when && ", " + when),
  frame: (seq, of, when) => `Frame ${count(seq)} of ${count(of)}, ${when}`,
  missedSlot: (seq, of, when, state) => `× Slot ${count(seq)} of ${count(of)}, ${when}: ${state}`,
  missedRun: (from, to, when) => `× Slots ${count(from)} to ${count(to)}, from ${when}: no frames`,
  noRow: "The log has no row of this slot.",
  noPicture: "No small picture of this frame is on the rig.",
  coming: "Its picture is on its way…", notThrough: "Its picture did not come through.",
  thinned: (by) => `Shows 1 slot in ${count(by)}, to keep up. Of slots without a frame the newest 200 are all shown.`,

  states: {
    due: "About to be released",
    released: "Released; the camera has not said yet that it has it",
    written: "On the camera's card", fetched: "On the card, and checked on the rig",
    lost: "Lost: released, but not on the card", missed: "Missed: nothing was released",
  },
  shortStates: { released: "just released", written: "on the card", fetched: "on card and rig", missed: "Missed", lost: "Lost" },
  exposure: (s, n, iso) => [shutter(s), n && fNumber(n), iso && `ISO ${isoSpeed(iso)}`].filter(Boolean).join(", "),
  ms: (value) => `${number(value, 0)} ms`,
  off: (value, written) => ` (the settings are ${written} EV too ${value < 0 ? "dark" : "bright"})`,
  underOne: "under 1 %",
  where: (altitude, azimuth) =>
    `${degrees(Math.abs(altitude), 1)} ${altitude < 0 ? "below" : "above"} the horizon` + (azimuth == null ? "" : `, azimuth ${degrees(azimuth)}`),
  kilobytes: (n) => `${n} kB`,
  facts: {
    state: "State", cause: "Why", due: "Due", released: "Released", late: "Late by", skew: "After the first camera",
    interval: "Interval to the next", gap: "Gap", exposure: "Exposure", exposureEv: "Exposure, EV at ISO 100",
    sceneEv: "Scene as metered, EV at ISO 100", targetEv: "Wanted, EV at ISO 100",
    clipped: "Burnt out, of the picture", black: "Without any light, of the picture",
    sun: "Sun", moon: "Moon", camera: "Camera", onCard: "File on the card", cardFreed: "Deleted from the card",
    onRig: "File on the rig", size: "Size", rigFreed: "Deleted from the rig", copies: "Copies at", sha256: "SHA-256", id: "Number on this rig",
  },

  list: "From the newest back", which: "Which frames",
  kinds: { all: "All", missed: "Missed", doubtful: "Doubtful" },
  kindsSay: {
    all: "Every slot, with or without a frame.",
    missed: "Slots without a frame, missed or lost, each with its cause.",
    doubtful: "Frames that may not be what was wanted, each with what speaks against it.",
  },
  late: (s) => `released ${s} s late`, half: "of the pair only one file has come to the rig",
  nothing: { all: "No slot yet.", missed: "None was missed.", doubtful: "None is doubtful." },
  theFrame: (seq) => `Frame ${count(seq)}`, theSlot: (seq) => `Slot ${count(seq)}`,
  older: "Older ones",
  csv: "Keep the log as a table", csvSays: "A CSV file with every column, for a spreadsheet. A long shoot takes a while.",
  csvNot: "The log did not come through. See whether the link holds, and tap again.",

  curves: "Over the sun's height", curvesEarly: "Curves begin with the second frame.",
  sceneKey: "scene", exposureKey: "exposure", missedKey: "× no frame",
  evAxis: "EV at ISO 100", intervalAxis: "Interval, s", sunAxis: "sun's altitude", sunSinks: "sun going down", sunRises: "sun coming up",
  curvesSay: (first, last) =>
    `${span((Date.parse(last.due_utc) - Date.parse(first.due_utc)) / 1000)} of shooting: sun from ` +
    `${degrees(first.sun_altitude_deg, 1)} to ${degrees(last.sun_altitude_deg, 1)}, scene from ` +
    `${first.scene_ev == null ? UNKNOWN : ev(first.scene_ev)} to ${last.scene_ev == null ? UNKNOWN : ev(last.scene_ev)}, ` +
    `interval from ${seconds(first.interval_s)} to ${seconds(last.interval_s)}.`,
};

// ---- clips

export const clips = {
  title: "Clips", looking: "Looking for its clips…", none: "No clip of this shoot yet.",
  ofDay: (day) => (day == null ? "The window" : day), soFar: (day) => (day == null ? "The window so far, small" : `${day} so far, small`),
  asked: (made) => (made ? `Asked for, made ${made}` : "Asked for"),
  states: { shooting: "Its window is under way", waiting: "Waits", making: "Being made", ready: "Ready", failed: "Not made" },
  framesIn: (n) => (n === 1 ? "1 frame" : `${count(n)} frames`), without: (n) => `${count(n)} ${n === 1 ? "slot" : "slots"} without one`,
  watch: "Watch", shut: "Close", keep: "Keep as a file", more: "What is known of it",
  codecs: { h264: "H.264", hevc: "HEVC" }, bits: (n) => `${n} bits`, rate: (n) => `${number(n)} frames/s`, unsteadied: "not steadied",
  place: "Place in the clip", at: (now, of) => `${now} of ${of}`, whole: "Whole screen",
  noWatch: "This browser cannot show it, or it did not come through. Keep it as a file, and watch it on a computer.",
  form: "Make a clip", make: "Make it", asking: "The rig looks whether it can be made…", taken: "It stands in the list, and is made in its turn.",
  whichFrames: "Which frames",
  which: { all: "Every frame", "sun-azimuth": "One a day, by the sun's direction", "sun-altitude": "One a day, by the sun's height", "hour-best": "The best of each hour" },
  azimuth: "Direction of the sun, degrees from north through east", altitude: "Height of the sun, degrees above the horizon",
  noAngle: (text) => `“${text}” is no number of degrees. Give one such as 180.`,
  side: "While it", sides: { morning: "rises", evening: "sinks" },
  skip: "Leave out", skips: { fog: "Fog", drops: "Drops on the lens", night: "Night" },
  days: "Some days alone", first: "First day", last: "Last day",
  how: "How", hows: { steady: "Steady the brightness", even: "Let time run evenly, frames blended" },
  sizeName: "Pixels at most", size: (w, h) => `${w} × ${h}`,
  burn: "Write into the picture", burns: { time: "Date and time", sun: "The sun's height" },
};

// ---- plans

export const plans = {
  again: (last) => `${last} …`, working: "Working it out…", noAnswer: "The rig did not answer. Try again.",
  none: "No plan is kept on this rig yet.", listSays: "Tap one to look at it, change it or start it.",
  new: "New plan", all: "‹ All plans", unsaved: "changes not saved", neverSaved: "Not saved yet, kept on this phone",
  noSuch: (name) => `No plan named ${name} is kept on the rig.`,
  save: "Save", start: "Start…", throwAway: "Throw the changes away", thrown: (name) => `Changes to ${name} thrown away.`, undo: "Bring back", undone: "Changes are back.",
  saved: "Saved on the rig.", notSaved: "Not saved. What you typed stays in this tab, over a broken link and a page loaded anew.",
  notKept: "Not saved, and this browser keeps nothing: save before you leave.",
  unkept: "Not saved on the rig yet.",
  restored: "Not saved. This is what you typed before.",
  restoredOffline: "No link. This is what you typed before; it is not saved on the rig.",
  notDone: (why) => `Not saved. ${why}`,
  unanswered: "No answer from the rig. It may or may not be saved; what you typed is still here. Tap Save again.",
  refused: {
    place: () => "Give the place first.",
    gap: (interval, gap, least) => `An interval of ${interval} s is too short for the exposure and the gap of ${gap} s. Make it ${least} s or more, or the exposure or the gap shorter.`,
    far: () => "That is more than a day from the sun event. Use a time nearer to it.",
    crossed: () => "The end is before the start. Swap them, or move one.",
    empty: () => "Fill this in.",
  },
  clash: "The plan on the rig was changed elsewhere since you opened it, so nothing was saved. Take that one, and lose what you typed here; or put yours in its place. The other stays among the older versions.",
  takeTheirs: "Take the rig's", keepMine: "Save mine over it",
  also: (list) => `Also in this plan, and kept as it is: ${list}`,
  more: "Copy, rename, older versions, delete",
  acts: { copy: "Copy…", rename: "Rename…", versions: "Older versions…", delete: "Delete…" },

  name: "Name", nameSays: "Letters, digits, . _ and -, 64 at most; a letter or digit first.", badName: "Use letters, digits, . _ and - only, 64 at most, and begin with a letter or digit.", taken: "A plan of this name is there already. Give another name.",
  newTitle: "New plan", begin: "Begin", copyTitle: (name) => `Copy ${name}`, copied: "This is the copy. It is not saved yet.",
  renameTitle: (name) => `Rename ${name}`, renamed: (name) => `Now named ${name}.`,
  deleteTitle: (name) => `Delete ${name}?`, deleteSays: "Its older versions go too, for good. Shoots made from it stay, and so do their frames.", deleted: (name) => `${name} is deleted.`,
  versionsTitle: "Older versions", versionsSays: "Tap one to look at it in the form. Nothing changes on the rig until you save.",
  versionNow: (when) => `${when} (as it is now)`, noOlder: "There is no older one.", older: "The older version is in the form. Save to have it again.",

  site: "Place", where: ({ latitude, longitude, timezone }) => (latitude === undefined || longitude === undefined ? "Not told yet" : [degrees(latitude, 4), degrees(longitude, 4), timezone?.replaceAll("_", " ")].filter(Boolean).join(", ")),
  paste: "Paste coordinates, a geo: link or a map's text", placed: ({ latitude, longitude }) => `Read as latitude ${degrees(latitude, 5)}, longitude ${degrees(longitude, 5)}.`,
  noPlace: "No place found in it. Write it like 57.7, 11.95 or 57°42'N 11°57'E.",
  latitude: "Latitude, north +", longitude: "Longitude, east +", zone: "Time zone", ownZone: (zone) => `Take this phone's: ${zone.replaceAll("_", " ")}`,

  when: "When", stop: "End", event: "Sun event", minutes: "Minutes after it (− before)", shift: (step) => `${Math.abs(step)} minutes ${step < 0 ? "earlier" : "later"}`,
  kinds: { sun: "By the sun", now: "Now, when it is started", time: "At a clock time", text: "As written", duration: "After a length of time", frames: "After a number of frames", never: "When it is stopped by hand" },
  begins: "Start",
  events: {
    astronomical_dawn: "Astronomical dawn", nautical_dawn: "Nautical dawn", civil_dawn: "Civil dawn", sunrise: "Sunrise", noon: "Noon", sunset: "Sunset",
    civil_dusk: "Civil dusk", nautical_dusk: "Nautical dusk", astronomical_dusk: "Astronomical dusk",
  },
  now: "now", moment: (event, minutes) => `${minutes ? `${span(Math.abs(minutes) * 60)} ${minutes < 0 ? "before" : "after"} ` : ""}${event.toLowerCase()}`,
  notThatDay: "(not on this day)", thatDay: (time, today) => `That is ${time}${today ? " today" : ""}.`,
  clockTime: "Clock time at the place", asWritten: "Time as the plan has it", duration: "Length, such as 3h or 1h30min", frameCount: "Frames",
  windows: (n) => `This plan has ${n} windows a day. They are kept as they are; this form changes plans with one window.`,
  whichDays: "On which days", repeat: "How often", once: "Once", repeats: "On many days", onDays: "On these days",
  days: { mon: "Mon", tue: "Tue", wed: "Wed", thu: "Thu", fri: "Fri", sat: "Sat", sun: "Sun" },
  dates: { date: "Day (empty: the next time it comes round)", from: "First day (empty: from now on)", until: "Last day (empty: for 400 days)", skip: "Days left out" },

  paceTitle: "Pace", pace: "What gives the interval", paces: { steady: "Steady", timed: "From one to another in time", sun: "By the sun's altitude", light: "By the light", pulse: "By another machine's pulses" },
  paceFields: { interval_s: "Interval, seconds", from_s: "First interval, s", to_s: "Last interval, s", over: "Over, such as 40min", min_interval_s: "Shortest interval, seconds" },
  wholeWindow: "the whole window",
  pointsOf: { sun: "Interval over the sun's altitude", light: "Interval over the light, EV" }, curve: "Points of the curve",
  point: (n) => `Point ${n}`, at: { sun: (value) => `sun at ${value}`, light: (value) => `light ${value}` },
  points: "The points as numbers", axis: { sun: "Sun, degrees", light: "Light, EV", s: "Seconds" },
  pointField: { sun: [(n) => `Point ${n}: sun's altitude, degrees`, (n) => `Point ${n}: interval, seconds`], light: [(n) => `Point ${n}: light, EV`, (n) => `Point ${n}: interval, seconds`] },
  addPoint: "Add a point", dropPoint: (n) => `Take point ${n} away`,
  gapTitle: "Gap", minGap: "Shortest gap, seconds", stretch: "Interval may grow with the exposure to, seconds (stretch_to_s)", gapSays: "What is left between an exposure and the next release, for writing and for setting the next one.",

  lightTitle: "Light", light: "What gives the exposure", lights: { fixed: "Fixed", follow: "Follow the light" },
  stops: { shutter_s: "Exposure time", aperture: "Aperture", iso: "ISO" },
  limits: { shutter_s: ["Shortest time", "Longest time"], aperture: ["Widest", "Narrowest"], iso: ["Lowest ISO", "Highest ISO"] },
  order: "What gives way first as it gets dark", gives: { shutter: "time", aperture: "aperture", iso: "ISO" },
  biasTitle: "Brighter or darker", bias: "Bias, EV (+ is brighter)",
  filesTitle: "Files and clip", fetch: "What comes to the rig", fetches: { preview: "Small pictures", all: "Every file", every: "Every nth file, else small pictures", none: "Nothing" },
  everyNth: "Of how many frames one comes whole", fps: "Frames a second of the clip", daily: "Make the clip of each window once it is over", preview: "Make a small clip of the small pictures on the way",

  forecast: "What it comes to", starts: "Starts", ends: "Ends", openEnd: "until stopped", frames: "Frames", clip: "Clip", card: "On the card", rig: "On the rig", power: "Power",
  inWindows: (frames, windows) => `${count(frames)} in ${count(windows)} windows`, of: (needed, free, fits) => (fits ? `${needed}, ${free} free` : `▲ ${needed}, only ${free} free`),
  lasts: (time) => `lasts ${time}`, watts: (needed, usable) => `${number(needed, 0)} of ${number(usable, 0)} Wh`,
  framesIn: (n) => `${count(n)} frames`, clipOf: (s) => `clip ${runs(s)}`, warned: (n) => (n === 1 ? "1 warning" : `${n} warnings`),
  assumed: (basis) => `Size of a frame is ${basis}.`, noWarning: "No warning.", careful: "Take care",
  costs: { frames: "Frames would be lost", night: "The night would be spoiled", quality: "Quality", comfort: "Good to know" },
  notYet: (label) => (label ? `Not a plan yet: ▲ at “${label}”.` : "Not a plan yet: ▲ at the head of the form."), noForecast: "No answer from the rig; trying again…", forecastOld: "This was worked out before the last change.",

  rehearsal: "Rehearsal", rehearsalSays: "Runs the plan on the rig before a model of sky and camera. It takes some seconds, and changes nothing.",
  skies: { clear: "Clear sky", cloudy: "Clouds" }, rehearsing: (s) => `Rehearsing… ${s} s`, took: (s) => `It took ${span(s)}.`, rehearsalOld: "This was rehearsed before the last change.",
  rehearsed: (frames, clip) => `${frames} frames, clip ${clip}.`, missedSlots: (n, cause) => `${count(n)} missed: ${cause}.`,
  key: (missed) => `Solid: interval. Dashed: exposure time. Between them: the gap.${missed ? " Crosses: missed." : ""} Below: time, and the sun's altitude.`,
  chartSays: ({ interval_s, shutter_s, frames }) => [`${count(frames)} frames`, interval_s && `interval from ${seconds(interval_s[0])} to ${seconds(interval_s[1])}`, shutter_s && `exposure time from ${shutter(shutter_s[0])} to ${shutter(shutter_s[1])}`].filter(Boolean).join(", "),

  startTitle: (name) => `Start ${name}?`,
  startsUnsaved: "It is shot as it stands in the form. The plan kept on the rig stays without these changes.",
};
