// What a person can tell the rig to do. Nothing is queued: each order is carried out, or the page says that it was not.

import * as say from "./words.js";
import { ask } from "./link.js";
import { $, set, show } from "./dom.js";
import { part } from "./part.js";
import { ready } from "./rig-says.js";
import { ENDED, away, document_, heard, live, mayChange, on, running, shoot, state } from "./rig.js";

const UNDO_S = 5, SAID_MS = 6000, COMING_MS = 700, SHEETS_MS = 15000;
/** Which order takes the place of another, and the keyboard with it. */
const NEXT = { hold: "resume", resume: "hold" };

let saidTimer = null, stopping = null, ending = null, told = null, lost = false, passing = false, waits = false;

/** Whether a stop runs that can still be taken back. */
export const stops = () => stopping !== null;

/** Say nothing any more. What says it is kept in the tree: only there does a screen reader hear of what comes into it. */
function hush() {
  set("said-text", "");
  $("said").classList.remove("trouble");
  $("said-button").hidden = true;
}

/**
 * Say one thing above the bar: for some seconds, or until it is taken note of where it is trouble, or has a button. What is
 * `unsure` goes once the link is back, for the state tells it then; what `stays` goes once whoever says it has done waiting.
 */
export function tell(text, { trouble = false, unsure = false, stays = false, button = null, act = null } = {}) {
  clearTimeout(saidTimer);
  passing = unsure;
  waits = stays;
  set("said-text", text);
  $("said").classList.toggle("trouble", trouble);
  $("said-button").hidden = !(button ?? trouble);
  set("said-button", button ?? say.UNDERSTOOD);
  $("said-button").onclick = act ?? hush;
  if (!trouble && !button && !stays) saidTimer = setTimeout(hush, SAID_MS);
}

/** Why an order was not done, or that nobody knows whether it was. */
export const whyNot = (order, refusal) => (refusal.answered ? say.failed(order, refusal.message) : say.unanswered(order));

async function order(name, path, keepalive) {
  const button = $(name);
  button.disabled = true;
  button.setAttribute("aria-busy", "true");
  if (say.DOING[name]) set(name, say.DOING[name]);
  try {
    return await ask("POST", path, undefined, { keepalive });
  } finally {
    button.disabled = false;
    button.removeAttribute("aria-busy");
    set(name, say.NAMES[name]);
  }
}

/** Where the keyboard goes when what it stood on is there no more: the first of `ids` that is, else the heading. */
export function lead(...ids) {
  const at = ids.map($).find((one) => !one.hidden && !one.disabled);
  (at ?? $("standing")).focus({ preventScroll: true });
}

async function simple(name, keepalive = false, id = shoot().id) {
  const stood = document.activeElement === $(name);
  try {
    const after = await order(name, `shoots/${encodeURIComponent(id)}/${name}`, keepalive);
    heard("shoot", after);
    if (name === "stop" && !ENDED.includes(after.state)) {
      ending = after.id;
      tell(say.DONE.stopping);
    } else {
      tell(say.DONE[name]);
    }
  } catch (refusal) {
    tell(whyNot(name, refusal), { trouble: true, unsure: !refusal.answered });
  }
  offer();
  if (stood && [document.body, $(name)].includes(document.activeElement)) lead(NEXT[name] ?? name, name);
}

/**
 * Stop, after a few seconds in which it can be taken back and nothing else be ordered. Whoever puts the phone away has
 * made up their mind. Without a link it is not sent, nor kept for later.
 */
function stop() {
  let left = UNDO_S;
  const id = shoot().id;
  const end = () => {
    const stood = document.activeElement === $("said-button");
    clearInterval(stopping.timer);
    document.removeEventListener("keydown", stopping.keys);
    document.removeEventListener("visibilitychange", stopping.away);
    window.removeEventListener("pagehide", go);
    stopping = null;
    offer();
    if (stood) lead("stop");
  };
  const go = () => { end(); simple("stop", true, id); };
  const keep = () => { end(); tell(say.DONE.kept); };
  const count = () => {
    if (!live() || !navigator.onLine) {
      end();
      tell(say.STOP_NOT_SENT, { trouble: true });
    } else if (left === 0) {
      go();
    } else {
      tell(say.stopsIn(left--, document_()), { button: say.DO_NOT_STOP, act: keep });
    }
  };
  stopping = {
    id, end,
    keys: (event) => { if (event.key === "Escape") keep(); },
    timer: setInterval(count, 1000),
    away: () => { if (document.visibilityState === "hidden") go(); },
  };
  document.addEventListener("visibilitychange", stopping.away);
  window.addEventListener("pagehide", go);
  document.addEventListener("keydown", stopping.keys);
  count();
  offer();
  if (stopping) $("said-button").focus({ preventScroll: true });
}

