// The frames from the newest back: all, those that were missed, or those to be looked at; page by page.

import { frames as say, NO_ANSWER } from "../words.js";
import { make, set, show } from "../dom.js";
import { rigSays } from "../rig-says.js";
import { count } from "../figures.js";
import { whyDoubted } from "./frames-doubt.js";
import { due, exposureOf } from "./frames-facts.js";
import { csv, newest, none, troubles } from "./frames-log.js";
import { tell } from "../orders.js";

const PAGE = 30, AGAIN_MS = 2000;
const KINDS = ["all", "missed", "doubtful"];

/** `kept.kind` is which frames are listed, `kept.opened` the one that was looked at last: one comes back to it. */
export function openList(log, kept, open) {
  let kind = kept.kind, oldest = null, turn = 0, waiting = null, ready = false, gone = false;
  const rows = new Map();
  const list = make("ul", { id: "list" }), empty = make("p", { id: "list-empty", role: "status" });
  const older = make("button", { type: "button", id: "older", class: "wide", onclick: () => page() }, say.older);
  const choices = KINDS.map((each) => make("button", {
    type: "button", data: { kind: each }, "aria-pressed": String(each === kind),
    onclick() {
      kind = kept.kind = each;
      for (const one of choices) one.setAttribute("aria-pressed", String(one.dataset.kind === kind));
      begin();
    },
  }, make("span", {}, say.kinds[each]), make("small", {}, "…")));
  const keep = make("button", { type: "button", id: "csv", class: "wide", onclick: save }, say.csv);
  const element = make("section", { id: "frames-list" }, make("h3", {}, say.list),
    make("div", { class: "side", role: "group", "aria-label": say.which }, choices), make("p", { id: "kind-says", class: "quiet" }), list, empty, older,
    keep, make("p", { class: "quiet" }, say.csvSays));

  const says = (frame) => {
    const why = none(frame) ? [say.shortStates[frame.state], frame.cause && rigSays(frame.cause)].filter(Boolean).join(": ") : whyDoubted(frame);
    return [none(frame) ? "×" : why ? "▲" : "", why || [exposureOf(frame), say.shortStates[frame.state]].filter(Boolean).join("; ")];
  };

  function fill(button, frame) {
    const [mark, text] = says(frame);
    set(button.children[0], mark);
    set(button.children[1].firstChild, `${none(frame) ? say.theSlot(frame.seq) : say.theFrame(frame.seq)}, ${due(frame, log.zone)}`);
    set(button.children[1].lastChild, text);
  }

  function row(frame) {
    const button = make("button", { type: "button", class: "wide", data: { seq: frame.seq }, onclick: () => open(frame.seq) },
      make("span", { class: "sign", "aria-hidden": "true" }), make("span", {}, make("span", {}), make("small", {})));
    fill(button, frame);
    const item = make("li", {}, button);
    rows.set(frame.seq, item);
    return item;
  }

  async function page() {
    const mine = turn;
    older.setAttribute("aria-busy", "true");
    try {
      const found = await newest(log.shoot, { camera: log.camera, limit: PAGE, before: oldest, only: kind === "all" ? null : kind });
      if (mine !== turn || gone) return;
      for (const frame of found) if (!rows.has(frame.seq)) list.append(row(frame));
      if (found.length) oldest = found.at(-1).seq;
      ready = true;
      show(older, found.length === PAGE);
      set(empty, list.children.length ? "" : say.nothing[kind]);
    } catch (refusal) {
      if (mine === turn && !gone) set(empty, refusal.answered ? refusal.message : NO_ANSWER);
    } finally {
      older.removeAttribute("aria-busy");
    }
  }

  async function begin() {
    ++turn;
    rows.clear();
    oldest = null;
    ready = false;
    list.replaceChildren();
    set(empty, "");
    set(element.querySelector("#kind-says"), say.kindsSay[kind]);
    recount();
    await page();
    const back = kept.opened !== null && list.querySelector(`[data-seq="${kept.opened}"]`);
    kept.opened = null;
    if (back) back.focus();
  }

  async function recount() {
    waiting = null;
    try {
      const found = { ...await troubles(log.shoot, log.camera), all: log.last() };
      if (!gone) for (const one of choices) set(one.lastChild, count(found[one.dataset.kind]));
    } catch {
      // the figures stay as they were; the list itself says that the rig does not answer
    }
  }

  /** Put a row on top; whoever has scrolled on sees the same rows where they were. */
  function onTop(frame) {
    const before = list.getBoundingClientRect();
    list.prepend(row(frame));
    if (before.top < 0) window.scrollBy({ top: list.getBoundingClientRect().height - before.height, behavior: "instant" });
    set(empty, "");
  }

  async function save() {
    keep.setAttribute("aria-busy", "true");
    try {
      const address = URL.createObjectURL(await csv(log.shoot, log.camera));
      make("a", { href: address, download: `${log.shoot}.csv` }).click();
      setTimeout(() => URL.revokeObjectURL(address), 60_000);
    } catch {
      tell(say.csvNot, { trouble: true });
    } finally {
      keep.removeAttribute("aria-busy");
    }
  }

  begin();
  return {
    element,
    changed(frame) {
      const known = rows.get(frame.seq), first = Number(list.querySelector("button")?.dataset.seq ?? 0);
      const fits = kind === "all" || (kind === "missed" ? none(frame) : whyDoubted(frame) !== "");
      if (known) fill(known.firstChild, frame);
      else if (ready && kind === "all" && frame.seq > first + 1) begin(); // some were not heard of, as while the link was lost
      else if (ready && fits && frame.seq > first) onTop(frame);
      set(choices[0].lastChild, count(log.last()));
      waiting ??= setTimeout(recount, AGAIN_MS);
    },
    drawn() {},
    close() { gone = true; clearTimeout(waiting); },
  };
}
