// The report of a shoot, within the page: while it is worked out that is said here, and so is why it did not come. It is
// the page that stands alone of docs/report.md; here it stands in a tree of its own, where our style sheet does not reach it.

import { AGAIN, frames as say, NO_ANSWER } from "../words.js";
import { ask } from "../link.js";
import { $, make, set, show } from "../dom.js";
import { span } from "../figures.js";
import { live, on } from "../rig.js";

const PATIENCE_MS = 920_000; // longer than the rig itself lets it take
const LONG_S = 10;

/** The report's style sheet for a part of a document: it has neither a root nor a body of its own there. */
function dressed(text) {
  const sheet = new CSSStyleSheet();
  const within = text.replace(/:root|\b(?:html|body)(?= \{)/g, (name) => (name === "body" ? ".body" : ".root"));
  sheet.replaceSync(`${within} .root { transition: var(--turn); } .body { padding: 0; } @media print { .root { transition: none; } }`);
  return sheet;
}

const STYLE = /<style>([^]*?)<\/style>/;

/** As a file it follows the phone's own theme, and leads nowhere. */
function alone(report, style) {
  const root = report.documentElement.cloneNode(true);
  root.removeAttribute("data-theme");
  root.querySelector("meta[name=color-scheme]")?.setAttribute("content", "dark light");
  for (const link of root.querySelectorAll("a[href]")) link.replaceWith(...link.childNodes);
  root.querySelector("nav")?.remove();
  const html = root.outerHTML.replace("</head>", () => `<style>${style}</style></head>`);
  return new Blob([`<!DOCTYPE html>\n${html}\n`], { type: "text/html" });
}

function keep(file, name) {
  const address = URL.createObjectURL(file);
  make("a", { href: address, download: `${name}.html` }).click();
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
}

export function openReport(place, hall, shoot, camera = null) {
  const path = `shoots/${encodeURIComponent(shoot)}/report.html`;
  const told = make("p", { id: "report-told", role: "status" }), waited = make("p", { id: "report-waited", class: "quiet", "aria-hidden": "true" });
  const again = make("button", { type: "button", id: "report-again", class: "wide", onclick: work }, AGAIN);
  const inside = make("div", { id: "report-inside" });
  let asked = null, began = null, failed = false;
  set("room-title", say.report);
  place.append(told, waited, again, inside);
  hall.tools(make("button", { type: "button", id: "report-back", onclick: () => { location.hash = "frames"; } }, say.toFrames));

  function tick() {
    const s = (Date.now() - began) / 1000;
    set(waited, [span(s), s > LONG_S && say.reportLong].filter(Boolean).join(". "));
  }

  async function work() {
    asked?.abort();
    const mine = asked = new AbortController(), ticking = setInterval(tick, 1000);
    began = Date.now();
    failed = false;
    set(told, say.reportWorks);
    tick();
    for (const [one, wanted] of [[waited, true], [again, false]]) show(one, wanted);
    try {
      const text = await ask("GET", path + (camera ? `?camera=${encodeURIComponent(camera)}` : ""), undefined, { patience_ms: PATIENCE_MS, given_up: mine.signal, read: (came) => came.text() });
      if (asked === mine) fill(new DOMParser().parseFromString(text.replace(STYLE, ""), "text/html"), STYLE.exec(text)[1]); // no style sheet within a document gets past our policy
    } catch (refusal) {
      if (asked !== mine || mine.signal.aborted) return;
      if (refusal.answered === undefined) throw refusal;
      failed = !refusal.answered;
      set(told, refusal.answered ? refusal.message : NO_ANSWER);
      show(again, true);
    } finally {
      clearInterval(ticking);
      if (asked === mine) {
        asked = null;
        show(waited, false);
      }
    }
  }

  function fill(report, style) {
    const file = alone(report, style);
    const root = make("div", { class: "root", lang: report.documentElement.lang }), stands = make("div", { id: "report-stands" });
    report.querySelector("nav")?.remove();
    for (const link of report.querySelectorAll("a[href]")) link.href = new URL(link.getAttribute("href"), new URL(`api/v1/${path}`, document.baseURI));
    root.append(make("div", { class: "body" }, ...report.body.querySelector("main").children));
    const tree = stands.attachShadow({ mode: "open" });
    tree.adoptedStyleSheets = [dressed(style)];
    tree.append(root);
    const follow = () => { root.dataset.theme = document.documentElement.dataset.theme; };
    follow();
    turning.observe(document.documentElement, { attributeFilter: ["data-theme"] });
    turned = follow;
    set(told, "");
    inside.replaceChildren(make("div", { class: "side" },
      make("button", { type: "button", id: "report-print", onclick: () => window.print() }, say.print),
      make("button", { type: "button", id: "report-keep", onclick: () => keep(file, `${shoot}-report`) }, say.keepReport)), stands);
    $("room-title").focus({ preventScroll: true });
  }

  let turned = () => {}, linked = live(), lost = false;
  const turning = new MutationObserver(() => turned());
  const deaf = on("link", ({ ok }) => { // what was under way on a lost link comes no more, and does not say so
    if (!ok && asked) set(told, say.reportLost);
    if (ok && lost && (asked || failed)) work();
    lost = linked && !ok;
    linked ||= ok;
  });
  work();
  return () => { asked?.abort(); asked = null; turning.disconnect(); deaf(); };
}
