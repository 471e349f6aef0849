// The cameras: how each stands, and parts that ask the rig only once they are opened.

import { camera as say } from "../words.js";
import { make, set } from "../dom.js";
import { percent } from "../figures.js";
import { camera, document_, mayChange, on } from "../rig.js";
import { rigSays } from "../rig-says.js";
import * as checks from "./camera-checks.js";
import { facts, taken } from "./camera-common.js";
import * as frame from "./camera-frame.js";
import * as look from "./camera-look.js";
import * as settings from "./camera-settings.js";
import * as timing from "./camera-timing.js";

const CHANGING = ["look", "frame"];
const PARTS = { look, frame, checks, settings, timing };

export function open(place, hall) {
  let id = null, parts = {}, told = null;
  const which = make("div", { class: "pair", id: "camera-which", role: "group", "aria-label": say.which, hidden: true });
  const stands = make("div", { id: "camera-stands" }), whose = make("p", { id: "camera-whose", role: "status" });
  const rooms = make("div", { id: "camera-parts" }), heater = make("section", { id: "camera-heater", hidden: true });
  const tool = make("button", { type: "button", id: "camera-tool", hidden: true, onclick: look }, say.look);
  place.append(which, stands, whose, rooms, heater);
  hall.tools(tool);

  const all = () => [document_()?.camera, ...(document_()?.beside ?? [])].filter(Boolean).sort((a, b) => a.id.localeCompare(b.id, "en", { numeric: true }));

  /** Look, from the bar below: the part for it is opened where it was not. */
  function look() {
    const part = parts.look;
    part.details.open = true;
    part.enter();
    part.details.scrollIntoView({ block: "start" });
    part.room?.toggle();
  }

  function choose(wanted) {
    const were = Object.values(parts).filter(({ details }) => details.open).map(({ details }) => details.dataset.part);
    leave();
    id = wanted;
    parts = Object.fromEntries(Object.keys(PARTS).filter((name) => mayChange() || !CHANGING.includes(name)).map((name) => [name, part(name)]));
    rooms.replaceChildren(...Object.values(parts).map(({ details }) => details));
    for (const name of were) parts[name].details.open = true;
    const asked = were.length ? null : parts[location.hash.split("/")[1]]; // such as `#camera/frame`
    if (asked) asked.details.open = true;
    tool.hidden = !("look" in parts);
    for (const button of which.children) button.setAttribute("aria-pressed", String(button.dataset.camera === id));
  }

  function part(name) {
    const box = make("div", { class: "stack" });
    const details = make("details", { data: { part: name }, ontoggle: () => (details.open ? mine.enter() : mine.end()) },
      make("summary", {}, make("h3", {}, say.parts[name]), make("small", {}, say.partsSay[name])), box);
    const mine = {
      details, room: null,
      enter() { mine.room ??= PARTS[name].open(box, id, { looking }); },
      end() { mine.room?.end(); mine.room = null; box.replaceChildren(); },
    };
    return mine;
  }

  const looking = (does) => set(tool, does ? say.end : say.look);

  function leave() {
    for (const part of Object.values(parts)) part.end();
    parts = {};
    looking(false);
  }

  function draw() {
    const cameras = all();
    if (!cameras.length) {
      if (told !== "none") stands.replaceChildren(make("p", {}, say.none));
      told = "none";
      return;
    }
    if (which.children.length !== cameras.length) {
      which.replaceChildren(...cameras.map((each) => make("button", { type: "button", data: { camera: each.id }, onclick: () => { choose(each.id); draw(); } },
        make("span", {}, each.id), make("small", {}))));
      which.hidden = cameras.length < 2;
    }
    cameras.forEach((each, i) => set(which.children[i].lastChild, each.connected ? say.there : say.away));
    if (!cameras.some((each) => each.id === id)) choose(cameras.some((each) => each.id === camera()) ? camera() : cameras[0].id);
    const mine = cameras.find((each) => each.id === id), has = taken(id);
    const now = JSON.stringify(mine);
    if (told !== now) {
      stands.replaceChildren(...[facts([
        [say.body, mine.connected ? mine.model : `${rigSays(mine.model)}\n${say.away}`], [say.battery, say.battery_(mine.battery_percent, mine.battery_hours_left)],
        [say.card, say.card_(mine.card_free_bytes, mine.card_free_frames)],
      ]), mine.trouble && make("p", { class: "trouble" }, rigSays(mine.trouble))].filter(Boolean));
      told = now;
    }
    set(whose, has && mayChange() ? say[has] : "");
    tool.disabled = has === "runs";
    drawHeater(document_().heater);
  }

  function drawHeater(now) {
    heater.hidden = now == null;
    if (now == null) return;
    const words = say.heater, celsius = (value) => (value == null ? null : words.celsius(value));
    heater.replaceChildren(...[make("h3", {}, say.parts.heater), facts([
      [words.state, now.on == null ? words.unknown : now.on ? words.on : words.off], [words.air, celsius(now.temperature_c)],
      [words.humidity, now.humidity_percent == null ? null : percent(now.humidity_percent)], [words.dew, celsius(now.dew_point_c)],
    ]), now.trouble && make("p", { class: "trouble" }, rigSays(now.trouble))].filter(Boolean));
  }

  draw();
  const ends = ["now", "shoot"].map((kind) => on(kind, draw));
  return () => { ends.forEach((end) => end()); leave(); };
}
