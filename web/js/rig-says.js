// What the rig tells, in the page's language. The rig tells it in English: a sentence is written in one place, where it
// arises, and goes as a text through processes, log and documents, one within another. So it is known again by its words:
// a language may have the rig's sentences, each beside the English one, with placeholders for what differs from time to
// time. They are fetched once there is something to tell. What is not known stays as the rig says it.
//
// {n} is a number, {length} a length of time, {size} bytes, {time} a time, {day} a day, {label} an exposure as cameras write
// it, {frames} and what else `COUNTED` has so many of them, {text} something else that the rig tells; any other word, such
// as {name}, stands for what stays as it is. Figures behind a word tell one from another: {n}, {n2}.

import { sentences } from "./words.js";
import { calendar, days, marked, number } from "./figures.js";
import { part } from "./part.js";
import { heard } from "./rig.js";

const PATIENCE_MS = 3000, AGAIN_MS = 6000, MOST = 500;
const PLACE = /\{([a-z]+)\d*\}/g;
const NUMBER = "\\d[\\d,]*(?:\\.\\d+)?", NAME = "(?:usb:|(?!\\. |: ).)+?"; // which does not go on into another sentence

let makers = null, coming = null, began = null, tried = 0;
const told = new Map();

/** Figures of the rig's, such as `12,300.5`, as the page writes them. */
const figure = (text) => (/^0\d/.test(text) ? text : number(Number(text.replaceAll(",", "")), text.split(".")[1]?.length ?? 0));
const figures = (text) => text.replace(/^-/, "−").replace(/(\d+) days?/, (_, n) => days(Number(n))).replace(new RegExp(`${NUMBER}(?= |$)`, "g"), figure);

/** What a placeholder stands for, and how the page shows it. */
const KINDS = {
  n: [`[-−+]?${NUMBER}`, figures],
  length: [`${NUMBER} (?:s|min|h|days?)(?: \\d+ (?:s|min|h))?`, figures],
  size: [`${NUMBER} [MGT]B`, figures],
  time: ["(?=[A-Z\\d])(?:[A-Z][a-z]{2} ?)?(?:\\d{1,2} [A-Z][a-z]{2}(?: \\d{4})? ?)?(?:\\d\\d:\\d\\d)?", calendar],
  day: ["\\d{4}-\\d\\d-\\d\\d", String],
  label: [NAME, marked],
  text: [".+", (text) => rigSays(text)],
};
const NAMED = [NAME, String];

/** So many of something, which has one word for one and another for more. */
const counting = (noun, [single, several]) => [`${NUMBER} ${noun.slice(0, -1)}s?`, (text) => {
  const [n] = text.split(" ");
  return `${figure(n)} ${n === "1" ? single : several}`;
}];

/** Gives of a text that is the English sentence the other one, of any other null. */
function maker(english, other, kinds) {
  const places = [...english.matchAll(PLACE)].map(([place, kind]) => [place, ...(kinds[kind] ?? NAMED)]);
  const plain = english.split(PLACE).filter((_, i) => i % 2 === 0).map((text) => text.replace(/[.*+?^${}()|[\]\\]/g, "\\$&"));
  const whole = new RegExp(`^${plain.map((text, i) => (i ? `(${places[i - 1][1]})${text}` : text)).join("")}$`);
  return (text) => {
    const found = whole.exec(text);
    if (!found) return null;
    const put = Object.fromEntries(places.map(([place, , shown], i) => [place, shown(found[i + 1])]));
    return other.replace(PLACE, (place) => put[place]);
  };
}

async function fetched(paths) {
  const modules = await Promise.all(paths.map((path) => part(path, { anew: tried > 0 })));
  const counted = Object.fromEntries(modules.flatMap(({ COUNTED = {} }) => Object.entries(COUNTED)).map(([noun, words]) => [noun, counting(noun, words)]));
  const size = ([english]) => english.replace(PLACE, "").length, kinds = { ...KINDS, ...counted };
  makers = modules.flatMap(({ SENTENCES }) => Object.entries(SENTENCES)).sort((one, two) => size(two) - size(one)) // the closest first
    .map(([english, other]) => maker(english, other, kinds));
  told.clear();
  heard("words"); // what stands there in English is told anew
}

/** Fetch the sentences, where the language has some. Done once they are there, or so late that English has to do. */
export function ready() {
  const paths = sentences();
  if (makers || !paths.length) return Promise.resolve();
  if (!coming || Date.now() - tried > AGAIN_MS) {
    coming = fetched(paths).catch((error) => console.warn(String(error)));
    tried = Date.now();
  }
  began ??= tried;
  return Promise.race([coming, new Promise((late) => { setTimeout(late, began + PATIENCE_MS - Date.now()); })]);
}

/** One sentence, with all that is told within it; one that is known in the middle of others too where it begins. */
function one(text) {
  for (const make of makers) {
    const made = make(text);
    if (made !== null) return made;
  }
  const small = text[0].toLowerCase() + text.slice(1), made = small === text ? null : one(small);
  return made && made[0].toUpperCase() + made.slice(1);
}

/** The first of several, with its stop, and then the others. */
function row(text) {
  const end = text.search(/[.!?](?= [^a-z]|$)/), rest = text.slice(end + 2);
  if (end < 0) return null;
  const first = one(text.slice(0, end + 1)) ?? `${rigSays(text.slice(0, end))}${text[end]}`;
  return rest ? `${first} ${rigSays(rest)}` : first;
}

/** What is told of something that is named before it: `camera-1: …`, and lists of such. */
function named(text) {
  if (text.includes("; ")) return text.split("; ").map(rigSays).join("; ");
  const cut = text.indexOf(": ");
  return cut < 1 ? null : `${one(text.slice(0, cut)) ?? text.slice(0, cut)}: ${rigSays(text.slice(cut + 2))}`;
}

/** A text of the rig's in the page's language, as far as it is known there by now. */
export function rigSays(text) {
  if (!makers) ready();
  if (!makers || !text) return text;
  if (told.size > MOST) told.clear();
  if (!told.has(text)) told.set(text, one(text) ?? row(text) ?? named(text) ?? text);
  return told.get(text);
}
