// Is the rig ready for a plan: in one line, and only when it is asked, since cameras are slow to tell.

import { start as say } from "../words.js";
import { ask } from "../link.js";
import { make, set } from "../dom.js";

const PATIENCE_MS = 70000;

/** A button and the line below it, for the plan that `named()` names; `clear()` takes the line away. */
export function readiness(named) {
  const line = make("p", { id: "ready-says", class: "lines", role: "status" });
  const button = make("button", { type: "button", id: "ready", class: "wide", onclick: look }, say.ready);
  let turn = 0, asked = null;

  function clear() {
    turn += 1;
    asked?.abort();
    set(line, "");
    button.removeAttribute("aria-busy");
  }
  async function look() {
    clear();
    const mine = turn;
    asked = new AbortController();
    button.setAttribute("aria-busy", "true");
    set(line, say.checking);
    try {
      const checked = await ask("GET", `check?plan=${encodeURIComponent(named())}`, undefined, { patience_ms: PATIENCE_MS, given_up: asked.signal });
      if (mine === turn) set(line, told(checked));
    } catch (refusal) {
      if (mine === turn) set(line, refusal.answered ? refusal.message : say.notChecked);
    } finally {
      if (mine === turn) button.removeAttribute("aria-busy");
    }
  }
  return { element: make("div", {}, button, line), clear };
}

/** How ready, and the worst finding with its remedy. */
function told({ ready, findings }) {
  const of = (level) => findings.filter((finding) => finding.level === level), worst = findings.find(({ level }) => level !== "pass");
  return [ready ? say.isReady(of("warn").length) : say.notReady(of("fail").length), worst && [worst.what, worst.remedy].filter(Boolean).join(". ")].filter(Boolean).join("\n");
}
