// Is the rig ready: what is found, the worst first, each with its remedy, and a button where it can be set from here.

import { camera as say } from "../words.js";
import { draw, make, set, show } from "../dom.js";
import { ask } from "../link.js";
import { tell } from "../orders.js";
import { mayChange, on, running, shoot } from "../rig.js";
import { rigSays } from "../rig-says.js";
import { complain, path, taken, trouble, why } from "./camera-common.js";

const RUNNING = " "; // no plan has this name
const PATIENCE_MS = 90000; // a camera is asked between releases
const SHAPES = { fail: "M12 2l11 20H1z", warn: "M12 2l10 10-10 10L2 12z", pass: "M3 13l6 6L21 5" };

export function open(box, id) {
  const words = say.check;
  let gone = false, turn = 0;
  const plan = make("select", { id: "check-plan", onchange: () => look() });
  const summary = make("p", { id: "check-summary", role: "status", tabindex: "-1" }), said = trouble();
  const all = make("button", { type: "button", id: "fix-all", class: "wide", hidden: true });
  const list = make("ul", { class: "findings", id: "findings" }), well = make("ul", { class: "findings" }), wellName = make("summary", {});
  const rest = make("details", { id: "check-well", hidden: true }, wellName, well);
  const held = make("p", { class: "quiet", hidden: true }, words.whileRuns);
  const again = make("button", { type: "button", id: "check-again", onclick: () => look() }, say.again);
  if (mayChange()) box.append(make("div", {}, make("label", { for: "check-plan" }, words.plan), plan));
  box.append(summary, said, held, list, all, rest, again);

  async function begin() {
    const options = [["", words.noPlan]];
    if (running()) options.push([RUNNING, words.running(shoot().plan_name)]);
    plan.replaceChildren(...options.map(([value, text]) => make("option", { value }, text)));
    plan.value = running() ? RUNNING : "";
    look();
    if (!mayChange()) return;
    try {
      const kept = await ask("GET", "plans");
      if (!gone) plan.append(...kept.map(({ name }) => make("option", { value: name }, name)));
    } catch { /* those that are there can be chosen */ }
  }

  const wanted = () => (plan.value === RUNNING ? shoot()?.plan : plan.value) || null;

  async function look(fix = false) {
    const mine = ++turn;
    box.setAttribute("aria-busy", "true");
    set(summary, words.looking);
    complain(said);
    try {
      const found = mayChange()
        ? await ask("POST", "check", { plan: wanted(), fix }, { patience_ms: PATIENCE_MS })
        : await ask("GET", "check", undefined, { patience_ms: PATIENCE_MS });
      if (gone || mine !== turn) return;
      fill(found);
      const refused = found.mended.filter(({ refusal }) => refusal !== null);
      if (refused.length) complain(said, refused.map(({ setting, refusal }) => words.notFixed(say.names[setting], rigSays(refusal))).join(" "));
      else if (fix) tell(words.fixed);
    } catch (refusal) {
      if (gone || mine !== turn) return;
      set(summary, "");
      complain(said, why(refusal));
    } finally {
      if (mine === turn) box.removeAttribute("aria-busy");
    }
  }

  /** Set what would mend one finding, and look again. */
  async function mend(finding, button) {
    if (button.getAttribute("aria-busy") === "true") return;
    button.setAttribute("aria-busy", "true");
    complain(said);
    try {
      await ask("PUT", path(finding.camera, "settings"), { settings: finding.fix }, { patience_ms: PATIENCE_MS });
      tell(words.fixed);
      await look();
    } catch (refusal) {
      if (!gone) complain(said, why(refusal));
    } finally {
      button.removeAttribute("aria-busy");
    }
  }

  function row(finding) {
    const { level, check, what, remedy, camera, fix } = finding;
    const button = fix && mayChange() && make("button", { type: "button", class: "fix", data: { check }, onclick: ({ target }) => mend(finding, target) },
      Object.entries(fix).map(([setting, value]) => words.fix(say.names[setting], value)).join(", "));
    return make("li", { data: { level, check } },
      draw("svg", { class: "mark", viewBox: "0 0 24 24", "aria-hidden": "true" }, draw("path", { d: SHAPES[level], class: level === "fail" ? "" : "stroke" })),
      make("div", {}, make("p", { class: "what" }, make("span", { class: "level" }, words.levels[level]), ` ${rigSays(what)}`),
        make("p", { class: "quiet" }, camera !== null && camera !== id ? `${camera}. ` : "", rigSays(remedy) ?? ""), button));
  }

  function fill({ summary: text, findings }) {
    set(summary, rigSays(text));
    const open_ = findings.filter(({ level }) => level !== "pass"), fine = findings.filter(({ level }) => level === "pass");
    const focused = list.contains(document.activeElement);
    list.replaceChildren(...open_.map(row));
    if (focused) summary.focus({ preventScroll: true }); // what had the focus may be mended
    well.replaceChildren(...fine.map(row));
    set(wellName, words.well(fine.length));
    show(rest, fine.length > 0);
    offer();
  }

  /** What may be set now: nothing while a shoot is at work. */
  function offer() {
    const runs = taken(id) === "runs", fixes = [...list.querySelectorAll(".fix")];
    for (const button of fixes) button.disabled = runs;
    set(all, words.fixAll(fixes.length));
    show(all, fixes.length > 1 && !runs);
    show(held, runs && fixes.length > 0);
  }

  all.addEventListener("click", () => look(true));
  const ears = ["now", "shoot"].map((kind) => on(kind, offer));
  begin();
  return { end() { gone = true; for (const ear of ears) ear(); } };
}