let sheetsLate = false, opening = 0;

/**
 * Open the sheet of that name, which is fetched where it was not yet; where that, or what the sheet asks for, takes a
 * while it is said. It does not come up before whoever has tapped something else meanwhile.
 */
export async function openNamed(name, ...given) {
  const mine = ++opening, here = document.body.dataset.room;
  if (sheetsLate) hush(); // what was said of the last time
  const past = () => mine !== opening || stops() || document.body.dataset.room !== here;
  const slow = setTimeout(() => { if (!past() && !document.querySelector("dialog[open]")) tell(say.PART_COMING, { stays: true }); }, COMING_MS);
  try {
    const late = new Promise((_, refuse) => setTimeout(refuse, SHEETS_MS, new Error("no sheet came in time")));
    ready(); // a sheet asks the rig something first
    const { sheets } = await Promise.race([part("sheets/sheets.js", { anew: sheetsLate }), late]);
    sheetsLate = false;
    if (past()) return;
    await sheets[name].open(...given);
  } catch (refusal) {
    sheetsLate = refusal.answered === undefined;
    if (past()) return;
    tell(refusal.answered === undefined ? say.SHEET_NOT_THERE : whyNot(name, refusal), { trouble: true });
    if (refusal.answered === undefined) console.warn(String(refusal));
  } finally {
    clearTimeout(slow);
    if (waits && mine === opening) hush();
  }
}

/** Have the rig look at its second places anew, where one of them is in trouble. */
async function copyAgain() {
  try {
    await order("copy-again", "copies/again");
    tell(say.DONE.copies);
  } catch (refusal) {
    tell(whyNot("copy-again", refusal), { trouble: true });
  }
}

/** While it is held: what going on comes to, and what each further minute costs. */
function tellHeld(name, may) {
  set("while-held", say.WHILE_HELD);
  if (name !== "held" || !may) return;
  part("sheets/sheets.js").then(({ sheets }) => sheets.held.tell("while-held"), () => {});
}

/** Show the orders that the present state allows. */
function offer() {
  const name = state(), runs = running(), stood = document.activeElement;
  if (stopping && (!runs || shoot().id !== stopping.id)) { // somebody else was quicker
    hush();
    stopping.end();
  }
  if (ending && ending === shoot()?.id && !runs) {
    ending = null;
    tell(say.DONE.stop);
  }
  const may = mayChange();
  $("hold").hidden = !may || !runs || name === "held";
  $("resume").hidden = !may || name !== "held";
  $("change").hidden = !may || !runs;
  $("stop").hidden = !may || !runs;
  $("start").hidden = !may || runs;
  show("try", may && (!runs || ["waiting", "held"].includes(name)) && document_() !== null && !away());
  show("copy-again", may && (document_()?.places_trouble || document_()?.places.some(({ trouble }) => trouble)));
  if (told !== name) tellHeld(name, may);
  told = name;
  for (const id of ["hold", "resume", "change", "stop"]) $(id).disabled = stopping !== null || $(id).getAttribute("aria-busy") === "true";
  for (const id of ["rooms", "rooms-there"]) $(id).disabled = stopping !== null; // two rooms hide what takes it back
  if (stood.hidden && $("orders").contains(stood)) lead(...[NEXT[stood.id]].filter(Boolean));
}

export function begin() {
  $("hold").addEventListener("click", () => openNamed("change", "hold"));
  $("resume").addEventListener("click", () => simple("resume"));
  $("stop").addEventListener("click", stop);
  $("change").addEventListener("click", () => openNamed("change"));
  $("start").addEventListener("click", () => openNamed("start"));
  $("copy-again").addEventListener("click", copyAgain);
  $("test").addEventListener("click", () => { location.hash = "camera/frame"; });
  for (const kind of ["now", "shoot"]) on(kind, offer);
  on("link", ({ ok }) => {
    if (ok && lost && passing) hush();
    lost = !ok;
  });
  offer();
}
