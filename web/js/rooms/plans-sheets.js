// What is asked before a plan is begun, copied, renamed, deleted, brought back or started.

import { plans as say, start } from "../words.js";
import { ask } from "../link.js";
import { make } from "../dom.js";
import { clock } from "../figures.js";
import { Order } from "../once.js";
import { heard, rigTime, seconds } from "../rig.js";
import { openSheet } from "../sheet.js";
import { coming } from "../sheets/start.js";
import { NAME, drafted, drop, fresh, keep } from "./plans-draft.js";
import { worded } from "./plans-fields.js";
import { figures } from "./plans-forecast.js";

const path = (name, more = "") => `plans/${encodeURIComponent(name)}${more}`;
const go = (name) => { location.hash = `plans/${encodeURIComponent(name)}`; };

/** `ask` whose errors are one sentence, as sheets show them. */
async function plainly(...asked) {
  try {
    return await ask(...asked);
  } catch (refusal) {
    throw new Error(refusal.answered ? worded(refusal) : say.noAnswer);
  }
}

function named(value) {
  const input = make("input", { id: "plan-new-name", autocomplete: "off", autocapitalize: "none", spellcheck: "false", maxlength: 64, required: true, value });
  const body = make("div", { class: "field" }, make("label", { for: input.id }, say.name), input, make("p", { class: "quiet" }, say.nameSays));
  const name = () => {
    const given = input.value.trim().replace(/\s+/g, "-");
    if (!NAME.test(given)) throw new Error(say.badName);
    return given;
  };
  return { body, name };
}

export function newSheet(taken) {
  const { body, name } = named("");
  openSheet({
    name: "plan-new", title: say.newTitle, body, doing: say.begin,
    async act() {
      const wanted = name();
      if (taken.includes(wanted)) throw new Error(say.taken);
      keep(wanted, { plan: fresh(wanted, await plainly("GET", "defaults")), was: "", base: null });
      go(wanted);
    },
  });
}

/** A copy of what stands in the form; it is saved like any plan. */
export function copySheet(plan, from) {
  const { body, name } = named(`${from}-2`.slice(-64));
  openSheet({
    name: "plan-copy", title: say.copyTitle(from), body, doing: say.acts.copy.replace("…", ""),
    async act() {
      const wanted = name(), kept = await plainly("GET", "plans");
      if (drafted(wanted) || kept.some((one) => one.name === wanted)) throw new Error(say.taken);
      keep(wanted, { plan: { ...structuredClone(plan), name: wanted }, was: "", base: null });
      go(wanted);
      return say.copied;
    },
  });
}

export function renameSheet(from, dirty) {
  const { body, name } = named(from), order = new Order();
  openSheet({
    name: "plan-rename", title: say.renameTitle(from), body, doing: say.acts.rename.replace("…", ""),
    async act() {
      const wanted = name();
      let base = null;
      const draft = drafted(from);
      try {
        const plan = await order.give(path(from, "/rename"), { name: wanted }, { tagged: (tag) => { base = tag; } });
        drop(from);
        if (dirty && draft) keep(wanted, { plan: { ...draft.plan, name: wanted }, was: JSON.stringify(plan), base });
      } catch (refusal) {
        throw new Error(refusal.answered ? refusal.message : say.noAnswer);
      }
      go(wanted);
      return say.renamed(wanted);
    },
  });
}

export function deleteSheet(name) {
  openSheet({
    name: "plan-delete", title: say.deleteTitle(name), body: make("p", {}, say.deleteSays), doing: say.acts.delete.replace("…", ""),
    async act() {
      await plainly("DELETE", path(name));
      drop(name);
      location.hash = "plans";
      return say.deleted(name);
    },
  });
}

export async function versionsSheet(name, take) {
  const list = make("div", { class: "stack", "aria-busy": "true" }, make("p", {}, say.working));
  const sheet = openSheet({ name: "plan-versions", title: say.versionsTitle, body: make("div", {}, make("p", { class: "quiet" }, say.versionsSays), list) });
  try {
    const versions = await plainly("GET", path(name, "/versions"));
    list.replaceChildren(...versions.map(({ sha256, kept_utc }, i) => make("button", {
      type: "button", class: "wide", disabled: i === 0,
      async onclick() {
        try {
          take(await plainly("GET", path(name, `/versions/${sha256}`)));
          sheet.close();
        } catch (error) {
          sheet.complain(error.message);
        }
      },
    }, i === 0 ? say.versionNow(clock(seconds(kept_utc), 0)) : clock(seconds(kept_utc), 0))));
    if (versions.length < 2) list.append(make("p", {}, say.noOlder));
  } catch (error) {
    list.replaceChildren();
    sheet.complain(error.message);
  }
  list.removeAttribute("aria-busy");
}

/** Start what stands in the form, or schedule it; told first is what it comes to. */
export function startSheet(hall, plan, dirty) {
  const order = new Order(), told = make("dl", {});
  const comes = coming({
    order,
    changed: (can, text) => { sheet?.ready(can); sheet?.name(text); },
    drawn: (forecast) => told.replaceChildren(...figures(forecast).map(([name, value]) => make("div", {}, make("dt", {}, name), make("dd", {}, value)))),
  });
  let sheet = null;
  sheet = openSheet({
    name: "plan-start", title: say.startTitle(plan.name), doing: start.act(null, 0),
    body: make("div", { id: "plan-starts" }, comes, told, make("p", { class: "quiet", hidden: !dirty }, say.startsUnsaved)),
    look: () => comes.look(plan, plan),
    async act() {
      const shoot = await order.give("shoots", { plan });
      heard("shoot", shoot);
      hall.leave();
      return start.done(shoot.plan_name, clock(seconds(shoot.start_utc), rigTime(), shoot.plan.site.timezone), seconds(shoot.start_utc) - rigTime());
    },
  });
  sheet.addEventListener("close", comes.end);
}
