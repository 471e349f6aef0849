// A film that moves within the page, with controls of its own: a browser's are small, and as white at night as by day.

import { clips as say, frames } from "../words.js";
import { draw, make } from "../dom.js";
import { runs } from "../figures.js";

const PLAY = "M6 3v18l15-9z", PAUSE = "M5 4h5v16H5zM14 4h5v16h-5z", WHOLE = "M3 3h7v3H6v4H3zM14 3h7v7h-3V6h-4zM3 14h3v4h4v3H3zM18 14h3v7h-7v-3h4z";
const FINE = 1000;

/** Begins at once, and over and over. `none` is called where the browser cannot show it. */
export function film(url, name, none) {
  const video = make("video", { playsinline: true, loop: true, src: url, "aria-label": name });
  const button = (label, path, act) => make("button", { type: "button", "aria-label": label, onclick: act }, icon(path));
  const play = button(frames.pause, PAUSE, () => (video.paused ? video.play().catch(() => {}) : video.pause()));
  const place = make("input", { type: "range", max: FINE, value: 0, "aria-label": say.place, oninput: () => { if (video.duration) video.currentTime = (place.value / FINE) * video.duration; } });
  const whole = button(say.whole, WHOLE, () => (video.requestFullscreen ?? video.webkitEnterFullscreen)?.call(video)?.catch(() => {}));
  const bar = make("div", { class: "film-bar" }, play, place, whole);

  function stands() {
    play.setAttribute("aria-label", video.paused ? frames.play : frames.pause);
    play.replaceChildren(icon(video.paused ? PLAY : PAUSE));
  }
  function moves() {
    if (!video.duration) return;
    place.value = Math.round((video.currentTime / video.duration) * FINE);
    place.setAttribute("aria-valuetext", say.at(runs(video.currentTime), runs(video.duration)));
  }
  for (const kind of ["play", "pause"]) video.addEventListener(kind, stands);
  video.addEventListener("timeupdate", moves);
  video.addEventListener("click", () => play.click());
  video.addEventListener("error", none);
  video.play().catch(() => {}); // where it may not begin by itself, the button is there
  stands();
  return [video, bar];
}

const icon = (d) => draw("svg", { viewBox: "0 0 24 24", class: "mark", "aria-hidden": "true" }, draw("path", { d }));
