// What the draft comes to, while it is written: asked once at a time, so that a slow link is not flooded, and again as
// soon as something has changed meanwhile.

import { plans as say } from "../words.js";
import { ask } from "../link.js";
import { make, set, show } from "../dom.js";
import { clock, count, runs, size, span } from "../figures.js";
import { mayChange, seconds } from "../rig.js";
import { rigSays } from "../rig-says.js";
import { object } from "./plans-fields.js";

const CALM_MS = 400;

/** Lines of a forecast that a person asks for: `[name, value]`. */
export function figures(told) {
  const { storage, power, windows, timezone } = told, first = windows[0];
  const at = (text, base) => clock(seconds(text), base && seconds(base), timezone);
  const room = (needed, free) => (needed == null ? null : free == null ? size(needed) : say.of(size(needed), size(free), needed <= free));
  return [
    [say.starts, first && clock(seconds(first.start_utc), Date.now() / 1000, timezone)],
    [say.ends, first && (first.end_utc ? at(first.end_utc, first.start_utc) : say.openEnd)],
    [say.frames, told.frames == null ? say.openEnd : windows.length > 1 ? say.inWindows(told.frames, windows.length) : count(told.frames)],
    [say.clip, told.clip_s == null ? say.openEnd : runs(told.clip_s)],
    [say.card, room(storage.card_bytes, storage.card_room_bytes)],
    [say.rig, room(storage.rig_bytes, storage.rig_room_bytes)],
    [say.power, power && (power.needed_wh == null ? say.lasts(span(power.lasts_s)) : say.watts(power.needed_wh, power.usable_wh))],
  ].filter(([, value]) => value);
}

/** One line of it. */
export function inShort(told) {
  const first = told.windows[0], at = (text) => clock(seconds(text), undefined, told.timezone);
  return [first && `${at(first.start_utc)} → ${first.end_utc ? at(first.end_utc) : say.openEnd}`,
    told.frames != null && say.framesIn(told.frames), told.clip_s != null && say.clipOf(told.clip_s), told.warnings.length > 0 && say.warned(told.warnings.length)].filter(Boolean).join(" · ");
}

export function forecastPart(form) {
  const sum = make("p", { id: "plan-sum", role: "status" }, say.working);
  const list = make("dl", { id: "plan-figures" }), warned = make("ul", { class: "told" }), careful = make("ul", { class: "told" });
  const assumed = make("p", { class: "quiet" }), none = make("p", { class: "quiet" }, say.noWarning), old = make("p", { class: "quiet", hidden: true }, say.forecastOld);
  const part = make("section", { id: "plan-forecast", hidden: true }, make("h3", {}, say.forecast), old, list, assumed, none, warned,
    make("h4", {}, say.careful), careful);
  let timer = null, last = "", under_way = false, again = false, over = false;
  const given_up = new AbortController(); // else what nobody waits for any more keeps its place on the link

  function tell(told) {
    form.told = told;
    list.replaceChildren(...figures(told).map(([name, value]) => make("div", {}, make("dt", {}, name), make("dd", {}, value))));
    set(assumed, [told.storage.assumed && say.assumed(rigSays(told.storage.basis)), rigSays(told.elsewhere)].filter(Boolean).join(" "));
    warned.replaceChildren(...told.warnings.map((one) => make("li", { data: { costs: one.costs } }, make("strong", {}, `${say.costs[one.costs]}: `), rigSays(one.what), make("small", {}, rigSays(one.remedy)))));
    show(none, !told.warnings.length);
    careful.replaceChildren(...told.cautions.map((one) => make("li", {}, rigSays(one.text))));
    show(careful.previousElementSibling, told.cautions.length > 0);
    show(part, true);
    show(old, false);
    set(sum, last = inShort(told));
    for (const hear of form.onTold) hear();
  }

  async function look() {
    if (under_way) { again = true; return; }
    [under_way, again] = [true, false];
    sum.setAttribute("aria-busy", "true");
    try {
      const told = mayChange() ? await ask("POST", "forecast", { plan: form.plan }, { patience_ms: 30_000, given_up: given_up.signal })
        : await ask("GET", `plans/${encodeURIComponent(form.plan.name)}/forecast`, undefined, { patience_ms: 30_000, given_up: given_up.signal });
      if (over) return;
      object(form, null);
      if (timer === null && !again) tell(told); // else it is of a draft that has changed since
    } catch (refusal) {
      if (over) return;
      if (refusal.answered === undefined) throw refusal;
      [form.told, last] = [null, ""];
      show(old, true);
      const label = object(form, refusal.answered ? refusal : null);
      set(sum, refusal.answered ? say.notYet(label) : say.noForecast);
      if (!refusal.answered) timer ??= setTimeout(() => { timer = null; look(); }, 3000); // a look, no order: it may go on by itself
    } finally {
      under_way = false;
      sum.removeAttribute("aria-busy");
      if (again && !over) look();
    }
  }

  const soon = () => { clearTimeout(timer); form.told = null; set(sum, last ? say.again(last) : say.working); timer = setTimeout(() => { timer = null; look(); }, CALM_MS); };
  form.onChange.push(soon);
  look();
  return { sum, part, end() { over = true; clearTimeout(timer); given_up.abort(); } };
}
