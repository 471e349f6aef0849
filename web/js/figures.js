// How figures are written: numbers, lengths of time, clock times at the rig's place, sizes. None of it needs the words.

import { zone } from "./rig.js";

const spoken = document.documentElement.lang || "en";
/** The page's language as this phone writes it: English of Britain has other dates than that of America. */
const language = navigator.languages.find((one) => one.toLowerCase().split("-")[0] === spoken) ?? spoken;
const made = new Map();

function format(kind, key, options) {
  if (!made.has(key)) made.set(key, new kind(language, options));
  return made.get(key);
}

/** A number in the language's own writing, with a true minus sign. Without `digits`: two at most. */
export function number(value, digits) {
  const options = digits === undefined ? { maximumFractionDigits: 2 } : { minimumFractionDigits: digits, maximumFractionDigits: digits };
  return format(Intl.NumberFormat, `n${digits}`, { ...options, useGrouping: "min2" }).format(value === 0 ? 0 : value).replace("-", "−");
}
/** The number that was typed, with a comma or a point as its mark; NaN where it is none. */
export function typed(text) {
  const plain = text.trim().replace("−", "-").replace(",", ".");
  return /^[-+]?(\d+\.?\d*|\.\d+)$/.test(plain) ? Number(plain) : NaN;
}
/** A value as it stands in a field, with the language's own mark. */
export const entry = (value) => String(value ?? "").replace(".", number(0.5, 1).charAt(1));
/** A label of the rig, such as `1.3 s  f/2.8  ISO 100`, with the language's own mark in its numbers. */
export const marked = (label) => label.replace(/(\d)\.(?=\d)/g, `$1${number(0.5, 1).charAt(1)}`);
export const count = (value) => number(value, 0);
export const degrees = (value, digits = 0) => `${number(value, digits)}°`;
export const ev = (value, digits = 1) => `${number(value, digits)} EV`;
export const signed = (value, digits = 1) => `${value > 0 ? "+" : ""}${number(value, digits)}`;
export const seconds = (value) => `${number(value, value < 100 ? 1 : 0)} s`;
export const percent = (value) => `${number(value, 0)} %`;

/** Whole days, in the language's own word for them. */
export const days = (value) => format(Intl.NumberFormat, "days", { style: "unit", unit: "day", unitDisplay: "long" }).format(value);

/** A length of time as one would say it. */
export function span(s) {
  const whole = Math.max(0, Math.round(s));
  if (whole < 60) return `${whole} s`;
  const minutes = Math.floor(whole / 60);
  if (minutes < 10) return whole % 60 ? `${minutes} min ${whole % 60} s` : `${minutes} min`;
  if (minutes < 60) return `${minutes} min`;
  const hours = Math.floor(minutes / 60);
  if (hours < 48) return minutes % 60 ? `${hours} h ${minutes % 60} min` : `${hours} h`;
  return days(Math.round(hours / 24));
}
/** Seconds left until a release; with tenths while they can be read. */
export const countdown = (s, rate) => (s < 60 ? `${number(s, rate < 3 && s < 20 ? 1 : 0)} s` : span(s));
/** How long a clip runs. */
export const runs = (s) => (s < 60 ? `${number(s, 1)} s` : span(s));
export const size = (bytes) =>
  bytes >= 1e9 ? `${number(bytes / 1e9, bytes < 1e10 ? 1 : 0)} GB` : `${number(bytes / 1e6, 0)} MB`;

// What a dial says: cameras space times, f-numbers and speeds by thirds of a stop, and write 1/60 s for 1/64 s, 15 s for 16 s,
// f/3.5 for f/3.56, ISO 125 for 126. The rig's log has the true values; its own texts say the dial's (controller/words/stops.py).
const FASTER = "32000 25600 20000 16000 12800 10000 8000 6400 5000 4000 3200 2500 2000 1600 1250 1000 800 640 500 400 320 250 200 160 125 100 80 60 50 40 30 25 20 15 13 10 8 6 5 4";
const TIMES = [...FASTER.split(" ").map((n) => `1/${n}`), ..."0.3 0.4 0.5 0.6 0.8 1 1.3 1.6 2 2.5 3.2 4 5 6 8 10 13 15 20 25 30".split(" ")];
const STOPS = "1 1.1 1.2 1.4 1.6 1.8 2 2.2 2.5 2.8 3.2 3.5 4 4.5 5 5.6 6.3 7.1 8 9 10 11 13 14 16 18 20 22 25 29 32 36 40 45 51 57 64".split(" ");
const SPEEDS = "25 32 40 50 64 80 100 125 160 200 250 320 400 500 640 800 1000 1250 1600 2000 2500 3200 4000 5000 6400 8000 10000 12800 16000 20000 25600 32000 40000 51200 64000 80000 102400 128000 160000 204800 256000 320000 409600".split(" ");

/** The dial's text for a value that lies so many steps from that which it calls `from`; nothing where it is on no dial. */
function dialled(texts, steps, from) {
  const whole = Math.round(steps);
  return Math.abs(steps - whole) < 0.03 ? texts[whole + texts.indexOf(from)] : undefined;
}

/** An exposure time as cameras write it: 1/60 s, 0.8 s, 15 s. */
export function shutter(s) {
  const text = dialled(TIMES, 3 * Math.log2(s), "1");
  if (text) return `${text.startsWith("1/") ? text : number(Number(text))} s`;
  if (s < 0.3) return `1/${count(1 / s)} s`;
  return `${number(s, s < 10 && Math.round(s) !== s ? 1 : 0)} s`;
}
/** An f-number, f/5.6. */
export const fNumber = (n) => `f/${number(Number(dialled(STOPS, 6 * Math.log2(n), "1") ?? n.toPrecision(3)))}`;
/** A speed, 3200. */
export const isoSpeed = (value) => count(Number(dialled(SPEEDS, 3 * Math.log2(value / 100), "100") ?? value));

function parts(utc, options, timeZone = zone()) {
  return format(Intl.DateTimeFormat, JSON.stringify(options) + timeZone, { ...options, timeZone }).format(utc * 1000);
}
const DAY = { weekday: "short", day: "numeric", month: "short" };

const TIME = { hour: "2-digit", minute: "2-digit", hourCycle: "h23" }; // as the rig's own texts and plans write it

/** Clock time at the rig's place, or in a zone; with the day where it is another than that of `now`, the rig's time. */
export function clock(utc, now = utc, there = zone()) {
  const time = parts(utc, TIME, there);
  return parts(utc, DAY, there) === parts(now, DAY, there) ? time : `${parts(utc, DAY, there)} ${time}`;
}
/** The same to the second. */
export const clockSeconds = (utc, there = zone()) => parts(utc, { ...TIME, second: "2-digit" }, there);
export const day = (utc, there = zone()) => parts(utc, DAY, there);

/** A time of day that was typed, with a colon or without, as `18:20`; null where it is none. */
export function timeOfDay(text) {
  const [, hour, minute] = /^(\d{1,2})[:. ]?(\d\d)$/.exec(text.trim()) ?? [];
  return hour < 24 && minute < 60 ? `${hour.padStart(2, "0")}:${minute}` : null;
}

export const phonesZone = () => Intl.DateTimeFormat().resolvedOptions().timeZone;

/** The zone of the times that are shown, where it is not this phone's own; else nothing. */
export const otherZone = (there = zone()) => (there && there !== phonesZone() ? there : null);
