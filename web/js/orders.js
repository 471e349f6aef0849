// What a person can tell the rig to do. Nothing is queued: each order is carried out, or the page says that it was not.

import * as say from "./words.js";
import { ask } from "./link.js";
import { $, ENDED, interval, live, set, shoot, state, takeShoot } from "./face.js";

const UNDO_S = 5, SAID_MS = 6000;
const STEP = { "pace-to": (value) => (value < 10 ? 0.5 : value < 30 ? 1 : 5), "pace-over": () => 5 };

let saidTimer = null, stopping = null, ending = null;

function tell(text, { trouble = false, button = null, act = null } = {}) {
  clearTimeout(saidTimer);
  set("said-text", text);
  $("said").hidden = false;
  $("said").classList.toggle("trouble", trouble);
  $("said-button").hidden = !(button ?? trouble);
  set("said-button", button ?? say.UNDERSTOOD);
  $("said-button").onclick = act ?? (() => { $("said").hidden = true; });
  if (!trouble && !button) saidTimer = setTimeout(() => { $("said").hidden = true; }, SAID_MS);
}

const whyNot = (order, refusal) => (refusal.answered ? say.failed(order, refusal.message) : say.unanswered(order));

async function order(name, path, body, keepalive) {
  const button = $(name);
  button.disabled = true;
  button.setAttribute("aria-busy", "true");
  if (say.DOING[name]) set(name, say.DOING[name]);
  try {
    return await ask("POST", path, body, keepalive);
  } finally {
    button.disabled = false;
    button.removeAttribute("aria-busy");
    set(name, say.NAMES[name]);
  }
}

async function simple(name, keepalive = false, id = shoot().id) {
  try {
    const after = await order(name, `shoots/${encodeURIComponent(id)}/${name}`, undefined, keepalive);
    takeShoot(after);
    if (name === "stop" && !ENDED.includes(after.state)) {
      ending = after.id;
      tell(say.DONE.stopping);
    } else {
      tell(say.DONE[name]);
    }
  } catch (refusal) {
    tell(whyNot(name, refusal), { trouble: true });
  }
  offer();
}

/**
 * Stop, after a few seconds in which it can be taken back and nothing else be ordered. Whoever puts the phone away has
 * made up their mind. Without a link it is not sent, nor kept for later.
 */
function stop() {
  let left = UNDO_S;
  const id = shoot().id;
  const end = () => {
    clearInterval(stopping.timer);
    document.removeEventListener("visibilitychange", stopping.away);
    window.removeEventListener("pagehide", go);
    stopping = null;
    offer();
  };
  const go = () => { end(); simple("stop", true, id); };
  const keep = () => { end(); tell(say.DONE.kept); };
  const count = () => {
    if (!live() || !navigator.onLine) {
      end();
      tell(say.STOP_NOT_SENT, { trouble: true });
    } else if (left === 0) {
      go();
    } else {
      tell(say.stopsIn(left--), { button: say.DO_NOT_STOP, act: keep });
    }
  };
  stopping = {
    id, end,
    timer: setInterval(count, 1000),
    away: () => { if (document.visibilityState === "hidden") go(); },
  };
  document.addEventListener("visibilitychange", stopping.away);
  window.addEventListener("pagehide", go);
  count();
  offer();
}

// ---- sheets

function sheet(name, open, act) {
  const dialog = $(`${name}-sheet`), form = dialog.querySelector("form"), trouble = $(`${name}-trouble`);
  const leave = dialog.querySelector(".leave");
  leave.textContent = say.LEAVE;
  leave.onclick = () => dialog.close();
  dialog.addEventListener("click", (event) => { if (event.target === dialog) dialog.close(); });
  const complain = (text) => { trouble.textContent = text; trouble.hidden = !text; };
  form.noValidate = true;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    complain("");
    try {
      const said = await act();
      dialog.close();
      tell(said);
    } catch (error) {
      complain(error.answered === undefined ? error.message : whyNot(name, error));
    }
    offer();
  });
  $(name).addEventListener("click", async () => {
    complain("");
    try {
      await open(complain);
      dialog.showModal();
    } catch (refusal) {
      tell(whyNot(name, refusal), { trouble: true });
    }
  });
}

function openPace() {
  set("pace-now", say.paceNow(interval()));
  set("pace-rule", say.paceRule(shoot().plan.pace.max_change));
  $("pace-to").value = Math.round((interval() ?? 5) * 10) / 10;
  $("pace-over").value = 10;
}

async function changePace() {
  const to = $("pace-to").valueAsNumber, minutes = $("pace-over").valueAsNumber;
  if (!(to > 0) || !(minutes >= 0)) throw new Error(say.NO_NUMBER);
  await order("pace", `shoots/${encodeURIComponent(shoot().id)}/pace`, { to_s: to, over_s: minutes * 60 });
  return say.DONE.pace(to, minutes);
}

async function openStart(complain) {
  const plans = await ask("GET", "plans");
  $("start-plans").replaceChildren(...plans.map((plan, number) => {
    const label = Object.assign(document.createElement("label"), { className: "choice" });
    const radio = Object.assign(document.createElement("input"), { type: "radio", name: "plan", value: plan.name, checked: number === 0 });
    const text = Object.assign(document.createElement("span"), { textContent: plan.name });
    text.append(Object.assign(document.createElement("small"), { textContent: say.planWhen(plan.when ?? {}) }));
    label.append(radio, text);
    return label;
  }));
  $("start-do").disabled = plans.length === 0;
  if (!plans.length) complain(say.NO_PLANS);
}

async function start() {
  const plan = $("start-plans").querySelector("input:checked").value;
  const started = await order("start", "shoots", { plan });
  takeShoot(started);
  return say.DONE.start(started);
}

/** Show the orders that the present state allows. */
export function offer() {
  const name = state(), running = name !== "none" && !ENDED.includes(name);
  if (stopping && (!running || shoot().id !== stopping.id)) { // somebody else was quicker
    $("said").hidden = true;
    return stopping.end();
  }
  if (ending && ending === shoot()?.id && !running) {
    ending = null;
    tell(say.DONE.stop);
  }
  $("hold").hidden = !running || name === "held";
  $("resume").hidden = name !== "held";
  $("pace").hidden = !running;
  $("stop").hidden = !running;
  for (const id of ["hold", "resume", "pace", "stop"]) $(id).disabled = stopping !== null || $(id).getAttribute("aria-busy") === "true";
  $("start").hidden = running;
}

export function begin() {
  $("hold").addEventListener("click", () => simple("hold"));
  $("resume").addEventListener("click", () => simple("resume"));
  $("stop").addEventListener("click", stop);
  for (const button of document.querySelectorAll("[data-step]")) {
    const [id, by] = [button.dataset.step, Number(button.dataset.by)];
    button.textContent = by < 0 ? "−" : "+";
    button.setAttribute("aria-label", `${say.NAMES[`${id}-name`]}: ${by < 0 ? say.LESS : say.MORE}`);
    button.addEventListener("click", () => {
      const value = $(id).valueAsNumber || 0, size = STEP[id](by < 0 ? value - 0.01 : value);
      $(id).value = Math.round(Math.max(Number($(id).min), value + by * size) * 10) / 10;
    });
  }
  sheet("pace", openPace, changePace);
  sheet("start", openStart, start);
}
