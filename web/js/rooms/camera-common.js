// What the parts of the camera's room share: whether a shoot has the camera, and how an answer that failed is told.

import { camera as say } from "../words.js";
import { make } from "../dom.js";
import { shoot } from "../rig.js";

/** What a shoot does with a camera: `runs` where its frames come first, `held`, or null where it is free. */
export function taken(id) {
  const { state, plan } = shoot() ?? {};
  if (!["checking", "shooting", "recovering", "held"].includes(state)) return null;
  if (plan?.cameras?.use && !plan.cameras.use.includes(id)) return null;
  return state === "held" ? "held" : "runs";
}

export const path = (id, call) => `cameras/${encodeURIComponent(id)}/${call}`;

/** The rig's own words with its remedy, or that it did not answer. */
export const why = (refusal) => (refusal.answered ? refusal.message : say.noAnswer);

export const trouble = (text = "") => make("p", { class: "trouble", role: "alert", hidden: !text }, text);

/** Say a trouble in its place, or take it away. */
export function complain(element, text) {
  element.textContent = text ?? "";
  element.hidden = !text;
}

/** A list of facts: pairs of a name and its text; those without a text are left out. */
export const facts = (pairs) => make("dl", { class: "facts" },
  pairs.filter(([, text]) => text != null).map(([name, text]) => make("div", {}, make("dt", {}, name), make("dd", {}, text))));
