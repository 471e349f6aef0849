// A screen that is truly black, but for the smallest mark: a dot that is lit for a moment with each frame. Its shape tells
// how it stands, its colour nothing: a dot goes on shooting, a ring waits or is held, a cross wants somebody. A tap on the
// screen shows a line of words for some seconds; the button below goes back.

import * as say from "../words.js";
import { draw, make } from "../dom.js";
import { document_, live, nextRelease, on, rigTime, running, seconds, shoot, state } from "../rig.js";
import { span } from "../figures.js";
import { rigSays } from "../rig-says.js";

const LIT_MS = 400, WORDS_MS = 6000, STEP_PX = 8, MOVE_MS = 60_000;

const SHAPES = {
  dot: () => draw("circle", { cx: 6, cy: 6, r: 3 }),
  ring: () => draw("circle", { cx: 6, cy: 6, r: 4, class: "stroke" }),
  cross: () => draw("path", { d: "M1 1l10 10M11 1l-10 10", class: "stroke" }),
};

/** What the mark is now: nothing lit is a frame that is not being released. */
function shape() {
  const now = document_();
  if (!live() || now === null || !now.well) return "cross";
  return state() === "shooting" ? "dot" : "ring";
}

function words() {
  const now = document_(), next = nextRelease();
  if (now === null || !live()) return say.black.noLink;
  const left = now.end_utc && running() ? say.left(seconds(now.end_utc), rigTime()) : null;
  const coming = next !== null && state() === "shooting" ? say.nextIn(Math.max(0, next - rigTime())) : null;
  return [say.STATES[state()] + ".", now.well ? say.ALL_WELL : rigSays(now.attention[0]), shoot() && say.black.frames(now.frames_done), coming, left && left[0].toUpperCase() + left.slice(1)].filter(Boolean).join(" ");
}

export function open(place, hall) {
  hall.bare(true);
  const mark = draw("svg", { id: "black-mark", viewBox: "0 0 12 12", class: "mark", "aria-hidden": "true" });
  const text = make("p", { id: "black-text", role: "status" });
  const back = make("button", { type: "button", id: "black-back", onclick: hall.leave }, say.black.back);
  const screen = make("div", { id: "black", tabindex: "0", role: "group", "aria-label": say.black.says }, mark, text, back);
  place.append(screen);
  let dark = null, hush = null, lock = null, shown = null;

  function light(ms) {
    if (shown !== shape()) mark.replaceChildren(SHAPES[shown = shape()]());
    mark.classList.add("lit");
    clearTimeout(dark);
    if (ms) dark = setTimeout(() => mark.classList.remove("lit"), ms);
  }
  /** What is not a frame stays lit: a ring or a cross is there to be seen whenever one looks. */
  const stand = () => (shape() === "dot" ? shown !== "dot" && light(LIT_MS) : light(0));

  function speak() {
    text.textContent = words();
    screen.classList.add("told");
    clearTimeout(hush);
    hush = setTimeout(() => { screen.classList.remove("told"); text.textContent = ""; }, WORDS_MS);
  }
  screen.addEventListener("click", (event) => { if (event.target !== back) speak(); });
  screen.addEventListener("keydown", (event) => { if (event.key === "Escape") hall.leave(); else if (event.key === " ") speak(); });

  // A screen that shows the same for hours keeps it: the mark wanders by some pixels.
  let steps = 0;
  const wander = () => { mark.style.transform = `translate(${(steps % 5) * STEP_PX}px, ${(Math.floor(steps / 5) % 5) * STEP_PX}px)`; steps += 1; };
  const moving = setInterval(wander, MOVE_MS);

  // Where the page came over https the browser may keep the screen on; else the phone's own setting decides.
  const wake = async () => { try { lock = await navigator.wakeLock?.request("screen"); } catch { lock = null; } };
  const again = () => { if (document.visibilityState === "visible") wake(); };
  document.addEventListener("visibilitychange", again);
  wake();

  const ends = [
    on("frame", (frame) => { if (frame.shoot === shoot()?.id && frame.state === "released" && shape() === "dot") light(LIT_MS); }),
    on("now", stand), on("shoot", stand), on("link", stand),
  ];
  stand();
  speak();
  screen.focus({ preventScroll: true });
  return () => {
    for (const end of ends) end();
    for (const timer of [dark, hush]) clearTimeout(timer);
    clearInterval(moving);
    document.removeEventListener("visibilitychange", again);
    lock?.release();
  };
}
