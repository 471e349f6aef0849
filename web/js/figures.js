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

/** An exposure time as cameras write it: 1/60 s, 0.8 s, 15 s. */
export function shutter(s) {
  if (s < 0.3) return `1/${count(1 / s)} s`;
  return `${number(s, s < 10 && Math.round(s) !== s ? 1 : 0)} s`;
}

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
