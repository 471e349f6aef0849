// Which part of the picture is looked at: the picture, and beside a magnified part the whole, on which it is chosen.

import { camera as say } from "../words.js";
import { make, set, show } from "../dom.js";

const ZOOMS = [1, 2, 4, 8, 16], FIRST = 4;

const within = (value, zoom) => Math.min(1 - 0.5 / zoom, Math.max(0.5 / zoom, value));
const round = (value) => Math.round(value * 1000) / 1000;

/** `changed` is called when another part is wanted. */
export function partChooser(changed) {
  let zoom = 1, x = 0.5, y = 0.5, wholeAt = null, dragging = false;
  const picture = make("canvas", { id: "look-picture", role: "img", "aria-label": say.picture(1), width: 3, height: 2, onclick: nearTo });
  const whole = make("canvas", { "aria-hidden": "true", width: 3, height: 2 }), frame = make("span", { "aria-hidden": "true" });
  const chooser = make("button", { type: "button", id: "look-whole", "aria-label": say.part, onkeydown: byKey, onpointerdown: drag, onpointermove: drag, onpointerup: drag, onpointercancel: drag }, whole, frame);
  const told = make("span", { id: "look-zoom", class: "figure", role: "status" }), says = make("p", { class: "quiet", id: "look-says" });
  const step = (by) => make("button", { type: "button", "aria-label": by < 0 ? say.wider : say.nearer, data: { zoom: by }, onclick: () => move(ZOOMS[ZOOMS.indexOf(zoom) + by], x, y) }, by < 0 ? "−" : "+");
  const less = step(-1), more = step(1);
  const beside = make("div", { id: "look-beside" }, chooser, make("div", { class: "zoom" }, less, told, more));
  const element = make("div", { id: "look-part", class: "stack" }, picture, says, beside);

  function move(to, toX, toY) {
    if (to === undefined) return;
    const [nextX, nextY] = [round(within(toX, to)), round(within(toY, to))];
    if (to === zoom && nextX === x && nextY === y) return;
    [zoom, x, y] = [to, nextX, nextY];
    draw();
    changed();
  }

  function draw() {
    set(told, say.times(zoom));
    less.setAttribute("aria-disabled", String(zoom === ZOOMS[0])); // not `disabled`: that would drop the focus
    more.setAttribute("aria-disabled", String(zoom === ZOOMS.at(-1)));
    show(chooser, zoom > 1 && wholeAt !== null);
    picture.setAttribute("aria-label", say.picture(zoom));
    set(says, zoom === 1 ? say.picture(1) : wholeAt === null ? say.picture(zoom) : say.whole((performance.now() - wholeAt) / 1000));
    Object.assign(frame.style, { left: `${100 * (x - 0.5 / zoom)}%`, top: `${100 * (y - 0.5 / zoom)}%`, width: `${100 / zoom}%`, height: `${100 / zoom}%` });
  }

  const place = (event, element) => {
    const at = element.getBoundingClientRect();
    return [(event.clientX - at.left) / at.width, (event.clientY - at.top) / at.height];
  };

  /** A tap on the whole picture looks closer at that place. */
  function nearTo(event) {
    if (zoom === 1) move(FIRST, ...place(event, picture));
  }

  function drag(event) {
    if (event.type === "pointerdown") { dragging = true; chooser.setPointerCapture(event.pointerId); }
    if (dragging) move(zoom, ...place(event, whole));
    if (event.type === "pointerup" || event.type === "pointercancel") dragging = false;
  }

  function byKey(event) {
    const [dx, dy] = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key] ?? [0, 0];
    if (!dx && !dy) return;
    event.preventDefault();
    move(zoom, x + (0.25 * dx) / zoom, y + (0.25 * dy) / zoom);
  }

  /** Show a picture, which is of the whole or of the part. */
  async function paint(blob, isWhole) {
    const seen = await createImageBitmap(blob).catch(() => null);
    if (seen === null) return; // broken: the next one comes
    for (const canvas of isWhole ? [picture, whole] : [picture]) {
      if (canvas.width !== seen.width || canvas.height !== seen.height) [canvas.width, canvas.height] = [seen.width, seen.height];
      canvas.getContext("2d").drawImage(seen, 0, 0);
    }
    seen.close();
    if (isWhole) wholeAt = performance.now();
    draw();
  }

  draw();
  return { element, paint, now: () => ({ zoom, x, y }), pictured: (wanted) => { show(picture, wanted); show(says, wanted); } };
}
