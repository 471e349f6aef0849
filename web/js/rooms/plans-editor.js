// One plan: its form, what it comes to, and what can be done with it. The draft is kept with every letter typed.

import { plans as say } from "../words.js";
import { Refusal, ask } from "../link.js";
import { $, make, set, show } from "../dom.js";
import { mayChange } from "../rig.js";
import { tell } from "../orders.js";
import { NAME, beside, changed, drafted, drop, keep } from "./plans-draft.js";
import { worded } from "./plans-fields.js";
import { forecastPart } from "./plans-forecast.js";
import { filesPart, lightPart } from "./plans-light.js";
import { pacePart } from "./plans-pace.js";
import { rehearsalPart } from "./plans-rehearsal.js";
import { copySheet, deleteSheet, renameSheet, startSheet, versionsSheet } from "./plans-sheets.js";
import { sitePart } from "./plans-site.js";
import { whenPart } from "./plans-when.js";

const CALM_MS = 250, path = (name) => `plans/${encodeURIComponent(name)}`;

/** A document as a text that does not depend on the order of its keys. */
const sorted = (plan) => JSON.stringify(plan, (_, value) => (value?.constructor === Object ? Object.fromEntries(Object.entries(value).sort()) : value));

/** What the rig keeps, as a draft without a change; null where it keeps none of that name. */
async function fetched(name) {
  let base = null;
  try {
    const plan = await ask("GET", path(name), undefined, { tagged: (tag) => { base = tag; } });
    return { plan, was: JSON.stringify(plan), base };
  } catch (refusal) {
    if (refusal.code === "no-such-plan") return null;
    throw refusal;
  }
}

/** The editor that is open, and what brings back the changes that were thrown away last. */
let shown = null, undo = null;

