// The log of one shoot, and of one camera, as far as this phone has asked for it: never more than what is looked at.

import { ask } from "../link.js";

/** Slots of the view over the whole shoot: more than a phone has room for is not asked for. */
export const WHOLE = 240;
/** So many of the newest rows have each camera in them, and a picture where there are any. */
export const RECENT = 12;
const CHUNK = 40, KEPT = 3000, MARKED = 200;

const path = (shoot, query) => {
  const given = Object.entries(query).filter(([, value]) => value != null).map(([key, value]) => `${key}=${encodeURIComponent(value)}`);
  return `shoots/${encodeURIComponent(shoot)}/frames?${given.join("&")}`;
};

/** Frames of a shoot from the newest back. */
export const newest = (shoot, { camera, limit, before, only } = {}) =>
  ask("GET", path(shoot, { newest: true, camera, limit, before, only }));

/** How many slots are in trouble, by its kind. */
export const troubles = (shoot, camera) =>
  ask("GET", `shoots/${encodeURIComponent(shoot)}/frames/troubles${camera ? `?camera=${encodeURIComponent(camera)}` : ""}`);

/** `first`, the newest frame, tells how far the shoot has come; `zone` is that of its place. */
export function openLog(shoot, camera, first, zone) {
  const rows = new Map([[first.seq, first]]);
  let last = first.seq, settled = 0, every = Math.ceil(last / WHOLE), whole = new Map(), missed = [];

  const log = {
    shoot, camera, zone,
    last: () => last,
    /** The newest slot of which it is known what came of it. */
    newest: () => (last - settled < RECENT ? settled : last),
    every: () => every,
    /** Every so manyth slot of the whole shoot, by number. */
    whole: () => [...whole.values()].sort((a, b) => a.seq - b.seq),
    /** The row of a slot; null where the log has none, undefined where it was not asked for yet. */
    row: (seq) => rows.get(seq) ?? whole.get(seq) ?? rows.get(seq),
    /** Runs of slots without a frame, `[from, to]`, of the newest that are known. */
    runs() {
      const found = [];
      for (const seq of missed) {
        if (found.length && found.at(-1)[1] === seq - 1) found.at(-1)[1] = seq;
        else found.push([seq, seq]);
      }
      return found;
    },

    /** Fetch the view over the whole shoot, and which slots were missed. */
    async look() {
      const [thinned, gaps] = await Promise.all([
        ask("GET", path(shoot, { camera, every, limit: 2 * WHOLE })), newest(shoot, { camera, only: "missed", limit: MARKED })]);
      for (const frame of [...thinned, ...gaps]) log.add(frame);
    },

    /** Fetch a slot and those after it, of every `stride`th; so that they are there when they are wanted. */
    async need(seq, stride = 1) {
      if (log.row(seq) !== undefined) return;
      const from = stride === 1 ? Math.max(1, seq - CHUNK / 4) : seq;
      const found = await ask("GET", path(shoot, { camera, after: from - 1, every: stride, limit: CHUNK }));
      if (rows.size > KEPT) for (const [slot, frame] of rows) if (!frame || !none(frame)) rows.delete(slot);
      for (let slot = from; slot < from + CHUNK * stride && slot < last; slot += stride) rows.set(slot, log.row(slot) ?? null);
      found.forEach(log.add);
      if (log.row(seq) === undefined) rows.set(seq, null);
    },

    /** A frame, new or with more known of it; true where it is of this log. */
    add(frame) {
      if (frame.shoot !== shoot || (camera && frame.camera !== camera)) return false;
      const { seq } = frame;
      rows.set(seq, frame);
      last = Math.max(last, seq);
      if (frame.preview || none(frame)) settled = Math.max(settled, seq);
      const at = missed.findLastIndex((other) => other <= seq), known = missed[at] === seq;
      if (none(frame) && !known) missed.splice(at + 1, 0, seq);
      else if (!none(frame) && known) missed.splice(at, 1);
      if (seq % every === 0) whole.set(seq, frame);
      if (whole.size > 2 * WHOLE) {
        every *= 2;
        whole = new Map([...whole].filter(([other]) => other % every === 0));
      }
      return true;
    },
  };
  return log;
}

/** A slot of which there is no frame: missed, or lost afterwards. */
export const none = (frame) => frame.state === "missed" || frame.state === "lost";

/** The small picture's address. */
export const pictureOf = (frame) => `api/v1/frames/${frame.id}/preview.jpg`;

/** The whole log as CSV, a blob. */
export async function csv(shoot, camera) {
  const answer = await fetch(`api/v1/${path(shoot, { camera })}`, { headers: { Accept: "text/csv" } });
  if (!answer.ok) throw new Error(String(answer.status));
  return answer.blob();
}
