// Why something is as it is.

import { CAUSES } from "./words.js";

/** A cause in the page's language where it is one of the rig's fixed ones, else as the rig says it. */
export const cause = (text) => CAUSES[text] ?? text;
