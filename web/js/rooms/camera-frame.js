// A test frame: taken once for each tap, whatever the link does; its figures at once, its picture on tap.

import { camera as say } from "../words.js";
import { make, set, show } from "../dom.js";
import { Order } from "../once.js";
import { shutter } from "../figures.js";
import { document_, on } from "../rig.js";
import { complain, facts, path, taken, trouble } from "./camera-common.js";

const SHUTTERS = [1 / 1024, 1 / 256, 1 / 64, 1 / 16, 1 / 4, 1, 2, 4, 8, 16, 32], ISOS = [100, 200, 400, 800, 1600, 3200, 6400, 12800];
const PATIENCE_S = 90; // beside the exposure: a body's own dark frame takes as long again

export function open(box, id) {
  const words = say.test, order = new Order();
  let gone = false, busy = false;
  const choice = (name, values, write) => make("select", { id: `test-${name}` },
    make("option", { value: "" }, words.asSet), values.map((value) => make("option", { value }, write(value))));
  const time = choice("shutter", SHUTTERS, shutter), iso = choice("iso", ISOS, String);
  const act = make("button", { type: "button", id: "test-frame", class: "wide", onclick: take }, words.act);
  const not = make("p", { class: "quiet", hidden: true }, words.busy), said = trouble(), result = make("div", { id: "test-result", role: "status" });
  const label = (of, text, element) => make("div", {}, make("label", { for: of }, text), element);
  box.append(make("p", { class: "quiet" }, words.says), make("div", { class: "pair" }, label("test-shutter", words.shutter, time), label("test-iso", words.iso, iso)),
    not, act, said, result);

  async function take() {
    if (busy) return;
    busy = true;
    offer();
    complain(said);
    const wanted = { ...(time.value && { shutter_s: Number(time.value) }), ...(iso.value && { iso: Number(iso.value) }) };
    try {
      const frame = await order.give(path(id, "test-frame"), wanted, { patience_ms: 1000 * (PATIENCE_S + 2 * (wanted.shutter_s ?? 60)) });
      if (!gone) fill(frame);
    } catch (refusal) {
      if (!gone) complain(said, refusal.answered ? refusal.message : words.unanswered);
    } finally {
      busy = false;
      offer();
    }
  }

  function fill(frame) {
    const { seen } = frame;
    const picture = make("figure", { id: "test-picture", hidden: true });
    const tap = make("button", {
      type: "button", id: "test-tap", class: "wide", "aria-expanded": "false", "aria-controls": "test-picture",
      onclick() {
        const wanted = picture.hidden;
        if (wanted) {
          picture.replaceChildren(make("img", { alt: words.alt, src: `api/v1/${path(id, "test-frame.jpg")}#${Date.now()}`, onerror: () => picture.replaceChildren(make("p", { class: "trouble" }, words.lost)) }));
        }
        show(picture, wanted);
        tap.setAttribute("aria-expanded", String(wanted));
        set(tap, wanted ? words.hide : words.show);
      },
    }, words.show);
    result.replaceChildren(facts([
      [words.exposure, words.of(frame.shutter_s, frame.aperture, frame.iso)],
      [words.scene, frame.scene_ev === null ? words.notTold : words.ev(frame.scene_ev)],
      [words.ends, words.end(seen.clipped, seen.black)],
      [words.files, frame.camera_files.map((name) => name.slice(name.lastIndexOf("/") + 1)).join("\n") || null],
    ]), tap, picture);
  }

  function offer() {
    const has = taken(id), now = document_(), there = [now?.camera, ...(now?.beside ?? [])].some((one) => one?.id === id && one.connected);
    const not_ = has === "runs" || !there;
    set(not, there ? words.busy : words.away);
    for (const one of [time, iso]) set(one.firstChild, has === "held" ? words.asNext : words.asSet);
    show(not, not_);
    act.disabled = busy || not_;
    act.setAttribute("aria-busy", String(busy));
    set(act, busy ? words.taking : words.act);
  }

  const ears = ["now", "shoot"].map((kind) => on(kind, offer));
  offer();
  return { end() { gone = true; for (const ear of ears) ear(); } };
}
