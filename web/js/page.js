// Ties the event stream to what is shown and to what can be done, and holds the rooms of the page. The first, the rig
// itself, is always there; the others are fetched when they are entered.
//
// A room is a module in `rooms/` with `open(place, hall)`: it fills `place`, an empty element, and gives a function that
// ends all that it began. `hall.tools(...elements)` puts its own buttons into the bar below; `hall.bare(true)` takes the
// whole screen, without bars; `hall.leave()` goes back to the rig. Its style sheet is `rooms/NAME.css`, which comes with the page.

import * as say from "./words.js";
import { $, make, set, show } from "./dom.js";
import { ask, follow } from "./link.js";
import { part } from "./part.js";
import { ready } from "./rig-says.js";
import * as rig from "./rig.js";
import * as face from "./face.js";
import { begin as takeOrders, stops } from "./orders.js";
import { waitAtDoor } from "./door.js";
import { offerTime } from "./time.js";

/** In the order in which they are offered. */
const ROOMS = ["frames", "camera", "plans", "black", "lamp", "phone"];

const SLOW_MS = 6000; // after which a room that has not come is said to be slow

let close = null, turn = 0;

const wanted = () => { const name = location.hash.slice(1).split("/")[0]; return ROOMS.includes(name) ? name : null; };

async function enter({ anew = false } = {}) {
  if (stops() && wanted() !== null) { // the phone's own way back would hide what takes it back
    history.replaceState(null, "", location.pathname + location.search);
    return;
  }
  for (const sheet of document.querySelectorAll("dialog[open]")) sheet.close(); // the phone's own way back leads out of it too
  const name = wanted(), mine = ++turn, from = document.body.dataset.room;
  close?.();
  close = null;
  document.body.classList.remove("bare");
  $("room").replaceChildren();
  $("room-tools").replaceChildren();
  show("rig", name === null);
  show("orders", name === null);
  show("room", name !== null);
  show("room-bar", name !== null);
  document.body.dataset.room = name ?? "rig";
  window.scrollTo(0, 0);
  if (name === null) {
    if (from !== "rig") $("standing").focus({ preventScroll: true });
    return;
  }
  const place = make("div"), title = make("h2", { id: "room-title", tabindex: "-1" }, say.ROOMS[name]);
  const coming = make("p", { class: "quiet", role: "status" }, say.PART_COMING);
  const again = () => make("div", { class: "pair" }, make("button", { type: "button", id: "room-again", onclick: () => enter({ anew: true }) }, say.AGAIN));
  place.append(coming);
  $("room").append(title, place);
  const slow = setTimeout(() => { set(coming, say.ROOM_SLOW); place.append(again()); }, SLOW_MS);
  try {
    const [room] = await Promise.all([part(`rooms/${name}.js`, { anew }), ready()]);
    if (mine !== turn) return;
    place.replaceChildren();
    const ended = room.open(place, {
      tools: (...elements) => $("room-tools").replaceChildren(...elements),
      bare: (on) => document.body.classList.toggle("bare", on),
      leave: () => { location.hash = ""; },
    });
    close = ended;
    if (!document.body.classList.contains("bare")) title.focus({ preventScroll: true });
  } catch (error) {
    if (mine !== turn) return;
    place.replaceChildren(make("p", { class: "trouble", role: "alert" }, say.ROOM_NOT_THERE), again());
    console.warn(String(error));
  } finally {
    clearTimeout(slow);
  }
}

/** Offer the rooms, and enter the one that the address names. */
function offerRooms() {
  const list = $("rooms-list");
  const go = (name) => { $("rooms-sheet").close(); location.hash = name; };
  list.replaceChildren(...["", ...ROOMS].map((name) => make("button", { type: "button", data: { room: name || "rig" }, onclick: () => go(name) },
    make("span", {}, say.ROOMS[name || "rig"]), make("small", {}, say.ROOMS_SAY[name || "rig"]))));
  for (const id of ["rooms", "rooms-there"]) {
    set(id, say.NAMES.rooms);
    $(id).addEventListener("click", () => {
      for (const button of list.children) button.setAttribute("aria-current", button.dataset.room === document.body.dataset.room ? "page" : "false");
      $("rooms-sheet").showModal();
    });
  }
  $("room-back").addEventListener("click", () => { location.hash = ""; });
  $("rooms-sheet").addEventListener("click", (event) => { if (event.target === $("rooms-sheet")) $("rooms-sheet").close(); });
  window.addEventListener("hashchange", () => enter());
  enter();
}

// ---- the link

/** What this device may do: null where the rig does not know it, undefined where it does not answer. */
async function rights() {
  try {
    return (await ask("GET", "session")).rights;
  } catch {
    return undefined;
  }
}

/** The rig has put what is now into the page: it is shown before the stream is open, as what was heard last. */
function firstNow() {
  const told = $("first-now")?.textContent;
  if (told) rig.heard("now", JSON.parse(told));
}

async function begin() {
  face.begin();
  if (rig.rights() === null) document.documentElement.dataset.rights = await waitAtDoor();
  firstNow();
  offerRooms();
  rig.on("now", ({ clock }) => offerTime(clock));
  follow({
    async refused() { if ((await rights()) === null) location.reload(); },
    heard: rig.heard,
    silent: rig.silent,
  });
  takeOrders();
}

begin();
