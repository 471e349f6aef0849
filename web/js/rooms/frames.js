// The frames of a shoot: looked through as a flip book, listed, and as curves over the night. The running shoot, or the
// last one, unless an older one is chosen; one camera at a time.

import { frames as say, NO_ANSWER, STATES, zoneOfTimes } from "../words.js";
import { ask } from "../link.js";
import { make, set } from "../dom.js";
import { clock, otherZone } from "../figures.js";
import { on, seconds, shoot as shootNow, rigTime } from "../rig.js";
import { openClips } from "./frames-clips.js";
import { openCurves } from "./frames-curves.js";
import { openList } from "./frames-list.js";
import { RECENT, newest, openLog } from "./frames-log.js";
import { openLook } from "./frames-look.js";
import { openReport } from "./frames-report.js";

const VIEWS = ["look", "list", "curves"];

/** The shoot that was chosen, and its camera, when its report or its clips were asked for: one comes back to it. */
let left = null;

/** The frames, or at `#frames/report/SHOOT` or `#frames/clips/SHOOT`, with `/CAMERA` where there are several, report or clips of a shoot. */
export function open(place, hall) {
  const [, part, ...of] = location.hash.split("/");
  if (part === "report") return openReport(place, hall, ...of.map(decodeURIComponent));
  if (part === "clips") return openClips(place, hall, ...of.map(decodeURIComponent));
  const kept = { at: null, pictured: false, kind: "all", opened: null };
  let log = null, view = null, name = "look", shoots = [], turn = 0, empty = false, gone = false;
  const told = make("p", { id: "frames-told", role: "status" }, say.coming);
  const which = make("select", { id: "which", "aria-label": say.whichShoot, onchange: () => choose(which.value) });
  const camera = make("select", { id: "which-camera", "aria-label": say.whichCamera, hidden: true, onchange: () => choose(which.value, camera.value) });
  const views = VIEWS.map((each) => make("button", {
    type: "button", data: { view: each }, "aria-pressed": String(each === name), onclick: () => enter(each),
  }, say.views[each]));
  const zone = make("p", { class: "quiet", id: "frames-zone" }), inside = make("div", { id: "frames-inside" });
  const leads = ["clips", "report"].map((id) => make("a", { id, class: "button", onclick: () => { left = { id: log.shoot, camera: camera.hidden ? null : log.camera }; } }, say[id]));
  place.append(which, camera, make("div", { class: "side", role: "group", "aria-label": say.viewsName }, views),
    make("div", { id: "frames-top" }, zone, make("div", { id: "frames-leads" }, leads)), told, inside);

  function leave() {
    for (const lead of leads) lead.hidden = true;
    view?.close();
    view = null;
    inside.replaceChildren();
  }

  function enter(wanted) {
    name = wanted;
    for (const button of views) button.setAttribute("aria-pressed", String(button.dataset.view === name));
    leave();
    if (log === null) return;
    const chosen = shoots.find((each) => each.id === log.shoot);
    view = name === "look" ? openLook(log, hall, kept, chosen?.plan.clip?.fps ?? 25)
      : name === "list" ? openList(log, kept, (seq) => { kept.at = kept.opened = seq; enter("look"); window.scrollTo(0, 0); views[0].focus({ preventScroll: true }); })
        : openCurves(log);
    inside.append(view.element);
    for (const lead of leads) {
      lead.href = `#frames/${[lead.id, log.shoot, ...(camera.hidden ? [] : [log.camera])].map(encodeURIComponent).join("/")}`;
      lead.hidden = false;
    }
  }

  /** The zone of the place of a shoot, in which all its times are told. */
  const zoneOf = (id) => shoots.find((each) => each.id === id)?.plan.site?.timezone ?? undefined;

  /** Look into a shoot; of several cameras into one of them. */
  async function choose(id, of = null) {
    const mine = ++turn;
    leave();
    log = null;
    kept.at = null;
    empty = false;
    set(told, say.looking);
    zone.replaceChildren(...zoneOfTimes(otherZone(zoneOf(id))).split(/(?<=\/)/).flatMap((part) => [part, make("wbr")]));
    try {
      let found = await newest(id, { camera: of, limit: RECENT });
      if (mine !== turn || gone) return;
      const cameras = of ? [...camera.options].map((each) => each.value) : [...new Set(found.map((frame) => frame.camera))].sort();
      camera.hidden = cameras.length < 2;
      if (!of) camera.replaceChildren(...cameras.map((each) => make("option", { value: each }, each)));
      found = found.filter((frame) => frame.camera === (of ?? cameras[0]));
      set(told, found.length ? "" : say.noFrames);
      empty = !found.length;
      if (empty) return;
      log = openLog(id, cameras.length > 1 ? of ?? cameras[0] : found[0].camera, found[0], zoneOf(id));
      found.forEach(log.add);
      enter(name);
      await log.look();
      if (mine === turn && !gone) view?.drawn();
    } catch (refusal) {
      if (mine === turn && !gone) set(told, refusal.answered ? refusal.message : NO_ANSWER);
    }
  }

  async function begin() {
    try {
      shoots = (await ask("GET", "shoots")).reverse();
    } catch (refusal) {
      set(told, refusal.answered ? refusal.message : NO_ANSWER);
      return;
    }
    if (gone) return;
    which.hidden = !shoots.length;
    which.replaceChildren(...shoots.map((each) => make("option", { value: each.id }, label(each))));
    const present = left?.id ?? shootNow()?.id ?? shoots.find((each) => each.started_utc)?.id ?? shoots[0]?.id, of = left?.camera;
    left = null;
    if (!present) return set(told, say.noShoots);
    which.value = present;
    await choose(present);
    if (of && log && of !== log.camera) await choose(present, camera.value = of);
  }

  const label = (each) => say.aShoot(each.plan_name, clock(seconds(each.started_utc ?? each.created_utc), rigTime() ?? 0, zoneOf(each.id)), STATES[each.state]);

  const ends = [
    on("frame", (frame) => {
      if (log?.add(frame)) view?.changed(frame);
      else if (empty && frame.shoot === which.value) choose(which.value); // its first
    }),
    on("shoot", (shoot) => {
      const option = [...which.options].find((each) => each.value === shoot.id);
      if (option) return set(option, label(shoot));
      shoots.unshift(shoot); // started while we are here: offered, not entered
      which.prepend(make("option", { value: shoot.id }, label(shoot)));
      which.hidden = false;
    }),
  ];
  begin();
  return () => { gone = true; leave(); for (const end of ends) end(); };
}
