// All sheets by their names: they come together, once the first is wanted.

import * as change from "./change.js";
import * as held from "./held.js";
import * as start from "./start.js";

export const sheets = { change, held, start };
