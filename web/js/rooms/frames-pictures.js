// Small pictures that were fetched, kept while they may be wanted again: the rig sends each once.

import { pictureOf } from "./frames-log.js";

const KEPT = 60;

export function openPictures() {
  const kept = new Map();
  const load = (frame) => {
    const image = new Image();
    image.src = pictureOf(frame);
    return image.decode().then(() => image, () => { kept.delete(frame.id); return null; });
  };
  return {
    /** An image that can be shown at once, or null where it did not come through. */
    get(frame) {
      const had = kept.get(frame.id);
      kept.delete(frame.id);
      const coming = had ?? load(frame);
      kept.set(frame.id, coming); // the newest last
      if (kept.size > KEPT) kept.delete(kept.keys().next().value);
      return coming;
    },
  };
}
