// When a plan is shot, in words: what its document has as `sunset-45min` and the like.

import { plans as say } from "../words.js";
import { ask } from "../link.js";
import { clock, span } from "../figures.js";
import { seconds } from "../rig.js";

export const EVENTS = ["astronomical_dawn", "nautical_dawn", "civil_dawn", "sunrise", "noon", "sunset", "civil_dusk", "nautical_dusk", "astronomical_dusk"];
const UNITS_S = { d: 86400, h: 3600, min: 60, m: 60, s: 1 };

/** Seconds of a length such as `1h30min`, or null. */
export function lengthOf(text) {
  const parts = [...(text ?? "").matchAll(/([\d.]+)\s*(d|h|min|m|s)/g)];
  if (!parts.length || parts.map(([part]) => part).join("").replace(/\s/g, "") !== text.replace(/\s/g, "")) return null;
  return parts.reduce((sum, [, value, unit]) => sum + Number(value) * UNITS_S[unit], 0);
}
/** The other way. */
export const written = (s) => (s % 3600 === 0 ? `${s / 3600}h` : s % 60 === 0 ? `${s / 60}min` : `${Math.round(s)}s`);

/** A plan's word taken apart: `{kind: now | sun | time | text, event, minutes}`. */
export function word(given) {
  if (given === undefined || given === "now") return { kind: "now" };
  const sun = /^\s*([a-z_]+)\s*(?:([+-])\s*(\S.*))?$/.exec(given), offset = sun?.[3] ? lengthOf(sun[3]) : 0;
  if (sun && EVENTS.includes(sun[1]) && offset !== null) return { kind: "sun", event: sun[1], minutes: ((sun[2] === "-" ? -1 : 1) * offset) / 60 };
  return { kind: /^([01]\d|2[0-3]):[0-5]\d$/.test(given) ? "time" : "text" };
}
/** A `[when]` as one says it; `time(text)` gives the clock time of a sun event's word, or null. */
export const inWords = (when, time = () => null) => (when.windows ?? [when]).map(({ start, stop, duration, frames }) => {
  const s = duration == null ? null : lengthOf(duration);
  return `${said(start, time)} → ${stop != null ? said(stop, time) : duration != null ? (s === null ? duration : span(s)) : frames ? say.framesIn(frames) : say.openEnd}`;
}).join(", ");
function said(text, time) {
  const { kind, event, minutes } = word(text ?? undefined);
  if (kind !== "sun") return kind === "now" ? say.now : text;
  const at = time(text);
  return say.moment(say.events[event], minutes) + (at === null ? "" : ` (${at})`);
}

const MOST_WORDS = 50; // of one call, docs/rest.md
const skyAt = ({ site, when }) => new URLSearchParams({ latitude: site.latitude, longitude: site.longitude, timezone: site.timezone ?? "UTC", ...(when?.date && { date: when.date }) }).toString();
const sunWords = ({ when }) => (when?.windows ?? [when ?? {}]).flatMap(({ start, stop }) => [start, stop]).filter((text) => word(text ?? undefined).kind === "sun");

/** `todays(plans)(plan)` tells, for `inWords`, today's times at a plan's place: one question for each place. Unanswered, there are none. */
export async function todays(plans) {
  const asked = new Map();
  for (const plan of plans) {
    const words = plan.site ? sunWords(plan) : [];
    if (words.length) asked.set(skyAt(plan), [...asked.get(skyAt(plan)) ?? [], ...words]);
  }
  const told = new Map(await Promise.all([...asked].map(async ([sky, words]) => {
    const query = new URLSearchParams([...new Set(words)].slice(0, MOST_WORDS).map((one) => ["words", one]));
    return [sky, await ask("GET", `sky?${sky}&${query}`).catch(() => null)];
  })));
  return (plan) => (text) => {
    const sky = plan.site && told.get(skyAt(plan)), found = sky?.words.find((one) => one.word === text);
    return found?.utc ? clock(seconds(found.utc), undefined, sky.timezone) : null;
  };
}
