// Change the pace while it shoots.

import { change as say } from "../words.js";
import { ask } from "../link.js";
import { make } from "../dom.js";
import { heard, interval, shoot } from "../rig.js";
import { openSheet, stepper } from "../sheet.js";

const size = (value) => (value < 10 ? 0.5 : value < 30 ? 1 : 5);

export function open() {
  const is = Math.round((interval() ?? 5) * 10) / 10;
  const body = make("div", {},
    make("p", { id: "pace-now" }, say.now(interval())),
    make("p", { id: "pace-rule", class: "quiet" }, say.rule(shoot().plan.pace.max_change)),
    stepper({ id: "pace-to", label: say.to, value: is, min: 0.1, max: 86400, step: size }),
    stepper({ id: "pace-over", label: say.over, value: 10, min: 0, max: 1440, step: () => 5 }));
  const value = (id) => body.querySelector(`#${id}`).valueAsNumber;
  openSheet({
    name: "pace", title: say.title, body, doing: say.act,
    async act() {
      const [to, minutes] = [value("pace-to"), value("pace-over")];
      if (!(to > 0) || !(minutes >= 0)) throw new Error(say.noNumber);
      heard("shoot", await ask("POST", `shoots/${encodeURIComponent(shoot().id)}/pace`, { to_s: to, over_s: minutes * 60 }));
      return say.done(to, minutes);
    },
  });
}
