// When a plan is shot: start and end by the sun, by the clock, by a length or a count; once, or day after day.

import { plans as say } from "../words.js";
import { make, set, show } from "../dom.js";
import { clock, entry, timeOfDay, typed } from "../figures.js";
import { rigTime, seconds } from "../rig.js";
import { sign } from "../sheet.js";
import { EVENTS, word, written } from "../sheets/when.js";
import { choice, field, figure, folded, given, numeric, text, write } from "./plans-fields.js";

const DAYS = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];
/** Minutes that are no number stay as they were typed, for the rig to read or to refuse. */
const sunWord = (event, minutes) => (typeof minutes === "string" ? `${event}+${minutes}` : minutes ? `${event}${minutes < 0 ? "-" : "+"}${written(Math.abs(minutes) * 60)}` : event);

/** Start or stop. `key` is both the key of `[when]` and the name here. */
function moment(form, key, extra) {
  const { when } = form.plan, where = `[when] ${key}`;
  const is = () => (when[key] !== undefined ? word(when[key]).kind : extra.now());
  const kinds = [...extra.kinds, ...(is() === "text" ? ["text"] : [])];
  const rest = make("div", { class: "stack" }), at = make("p", { class: "quiet", id: `plan-${key}-at`, "aria-live": "polite" });
  let event = null;

  function fill() {
    const kind = is(), stands = word(when[key]);
    event = null;
    rest.replaceChildren();
    if (kind === "sun") {
      const put = () => { when[key] = sunWord(event.value, given(minutes) ?? 0); form.changed(); };
      event = make("select", { id: `plan-${key}-event`, "aria-label": say.event, onchange: put },
        EVENTS.map((name) => make("option", { value: name, selected: name === stands.event }, say.events[name])));
      const minutes = numeric(Math.round(stands.minutes * 100) / 100, { id: `plan-${key}-minutes`, oninput: put });
      const by = (step) => make("button", { type: "button", "aria-label": say.shift(step), onclick: () => { minutes.value = entry((typed(minutes.value) || 0) + step); put(); } }, step < 0 ? "−" : "+");
      rest.append(event, make("label", { for: minutes.id }, say.minutes), make("div", { class: "stepper" }, by(-5), minutes, by(5), sign(minutes)));
    } else if (kind === "time") { // typed: a picker of the phone's own would be bright, and may count to twelve
      const typed_ = make("input", {
        inputmode: "numeric", autocomplete: "off", maxlength: 5, value: when[key] ?? "",
        oninput() { when[key] = timeOfDay(typed_.value) ?? typed_.value.trim(); form.changed(); },
      });
      rest.append(field({ ...form, places: new Map() }, `${where} text`, say.clockTime, typed_));
    } else if (kind === "text") {
      rest.append(text({ ...form, places: new Map() }, `${where} text`, say.asWritten, when, key, { required: true }));
    } else if (kind === "duration") {
      rest.append(text(form, "[when] duration", say.duration, when, "duration", { placeholder: "1h30min", required: true }));
    } else if (kind === "frames") {
      rest.append(figure(form, "[when] frames", say.frameCount, when, "frames", { inputmode: "numeric", required: true }));
    }
    tell();
  }

  /** Clock times of the day beside each event, and of what is chosen. */
  function tell() {
    const { sky } = form, zone = sky?.timezone;
    if (event) {
      for (const option of event.options) {
        const found = sky?.events.find((one) => one.name === option.value);
        const name = say.events[option.value]; // where it is too long it is cut at its end: the time comes first
        set(option, found ? `${clock(Date.parse(found.utc) / 1000, undefined, zone)} ${name}` : sky ? `${name} ${say.notThatDay}` : name);
      }
    }
    const says = is() === "sun" ? itsTime() : "";
    show(at, says !== "");
    set(at, says);
  }

  /** When that is: as the forecast has it, which knows the day that is meant; without one the time of the day that is looked at. */
  function itsTime() {
    const { sky, told } = form, found = sky?.words.find((one) => one.word === when[key]), now = rigTime() ?? Date.now() / 1000;
    const first = told?.windows[0], foretold = seconds(first?.[key === "start" ? "start_utc" : "end_utc"]);
    const zone = told?.timezone ?? sky?.timezone, time = (utc) => clock(utc, undefined, zone);
    if (foretold && (key === "stop" || foretold > now)) return say.thatDay(clock(foretold, now, zone), clock(foretold, now, zone) === time(foretold));
    return found?.utc ? say.thatDay(time(seconds(found.utc)), false) : found?.why ?? "";
  }
  form.onSky.push(tell);
  form.onTold.push(tell);
  const head = choice(form, where, key === "start" ? say.begins : say.stop, kinds.map((kind) => [kind, say.kinds[kind]]), is(), (kind) => {
    extra.choose(kind);
    fill();
  }, make("div", {}, rest, at));
  fill();
  return head;
}

