// The phone's screen as a dim lamp that puts structure into a foreground: white or red, as bright as the slider says. It
// begins red and at its darkest; from one brightness to another it goes smoothly (lamp.css), however the slider jumps.

import { lamp as say } from "../words.js";
import { make } from "../dom.js";
import { percent } from "../figures.js";
import { nextRelease, on, rigTime, state } from "../rig.js";

const LEAST = 2;

export function open(place, hall) {
  hall.bare(true);
  let red = true;
  const field = make("div", { id: "lamp-field", "aria-hidden": "true" });
  const told = make("output", { id: "lamp-told", for: "lamp-bright" });
  const next = make("span", { id: "lamp-next" });
  const slider = make("input", { type: "range", id: "lamp-bright", min: LEAST, max: 100, step: 1, value: LEAST, oninput: shine });
  const colours = ["red", "white"].map((colour) => make("button", {
    type: "button", data: { colour }, "aria-pressed": String(colour === "red"),
    onclick() {
      red = colour === "red";
      if (!red) slider.value = Math.min(slider.valueAsNumber, 10); // the same step would be several times brighter
      for (const button of colours) button.setAttribute("aria-pressed", String(button.dataset.colour === colour));
      shine();
    },
  }, say[colour]));

  /** By the eye's measure: half way along the slider looks half as bright, as far as a screen's own curve allows. */
  function shine() {
    const level = Math.round((slider.valueAsNumber / 100) * 255);
    field.style.backgroundColor = red ? `rgb(${level}, 0, 0)` : `rgb(${level}, ${level}, ${level})`;
    told.textContent = percent(slider.valueAsNumber);
  }

  place.append(make("div", { id: "lamp" }, field,
    make("div", { id: "lamp-bar" },
      make("p", { id: "lamp-says", class: "quiet" }, say.says, " ", next),
      make("label", { for: "lamp-bright" }, say.bright, " ", told), slider,
      make("div", { class: "pair" }, make("button", { type: "button", id: "lamp-back", onclick: hall.leave }, say.back), colours))));
  shine();

  const tick = () => {
    const due = nextRelease();
    next.textContent = due !== null && state() === "shooting" ? say.next(Math.max(0, due - rigTime())) : "";
  };
  const ticking = setInterval(tick, 500), end = on("now", tick);
  return () => { clearInterval(ticking); end(); };
}
