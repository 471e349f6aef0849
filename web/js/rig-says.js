// What the rig tells, in the page's language. The rig tells it in English: a sentence is written in one place, where it
// arises, and goes as a text through processes, log and documents, one within another. So it is known again by its words,
// in a language that has the rig's sentences. They are fetched once there is something to tell, with what knows them
// again (`late/sentences.js`). What is not known stays as the rig says it.

import { sentences } from "./words.js";
import { days, marked, number } from "./figures.js";
import { part } from "./part.js";
import { heard } from "./rig.js";

const PATIENCE_MS = 3000, AGAIN_MS = 6000;

let inWords = null, coming = null, began = null, tried = 0;

async function fetched(paths) {
  const [{ translator }, ...files] = await Promise.all(["late/sentences.js", ...paths].map((path) => part(path, { anew: tried > 0 })));
  inWords = translator(files, { days, marked, number });
  heard("words"); // what stands there in English is told anew
}

/** Fetch the sentences, where the language has some. Done once they are there, or so late that English has to do. */
export function ready() {
  const paths = sentences();
  if (inWords || !paths.length) return Promise.resolve();
  if (!coming || Date.now() - tried > AGAIN_MS) {
    coming = fetched(paths).catch((error) => console.warn(String(error)));
    tried = Date.now();
  }
  began ??= tried;
  return Promise.race([coming, new Promise((late) => { setTimeout(late, began + PATIENCE_MS - Date.now()); })]);
}

/** A text of the rig's in the page's language, as far as it is known there by now. */
export function rigSays(text) {
  if (!inWords) ready();
  return inWords?.(text) ?? text;
}
