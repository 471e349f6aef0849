// Fields of the plan's form. Each is bound to a place in the document, such as `[pace] interval_s`, by which the rig's
// refusals find it.

import { plans as say } from "../words.js";
import { make, set } from "../dom.js";
import { entry, typed } from "../figures.js";
import { sign } from "../sheet.js";

const told = (name) => `plan-${name.replace(/\W+/g, "-").replace(/^-|-$/g, "")}`;

/** A label, its control, and room for the rig's objection. `form.places` knows it by `where`. */
export function field(form, where, label, control, after = null) {
  control.id ||= told(where);
  const trouble = make("p", { class: "trouble", role: "alert", id: `${control.id}-trouble`, hidden: true });
  control.setAttribute("aria-describedby", trouble.id);
  form.places.set(where, { control, trouble, label });
  return make("div", { class: "field" }, make("label", { for: control.id }, label), control, after, trouble);
}

export function choice(form, where, label, options, value, change, after) {
  const control = make("select", { onchange: () => { change(control.value); form.changed(); } },
    options.map(([key, text]) => make("option", { value: key, selected: key === value }, text)));
  return field(form, where, label, control, after);
}

/** Of a field for a number: it, undefined where the field is empty, else the text, which the rig refuses with a remedy. */
export function given({ value }) {
  const found = typed(value);
  return Number.isNaN(found) ? value.trim() || undefined : found;
}
/** An input for a number; not of that type, since browsers drop the mark that is not their own: 57,7 would be 577. */
export const numeric = (value, members) => make("input", { type: "text", inputmode: "decimal", autocomplete: "off", value: entry(value), ...members });

/** A number of `holder[key]`; an empty field takes the key away, or where it is required is refused by the rig. `signed`: it may be below zero. */
export function figure(form, where, label, holder, key, members = {}, signed = false) {
  const control = numeric(holder[key], { ...members, oninput() { write(holder, key, given(control) ?? (members.required ? 0 : undefined)); form.changed(); } });
  const made = field(form, where, label, control, signed ? sign(control) : null);
  made.classList.toggle("signed", signed);
  return made;
}

/** A text of `holder[key]`. */
export function text(form, where, label, holder, key, members = {}, after) {
  const control = make("input", {
    autocomplete: "off", spellcheck: "false", value: holder[key] ?? "", ...members,
    oninput() { write(holder, key, control.value.trim() || (members.required ? "" : undefined)); form.changed(); },
  });
  return field(form, where, label, control, after);
}

/** Yes or no in `holder[key]`. */
export function tick(form, where, label, holder, key) {
  const control = make("input", { type: "checkbox", checked: holder[key] === true, onchange() { holder[key] = control.checked; form.changed(); } });
  const made = field(form, where, label, control), named = made.firstChild;
  named.prepend(control);
  named.classList.add("choice");
  return made;
}

export function write(holder, key, value) {
  if (value === undefined) delete holder[key];
  else holder[key] = value;
}

/** The commonest refusals of what a form can hold, in the page's words; the rig speaks of its own files and keys. */
const REFUSED = [
  [/^\[site\] (latitude|longitude) Is missing/, say.refused.place],
  [/^\[pace\].* interval of (\S+) s is shorter than the shortest exposure, .* gap of (\S+) s. Use (\S+) s/, say.refused.gap],
  [/^\[when\] .* is longer than a day/, say.refused.far],
  [/^\[when\] stop .* is before the start/, say.refused.crossed],
  [/^\[when\] (\w+) '' is no/, say.refused.empty],
];
function plainly({ where, message, said }) {
  for (const [pattern, words] of REFUSED) {
    const found = pattern.exec(`${where} ${said}`);
    if (found) return words(...found.slice(1).map((text) => entry(text)));
  }
  return message;
}

/** The field of the form that a refusal is about, as `form.places` has it; undefined where it has none. */
const placeOf = (form, where = "") => [...form.places]
  .filter(([name, { control }]) => control.isConnected && (where === name || where.startsWith(`${name}[`) || where.startsWith(`${name}.`)))
  .sort((a, b) => b[0].length - a[0].length)[0]?.[1];

/** A refusal away from the field that it is about: with that field's label, else with the rig's name for it. */
export function worded(refusal, form = null) {
  const { where, message } = refusal, words = plainly(refusal), label = form && placeOf(form, where)?.label;
  if (!where?.startsWith("[") || words === say.refused.place()) return words;
  return label || words === message ? `${label ?? where}: ${words}` : words;
}

/** Put the rig's refusal beside the field that it names, whose label is given, else at the head of the form; null takes it away. */
export function object(form, refusal) {
  for (const { control, trouble } of form.places.values()) {
    trouble.hidden = true;
    control.removeAttribute("aria-invalid");
  }
  form.trouble.hidden = true;
  if (!refusal) return null;
  const best = placeOf(form, refusal.where);
  best?.control.setAttribute("aria-invalid", "true");
  for (let fold = best?.control.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
  const trouble = best?.trouble ?? form.trouble;
  set(trouble, best ? plainly(refusal) : worded(refusal));
  trouble.hidden = false;
  return best?.label ?? null;
}

/** A part of the form that is folded away until it is wanted. */
export const folded = (title, ...children) => make("details", {}, make("summary", {}, title), ...children);
