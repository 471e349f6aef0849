// Looking through a camera: live view, a part of it magnified, and figures for the focus. Begun by a tap only. It ends with
// the room, when the phone is put away, when a shoot takes the camera, and by itself where nobody touches the page.

import { camera as say } from "../words.js";
import { make, set, show } from "../dom.js";
import { ask } from "../link.js";
import { live, on } from "../rig.js";
import { complain, path, taken, trouble, why } from "./camera-common.js";
import { lightDrawing, Trend, trendDrawing } from "./camera-focus.js";
import { partChooser } from "./camera-part.js";
import { pictures } from "./multipart.js";

const IDLE_S = 180, RATE_S = 8;

/** How often, how wide (null: as the body sends them), and the pause between two figures. For one bar of Wi-Fi: calm. */
const SPEEDS = { figures: { per_s: 0.2, width: 64, pause_ms: 300 }, calm: { per_s: 0.5, width: 480, pause_ms: 600 }, quick: { per_s: 4, width: null, pause_ms: 300 } };

const seconds = () => performance.now() / 1000;

export function open(box, id, hall) {
  let looking = false, turn = 0, speed = "calm", begun = 0, touched = 0, came = [], restart = null, ticking = null;
  const streams = new Set(), trend = new Trend(), curve = trendDrawing(), light = lightDrawing();
  const button = make("button", { type: "button", id: "look-through", class: "wide", onclick: toggle }, say.look);
  const said = trouble(), waits = make("p", { id: "look-waits", class: "quiet", role: "status", hidden: true }, say.beginning);
  const part = partChooser(() => { trend.clear(); again(400); });
  const word = make("p", { id: "trend-word", role: "status" }), share = make("p", { id: "trend-share", class: "figure" });
  const speedSays = make("p", { class: "quiet", id: "speed-says" });
  const speeds = Object.keys(SPEEDS).map((key) => make("button", { type: "button", data: { speed: key }, onclick: () => { speed = key; drawSpeed(); again(0); } }, say.speeds[key]));
  const status = make("p", { class: "quiet", id: "look-status" });
  const scene = make("div", { id: "look-scene", class: "stack", hidden: true }, waits, part.element,
    make("div", { id: "trend-says" }, word, share), curve.svg,
    make("button", { type: "button", id: "trend-anew", onclick: () => { trend.clear(); drawTrend(); } }, say.anew),
    make("p", { class: "quiet" }, say.trendSays), light.element,
    make("div", { class: "pair", role: "group", "aria-label": say.speed }, speeds), speedSays, status);
  box.append(make("p", { id: "look-sun" }, say.sun), make("p", { class: "quiet" }, say.warm), button, said, scene);

  function drawSpeed() {
    for (const each of speeds) each.setAttribute("aria-pressed", String(each.dataset.speed === speed));
    set(speedSays, say.speedSays[speed]);
    part.pictured(speed !== "figures");
  }

  function drawTrend() {
    set(word, say.trend[trend.word]);
    set(share, trend.share === null ? "" : say.ofBest(trend.share));
    curve.show(trend, seconds());
  }

  const offer = () => {
    const has = taken(id);
    if (has === "runs" && looking) end(say.ended.shoot);
    button.disabled = !looking && has === "runs";
    set(button, looking ? say.end : say.look);
    hall.looking(looking);
  };

  function toggle() {
    if (looking) end();
    else if (taken(id) !== "runs") begin();
  }

  function begin() {
    looking = true;
    begun = touched = seconds();
    came = [];
    complain(said);
    trend.clear();
    drawTrend();
    show(scene, true);
    offer();
    see();
    figures();
    ticking = setInterval(tick, 1000);
    tick();
    scene.scrollIntoView({ block: "start" });
  }

  function end(text) {
    if (!looking) return;
    looking = false;
    turn++;
    clearInterval(ticking);
    clearTimeout(restart);
    for (const stream of streams) stream.abort();
    show(scene, false);
    complain(said, text);
    offer();
  }

  /** See what is wanted now, once the hand rests. What is on the way goes on until the first new picture is there. */
  function again(wait_ms) {
    clearTimeout(restart);
    if (looking) restart = setTimeout(see, wait_ms);
  }

  async function see() {
    const mine = ++turn, stream = new AbortController(), { per_s, width } = SPEEDS[speed], { zoom, x, y } = part.now();
    streams.add(stream);
    show(waits, true);
    try {
      const query = new URLSearchParams({ per_s, zoom, x, y, ...(width && { width }) });
      const answer = await fetch(`api/v1/${path(id, "live.mjpeg")}?${query}`, { signal: stream.signal });
      if (!answer.ok) {
        await ask("GET", path(id, "focus")); // says why, in the rig's words
        throw new Error(`${answer.status}`);
      }
      for await (const picture of pictures(answer.body, (bytes) => came.push([seconds(), bytes]))) {
        if (mine !== turn) continue; // its successor has no picture yet
        for (const other of streams) if (other !== stream) other.abort();
        show(waits, false);
        await part.paint(picture, zoom === 1);
      }
      if (mine === turn) end(taken(id) === "runs" ? say.ended.shoot : say.ended.camera);
    } catch (refusal) {
      if (mine === turn) end(taken(id) === "runs" ? say.ended.shoot : refusal.answered ? why(refusal) : say.ended.link);
    } finally {
      streams.delete(stream);
    }
  }

  /** Figures of the same part, one after the other; those of a part that was left meanwhile do not count. */
  async function figures() {
    const mine = begun;
    while (looking && begun === mine) {
      const { zoom, x, y } = part.now(), now = turn;
      try {
        const seen = await ask("GET", `${path(id, "focus")}?${new URLSearchParams({ zoom, x, y })}`, undefined, { patience_ms: 12000 });
        if (!looking || begun !== mine) return;
        came.push([seconds(), JSON.stringify(seen).length]);
        const same = part.now();
        if (same.zoom === zoom && same.x === x && same.y === y) {
          trend.add(seconds(), seen.sharpness);
          light.show(seen);
          drawTrend();
        }
      } catch (refusal) {
        if (looking && begun === mine && refusal.answered && now === turn && taken(id) === "runs") return end(say.ended.shoot);
      }
      await new Promise((done) => setTimeout(done, SPEEDS[speed].pause_ms));
    }
  }

  function tick() {
    const now = seconds();
    came = came.filter(([at]) => now - at <= RATE_S);
    const bytes = came.reduce((sum, [, size]) => sum + size, 0), over = Math.max(1, Math.min(RATE_S, now - begun));
    if (now - touched >= IDLE_S) end(say.ended.idle);
    else set(status, say.status(now - begun, bytes / over, IDLE_S - (now - touched)));
  }

  const touch = () => { touched = seconds(); };
  const away = () => { if (document.visibilityState === "hidden") end(say.ended.away); };
  document.addEventListener("pointerdown", touch);
  document.addEventListener("keydown", touch);
  document.addEventListener("visibilitychange", away);
  const ears = [...["now", "shoot"].map((kind) => on(kind, offer)), on("link", () => { if (looking && !live()) end(say.ended.link); })];
  drawSpeed();
  offer();
  return {
    toggle,
    end() {
      end();
      for (const ear of ears) ear();
      document.removeEventListener("pointerdown", touch);
      document.removeEventListener("keydown", touch);
      document.removeEventListener("visibilitychange", away);
    },
  };
}
