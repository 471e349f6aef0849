// The few things that every part of the page does with elements.

export const $ = (id) => document.getElementById(id);

/** A number stays on one line with its unit, in the page's own texts and in the rig's. */
const bound = (text) => text.replace(/(\d) (?=(?:%|(?:[mk]?s|min|h|EV|[kMG]B|Wh?|mm|m|V)(?![\wäöüß])))|\b(ISO) (?=\d)/g, "$1$2\u00a0");

/** Put a text where it is not already: what did not change is not drawn again, nor read out again. */
export function set(id, text) {
  const element = typeof id === "string" ? $(id) : id, told = bound(String(text));
  if (element.textContent !== told) element.textContent = told;
}

export const show = (id, wanted) => { (typeof id === "string" ? $(id) : id).hidden = !wanted; };

/**
 * An element: `make("button", { type: "button", class: "wide", onclick: act }, "Text", child)`. Members that are functions
 * are listeners, `data` is a dataset, null and undefined leave an attribute out, true and false write it or not.
 */
export function make(tag, members = {}, ...children) {
  const element = document.createElement(tag);
  put(element, members);
  element.append(...children.flat().filter((child) => child != null).map((child) => (typeof child === "string" ? bound(child) : child)));
  return element;
}

const NS = "http://www.w3.org/2000/svg";

/** The same for a drawing. */
export function draw(tag, members = {}, ...children) {
  const element = document.createElementNS(NS, tag);
  put(element, members);
  element.append(...children.flat().filter((child) => child != null));
  return element;
}

function put(element, members) {
  for (const [key, value] of Object.entries(members)) {
    if (typeof value === "function") element.addEventListener(key.replace(/^on/, ""), value);
    else if (key === "data") Object.assign(element.dataset, value);
    else if (value === true) element.setAttribute(key, "");
    else if (value != null && value !== false) element.setAttribute(key, value);
  }
}
