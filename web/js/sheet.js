// A sheet that comes up from below: a title, what is asked, and two buttons. Nothing is done until its second is tapped.

import * as say from "./words.js";
import { make, set } from "./dom.js";
import { entry, typed } from "./figures.js";
import { tell, whyNot } from "./orders.js";

/**
 * Open a sheet named `name` (an order of the words, for what is said when it fails). `act` does it and gives what is then
 * said; an error that it throws stays in the sheet. `look`, where given, shows what it comes to: it is called at once and
 * after each change of an input, late enough that typing does not ask for every letter, and says in the end whether it can
 * be done (null: a later look says so). Until then it cannot be. Gives the dialog, with `complain(text)`, `ready(can)`,
 * `again()`, which looks, `name(text)` for what its second button says, and `entitle(text)`.
 */
export function openSheet({ name, title, body, doing, act, look }) {
  const trouble = make("p", { class: "trouble", role: "alert", hidden: true });
  const go = doing && make("button", { type: "submit", id: `${name}-do` }, doing);
  const leave = make("button", { type: "button", class: "leave", onclick: () => dialog.close() }, doing ? say.LEAVE : say.CLOSE);
  const form = make("form", { method: "dialog", novalidate: true }, make("h2", { id: `${name}-title` }, title), body, trouble,
    make("div", { class: "pair" }, leave, go));
  const dialog = make("dialog", { id: `${name}-sheet`, "aria-labelledby": `${name}-title` }, form);
  let timer = null;
  dialog.complain = (text) => {
    set(trouble, text ?? "");
    trouble.hidden = !text;
    if (text) trouble.scrollIntoView({ block: "nearest" });
  };
  dialog.ready = (can) => { if (go) go.disabled = !can; };
  dialog.again = async () => {
    dialog.ready(false);
    const can = await look();
    if (can !== null) dialog.ready(can);
  };
  dialog.name = (text) => { if (go) set(go, text); };
  dialog.entitle = (text) => set(form.firstChild, text);
  dialog.addEventListener("click", (event) => { if (event.target === dialog) dialog.close(); });
  dialog.addEventListener("close", () => { clearTimeout(timer); dialog.remove(); });
  if (look) form.addEventListener("input", () => { dialog.ready(false); clearTimeout(timer); timer = setTimeout(dialog.again, 300); });
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (!go || go.getAttribute("aria-busy") === "true") return;
    dialog.complain("");
    go.setAttribute("aria-busy", "true");
    try {
      const said = await act();
      dialog.close();
      if (said) tell(said);
    } catch (error) {
      dialog.complain(error.answered === undefined ? error.message : whyNot(name, error));
    } finally {
      go.removeAttribute("aria-busy");
    }
  });
  document.body.append(dialog);
  dialog.showModal();
  if (look) dialog.again();
  return dialog;
}

/** A button that turns the sign of the number in a field: the keypads of some phones have no minus. */
export const sign = (input) => make("button", {
  type: "button", class: "sign", "aria-label": say.TURN_SIGN,
  onclick() {
    const is = typed(input.value);
    if (!is) return;
    input.value = entry(-is);
    input.dispatchEvent(new Event("input", { bubbles: true }));
  },
}, "±");

/** A number, with a comma or a point (`typed` reads it), with a button for less and one for more, and its sign where it may be below zero. One tap goes on to the next multiple of `step(value)`. */
export function stepper({ id, label, value, min, max, step }) {
  const input = make("input", { id, type: "text", inputmode: "decimal", autocomplete: "off", value: entry(value), required: true });
  const by = (direction) => make("button", {
    type: "button", "aria-label": `${label}: ${direction < 0 ? say.LESS : say.MORE}`, data: { step: id, by: direction },
    onclick() {
      const is = typed(input.value) || 0, size = step(direction < 0 ? is - 0.001 : is);
      const next = direction * (Math.floor((direction * is) / size + 0.05) + 1) * size;
      input.value = entry(Math.round(Math.min(max, Math.max(min, next)) * 100) / 100);
      input.dispatchEvent(new Event("input", { bubbles: true }));
    },
  }, direction < 0 ? "−" : "+");
  return make("div", { class: "field" }, make("label", { for: id }, label), make("div", { class: "stepper" }, by(-1), input, by(1), min < 0 ? sign(input) : null));
}