export async function openEditor(place, hall, name, gone) {
  let draft = drafted(name), kept = null, unheard = false, parts = [], form = null;
  const laid = { pace: {}, light: {} };
  if (!NAME.test(name)) throw new Refusal(say.noSuch(name), true);
  try {
    const fresh = draft?.base === null && !(await ask("GET", "plans")).some((plan) => plan.name === name);
    kept = fresh ? null : await fetched(name); // what is not there is not asked for: a browser notes that as an error
  } catch (refusal) {
    if (!draft) throw refusal;
    unheard = true;
  }
  if (gone()) return;
  if (!draft && !kept) throw new Refusal(say.noSuch(name), true);
  if (undo && undo.name !== name && $("said-button").onclick === undo.act) show("said", false); // it is of another plan
  const restored = draft !== null;
  draft ??= kept;

  const note = make("p", { id: "plan-note", role: "status" });
  const clash = make("div", { id: "plan-clash", class: "stack", role: "alert", hidden: true }), body = make("div");
  const save = make("button", { type: "button", id: "plan-save", onclick: () => put(draft.base) }, say.save);
  const start = make("button", { type: "button", id: "plan-start", onclick: () => startSheet(hall, draft.plan, changed(draft)) }, say.start);
  const back = make("button", { type: "button", id: "plan-throw", hidden: true, onclick: throwAway }, say.throwAway);
  place.replaceChildren(make("button", { type: "button", id: "plans-all", onclick: () => { location.hash = "plans"; } }, say.all),
    make("h3", { id: "plan-name" }, name), note, back, clash, body);
  if (mayChange()) hall.tools(save, start);
  fill();
  if (restored) set(note, unheard ? say.restoredOffline : kept || draft.base ? say.restored : say.unkept);
  if (restored && kept && kept.base !== draft.base) other();

  /** Draw the form of the draft as it is now. */
  function fill() {
    for (const part of parts) part.end();
    const { plan } = draft;
    for (const table of ["site", "when", "pace", "light", "files", "clip"]) plan[table] ??= {};
    form = { plan, places: new Map(), onChange: [], onSky: [], onTold: [], sky: null, laid, told: null, trouble: make("p", { class: "trouble", role: "alert", id: "plan-trouble", hidden: true }) };
    form.changed = () => {
      const stored = keep(name, draft);
      say_(stored);
      for (const hear of form.onChange) hear();
    };
    const forecast = forecastPart(form), rehearsal = mayChange() ? rehearsalPart(form) : null, sky = skyOf(form);
    parts = [forecast, sky, ...(rehearsal ? [rehearsal] : [])];
    const also = beside(plan);
    body.replaceChildren(forecast.sum, form.trouble,
      make("fieldset", { disabled: !mayChange(), class: "plain" }, make("legend", { class: "unseen" }, name),
        sitePart(form), whenPart(form), pacePart(form), lightPart(form), filesPart(form)),
      ...(also.length ? [make("p", { id: "plan-also", class: "quiet" }, say.also(also.join(", ")))] : []),
      forecast.part, ...(rehearsal ? [rehearsal.part] : []), ...(mayChange() && draft.base ? [more()] : []));
    show(back, changed(draft));
  }

  function say_(stored) {
    const is = changed(draft);
    show(back, is);
    set(note, !is ? "" : stored ? say.notSaved : say.notKept);
  }

  async function put(match) {
    if (save.getAttribute("aria-busy")) return;
    save.setAttribute("aria-busy", "true");
    const sent = JSON.stringify(draft.plan);
    let base = null;
    try {
      const tagged = (tag) => { base = tag; };
      const plan = match === null ? await ask("POST", "plans", draft.plan, { tagged }) : await ask("PUT", path(name), draft.plan, { match, tagged });
      keepSaved({ plan, was: JSON.stringify(plan), base }, sent);
    } catch (refusal) {
      if (refusal.answered === undefined) throw refusal;
      if (refusal.code === "plan-changed" || refusal.code === "plan-exists") await meet(sent);
      else tell(refusal.answered ? say.notDone(worded(refusal, form)) : say.unanswered, { trouble: true });
    } finally {
      save.removeAttribute("aria-busy");
    }
  }

  /** The rig has it as it was sent; what was typed while it was on its way stays unsaved. */
  function keepSaved(there, sent) {
    const typed = JSON.stringify(draft.plan) !== sent;
    draft = typed ? { plan: draft.plan, was: sent, base: there.base } : there;
    keep(name, draft);
    tell(say.saved);
    if (gone()) return;
    show(clash, false);
    if (!typed) fill();
    say_(true);
  }

  /** What is there is not what was opened. It may be this draft all the same: an order whose answer did not come. */
  async function meet(sent) {
    const told = ask("POST", "forecast", { plan: JSON.parse(sent) }, { patience_ms: 30_000 }); // has the plan as the rig would keep it
    const [there, mine] = await Promise.all([fetched(name), told.then((one) => one.plan)]).catch(() => [null, null]);
    if (there && sorted(there.plan) === sorted(mine)) keepSaved(there, sent);
    else if (!gone()) other();
  }

  /** Somebody else has changed it, or taken the name, since: say so, and let one choose. */
  function other() {
    clash.replaceChildren(make("p", { class: "trouble" }, say.clash),
      make("button", {
        type: "button", id: "plan-theirs",
        async onclick() {
          try { take(await fetched(name)); } catch (refusal) { tell(refusal.answered ? refusal.message : say.noAnswer, { trouble: true }); }
        },
      }, say.takeTheirs),
      make("button", { type: "button", id: "plan-mine", onclick: async () => {
        try {
          const there = await fetched(name);
          put(there?.base ?? null);
        } catch (refusal) {
          tell(refusal.answered ? refusal.message : say.noAnswer, { trouble: true });
        }
      } }, say.keepMine));
    show(clash, true);
    clash.scrollIntoView({ block: "center" });
  }

  function take(there) {
    if (!there) { drop(name); location.hash = "plans"; return; }
    draft = there;
    drop(name);
    show(clash, false);
    fill();
    say_(true);
  }

  /** Back to what the rig has; what was thrown away comes back by a tap, as long as that is offered. */
  async function throwAway() {
    const mine = structuredClone(draft);
    try {
      const there = draft.base ? await fetched(name) : null;
      take(there);
      undo = { name, act() {
        keep(name, mine);
        tell(say.undone);
        if (shown?.name === name) shown.bring(mine);
        else location.hash = path(name);
      } };
      tell(say.thrown(name), { button: say.undo, act: undo.act });
    } catch (refusal) {
      tell(refusal.answered ? refusal.message : say.noAnswer, { trouble: true });
    }
  }

  function more() {
    return make("details", { id: "plan-more" }, make("summary", {}, say.more), make("div", { class: "stack" },
    [["copy", () => copySheet(draft.plan, name)], ["rename", () => renameSheet(name, changed(draft))],
      ["versions", () => versionsSheet(name, (plan) => { draft.plan = plan; keep(name, draft); fill(); say_(true); tell(say.older); })],
      ["delete", () => deleteSheet(name)]].map(([key, onclick]) => make("button", { type: "button", id: `plan-${key}`, onclick }, say.acts[key]))));
  }

  const here = shown = { name, bring(mine) { draft = mine; fill(); say_(true); } };
  return () => {
    if (shown === here) shown = null;
    for (const part of parts) part.end();
  };
}

/** The sky of the day at the plan's place, with the moments of its words; asked anew where these change. */
function skyOf(form) {
  let timer = null, asked = "", over = false;
  const given_up = new AbortController();
  async function look() {
    timer = null;
    const { site, when } = form.plan, words = [when.start, when.stop].filter((one) => typeof one === "string" && one !== "now");
    if (!Number.isFinite(site.latitude) || !Number.isFinite(site.longitude)) return;
    const query = new URLSearchParams([["latitude", site.latitude], ["longitude", site.longitude], ["timezone", site.timezone ?? "UTC"],
      ...(when.date ? [["date", when.date]] : []), ...words.map((word) => ["words", word])]).toString();
    if (query === asked) return;
    asked = query;
    try {
      const sky = await ask("GET", `sky?${query}`, undefined, { given_up: given_up.signal });
      if (over || asked !== query) return;
      form.sky = sky;
    } catch {
      if (over) return;
      asked = "";
      form.sky = null; // the forecast says what is wrong with the place; without a link there are no times
    }
    for (const hear of form.onSky) hear();
  }
  form.onChange.push(() => { timer ??= setTimeout(look, CALM_MS); });
  timer = setTimeout(look, 0);
  return { end() { over = true; clearTimeout(timer); given_up.abort(); } };
}