export function whenPart(form) {
  const { when } = form.plan;
  const title = make("h3", {}, say.when);
  if (when.windows?.length) return make("section", { id: "plan-when" }, title, make("p", {}, say.windows(when.windows.length)));
  const start = moment(form, "start", {
    kinds: ["sun", "now", "time"], now: () => "now",
    choose: (kind) => { when.start = { now: "now", sun: "sunset-45min", time: "18:00" }[kind] ?? when.start; },
  });
  const ends = { sun: ["stop", "nautical_dusk+30min"], time: ["stop", "22:00"], duration: ["duration", "3h"], frames: ["frames", 600] };
  const stop = moment(form, "stop", {
    kinds: ["sun", "time", "duration", "frames", "never"],
    now: () => (when.duration !== undefined ? "duration" : when.frames !== undefined ? "frames" : "never"),
    choose(kind) {
      if (kind === "text") return;
      for (const key of ["stop", "duration", "frames"]) delete when[key];
      if (ends[kind]) when[ends[kind][0]] = ends[kind][1];
    },
  });
  return make("section", { id: "plan-when" }, title, start, stop, days(form));
}

/** Once, on a day or the next time; or day after day. */
function days(form) {
  const { when } = form.plan, rest = make("div", { class: "stack" });
  const all = () => (when.every === "day" ? [...DAYS] : [...(when.every ?? [])]);
  const date = (key) => text(form, `[when] ${key}`, say.dates[key], when, key, { type: "date" });

  function fill() {
    if (when.every === undefined) {
      rest.replaceChildren(date("date"));
    } else {
      const chosen = new Set(all());
      rest.replaceChildren(
        make("div", { class: "days", role: "group", "aria-label": say.onDays }, DAYS.map((day) => make("label", { class: "choice" },
          make("input", {
            type: "checkbox", checked: chosen.has(day),
            onchange({ target }) {
              if (target.checked) chosen.add(day);
              else chosen.delete(day);
              when.every = chosen.size === 7 ? "day" : DAYS.filter((one) => chosen.has(one));
              form.changed();
            },
          }), say.days[day]))),
        date("from"), date("until"), skip());
    }
  }

  function skip() {
    const control = make("input", {
      autocomplete: "off", placeholder: "2026-12-25, 2027-01-01", value: (when.skip ?? []).join(", "),
      oninput() { when.skip = control.value.split(/[\s,;]+/).filter(Boolean); form.changed(); },
    });
    return field(form, "[when] skip", say.dates.skip, control);
  }

  const kind = choice(form, "[when] every", say.repeat, [["once", say.once], ["every", say.repeats]], when.every === undefined ? "once" : "every", (value) => {
    if (value === "once") for (const key of ["every", "from", "until"]) delete when[key];
    else delete when.date;
    write(when, "every", value === "once" ? undefined : "day");
    if (value === "once") when.skip = [];
    fill();
  });
  fill();
  const element = folded(say.whichDays, kind, rest);
  element.open = when.every !== undefined || when.date !== undefined;
  return element;
}
