// What belongs to this phone alone: theme, language, and its access to the rig; for whoever has all rights, that of others.

import { phone as say } from "../words.js";
import { ask } from "../link.js";
import { make, set } from "../dom.js";
import { clockSeconds, day, phonesZone } from "../figures.js";
import { tell } from "../orders.js";
import { mayChange, rigTime, seconds, zone } from "../rig.js";
import { cookie, dress, keep } from "../face.js";

/** Buttons of which one is pressed; `options` are pairs of a value and its text. */
function choices(id, title, options, is, act) {
  const buttons = options.map(([value, text]) => make("button", {
    type: "button", data: { value: value ?? "" }, "aria-pressed": String(value === is),
    onclick() {
      for (const button of buttons) button.setAttribute("aria-pressed", String(button.dataset.value === (value ?? "")));
      act(value);
    },
  }, text));
  return make("section", { id }, make("h3", { id: `${id}-title` }, title),
    make("div", { class: "pair", role: "group", "aria-labelledby": `${id}-title` }, buttons));
}

export function open(place) {
  let gone = false;
  place.append(
    choices("theme", say.theme, [[null, say.byLight], ["night", say.night], ["day", say.day]], cookie("theme"), (theme) => { keep("theme", theme); dress(); }),
    make("p", { class: "quiet" }, say.themeSays),
    choices("language", say.language, [[null, say.byPhone], ["en", "English"], ["de", "Deutsch"]], cookie("language"), (value) => {
      keep("language", value);
      location.reload();
    }),
    make("p", { class: "quiet" }, say.languageSays));
  const time = make("p", { id: "rig-time", class: "figure" });
  const tick = () => { if (rigTime() !== null) set(time, say.clockSays(`${day(rigTime())} ${clockSeconds(rigTime())}`, zone() ?? phonesZone())); };
  const ticking = setInterval(tick, 1000);
  tick();
  const access = make("section", { id: "access" }, make("h3", {}, say.access));
  place.append(access, make("section", {}, make("h3", {}, say.clock), time, make("p", { class: "quiet" }, say.clockOf)), make("section", {}, make("h3", {}, say.home), make("p", {}, say.homeSays)),
    make("section", {}, make("h3", {}, say.dark), make("p", {}, say.darkSays)));
  fillAccess();

  async function fillAccess() {
    try {
      const { rights, session } = await ask("GET", "session");
      const others = mayChange() ? await ask("GET", "sessions") : [];
      if (gone) return;
      const mine = session?.id;
      access.replaceChildren(make("h3", {}, say.access),
        make("p", {}, session === null ? say.here : say.paired(session.name, rights)));
      if (mayChange()) {
        access.append(make("div", { class: "pair" }, invite("all"), invite("view")), make("p", { id: "invitation", role: "status" }),
          make("ul", { id: "sessions" }, others.map((other) => row(other, other.id === mine))));
      } else if (session !== null) {
        access.append(make("ul", { id: "sessions" }, row(session, true)));
      }
    } catch (refusal) {
      if (!gone) access.replaceChildren(make("h3", {}, say.access), make("p", { class: "trouble" }, refusal.answered ? refusal.message : say.noAnswer));
    }
  }

  function invite(rights) {
    return make("button", {
      type: "button", data: { invite: rights },
      async onclick({ target }) {
        target.setAttribute("aria-busy", "true");
        try {
          const { code } = await ask("POST", "invitations", { rights });
          access.querySelector("#invitation").textContent = say.code(code, rights);
        } catch (refusal) {
          tell(refusal.answered ? refusal.message : say.noAnswer, { trouble: true });
        } finally {
          target.removeAttribute("aria-busy");
        }
      },
    }, say.invite[rights]);
  }

  function row(session, mine) {
    const take = make("button", {
      type: "button",
      async onclick() {
        if (take.dataset.sure !== "yes") { // the second tap does it
          take.dataset.sure = "yes";
          take.textContent = say.sure;
          setTimeout(() => { take.dataset.sure = ""; take.textContent = say.revoke; }, 5000);
          return;
        }
        try {
          await ask("DELETE", mine ? "session" : `sessions/${session.id}`);
          if (mine) location.reload();
          else fillAccess();
        } catch (refusal) {
          tell(refusal.answered ? refusal.message : say.noAnswer, { trouble: true });
        }
      },
    }, say.revoke);
    return make("li", {}, make("span", {}, session.name || say.unnamed, make("small", {}, say.since(day(seconds(session.created_utc)), session.rights, mine))), take);
  }

  return () => { gone = true; clearInterval(ticking); };
}
