// The clips of a shoot: those that the rig makes by itself, and those that were asked for; each as far as it has come, to be
// watched here or kept. No picture moves, and none is fetched, before it is asked for.

import { AGAIN, clips as say, frames, NO_ANSWER } from "../words.js";
import { ask } from "../link.js";
import { make, set, show } from "../dom.js";
import { clock, day, number, runs, size } from "../figures.js";
import { live, mayChange, on, rigTime, seconds } from "../rig.js";
import { rigSays } from "../rig-says.js";
import { film } from "./frames-film.js";
import { clipForm } from "./frames-clip-form.js";

const sized = (bytes) => (bytes < 1e6 ? frames.kilobytes(number(bytes / 1e3, 0)) : size(bytes));

/** What a clip is called on the screen: the day of its window, or that it was asked for, and when it was made. */
function title({ kind, date, made_utc, camera }, zone) {
  const of = kind === "made" ? say.asked(made_utc && clock(seconds(made_utc), rigTime() ?? 0, zone))
    : (kind === "day" ? say.ofDay : say.soFar)(date && day(Date.parse(`${date}T12:00Z`) / 1000, "UTC"));
  return [of, camera].filter(Boolean).join(", ");
}

/** What tells it from others of the same frames: the file's name, where somebody asked for it, and how it is made. */
function formOf({ kind, name, width, height, codec, bits, fps, steadied }) {
  const form = [width && say.size(width, height), codec && say.codecs[codec], bits > 8 && say.bits(bits), fps && say.rate(fps), steadied === false && say.unsteadied];
  return [kind === "made" && name, form.filter(Boolean).join(", ")].filter(Boolean).join(": ");
}

/** One line of the list. `watch` is told when its picture begins to move, so that only one does. */
function row(clip, zone, watch) {
  const name = make("strong", {}), is = make("p", {}), how = make("p", { class: "quiet how" }), why = make("p", { class: "quiet" }), shows = make("p", {});
  const left = make("ul", {}), more = make("details", {}, make("summary", {}, say.more), left);
  const bar = make("progress", { max: 1 }), screen = make("div", { class: "screen" });
  const play = make("button", { type: "button", onclick: () => (screen.firstChild ? shut() : open()) }, say.watch);
  const keep = make("a", { class: "button", download: "" }, say.keep);
  const buttons = make("div", { class: "side" }, play, keep);
  const element = make("li", { data: { clip: clip.name } }, name, is, how, bar, shows, why, more, screen, buttons);

  function open() {
    screen.replaceChildren(...film(keep.getAttribute("href"), name.textContent, () => {
      screen.replaceChildren(make("p", { class: "trouble", role: "alert" }, say.noWatch));
    }));
    set(play, say.shut);
    watch(shut);
  }

  function shut() {
    screen.replaceChildren();
    set(play, say.watch);
  }

  function fill(now) {
    set(name, title(now, zone));
    set(is, [say.states[now.state], now.made_utc && [now.frames > 0 && runs(now.duration_s), now.frames > 0 && say.framesIn(now.frames), now.missing > 0 && say.without(now.missing), sized(now.bytes)].filter(Boolean).join(", ")].filter(Boolean).join(". "));
    set(how, formOf(now));
    show(how, how.textContent !== "");
    show(bar, now.state === "making");
    bar.value = now.progress ?? 0;
    bar.setAttribute("aria-label", say.states.making);
    for (const [one, text] of [[shows, now.shows?.split(", ").map(rigSays).join(", ")], [why, rigSays(now.why)]]) {
      set(one, text ? text[0].toUpperCase() + text.slice(1) : "");
      show(one, Boolean(text));
    }
    left.replaceChildren(...now.remarks.map((line) => make("li", {}, rigSays(line))));
    show(more, now.remarks.length > 0);
    show(buttons, Boolean(now.url));
    if (now.url) keep.href = now.url.replace(/^\//, "");
  }

  fill(clip);
  return { element, fill, shut };
}

export function openClips(place, hall, shoot, camera = null) {
  const path = `shoots/${encodeURIComponent(shoot)}/clips`, rows = new Map();
  const told = make("p", { id: "clips-told", role: "status" }, say.looking), list = make("ul", { id: "clips-list" });
  const again = make("button", { type: "button", class: "wide", id: "clips-again", hidden: true, onclick: look }, AGAIN);
  let zone, gone = false, shut = () => {}, lost = false, linked = live();
  set("room-title", say.title);
  hall.tools(make("button", { type: "button", id: "clips-back", onclick: () => { location.hash = "frames"; } }, frames.toFrames));
  const form = mayChange() ? clipForm(path, camera, (clip) => { put(clip); rows.get(clip.name)?.element.scrollIntoView({ block: "center" }); }) : null;
  place.append(told, again, list, ...(form ? [form.element] : []));

  function put(clip) {
    if (gone) return;
    const known = rows.get(clip.name);
    if (known) return known.fill(clip);
    const made = row(clip, zone, (closes) => { if (closes !== shut) { shut(); shut = closes; } });
    rows.set(clip.name, made);
    list.prepend(made.element);
    set(told, "");
  }

  async function look() {
    show(again, false);
    try {
      const [found, of] = await Promise.all([ask("GET", path), ask("GET", `shoots/${encodeURIComponent(shoot)}`)]);
      if (gone) return;
      zone = of.plan.site?.timezone ?? undefined;
      for (const clip of found) put(clip);
      for (const [name, one] of rows) {
        if (found.some((clip) => clip.name === name)) continue;
        one.element.remove();
        rows.delete(name);
      }
      set(told, rows.size ? "" : say.none);
    } catch (refusal) {
      if (gone) return;
      set(told, refusal.answered ? refusal.message : NO_ANSWER);
      show(again, !refusal.answered);
    }
  }

  const ends = [
    on("clip", (clip) => { if (clip.shoot === shoot) put(clip); }),
    on("link", ({ ok }) => {
      if (ok && lost) look(); // what was told meanwhile was not heard
      lost ||= linked && !ok;
      if (ok) [linked, lost] = [true, false];
    }),
  ];
  look();
  return () => { gone = true; form?.end(); for (const end of ends) end(); };
}
