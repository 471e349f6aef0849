// Deutsch: jedes Wort der Seite, in derselben Ordnung wie en.js. Texte des Rigs selbst (Befunde, Ursachen) bleiben englisch.

import { clock, count, degrees, ev, number, percent, runs, seconds, shutter, signed, size, span } from "./figures.js";

export const UNITS = { days: (n) => (n === 1 ? "1 Tag" : `${n} Tage`) };

export const NAMES = {
  "door-why": "Dieses Telefon ist dem Rig nicht bekannt. Am Rig zeigt der Befehl „duskhand pair“ einen Code.",
  "door-code-name": "Code", "door-phone-name": "Name dieses Telefons (beliebig)", "door-do": "Koppeln",
  "time-do": "Zeit dieses Telefons nehmen",
  "view-only": "Nur ansehen: zum Ändern braucht es andere Rechte.",
  "done-name": "Bilder", "to-come-name": "Noch", "missed-name": "Verpasst",
  "interval-name": "Intervall", "exposure-name": "Belichtung", "gap-name": "Lücke",
  "scene-name": "Licht jetzt", "sun-name": "Sonne",
  "card-name": "Karte", "rig-disk-name": "Platte am Rig", "battery-name": "Akku",
  "hold": "Halt", "resume": "Weiter", "change": "Ändern…", "stop": "Ende", "start": "Starten…",
  "rooms": "Wohin…", "rooms-title": "Wohin?", "room-back": "Rig",
};

// ---- Räume

export const ROOMS = {
  rig: "Rig", frames: "Bilder", camera: "Kamera", plans: "Pläne", black: "Schwarz", lamp: "Lampe", phone: "Dieses Telefon",
};
export const ROOMS_SAY = {
  rig: "Wie es jetzt steht", frames: "Bilder, Lücken, Kurven", camera: "Einstellen, scharfstellen, prüfen", plans: "Schreiben, proben, starten",
  black: "Dunkel, mit einem Zeichen je Bild", lamp: "Licht auf den Vordergrund", phone: "Farben, Sprache, Zugang",
};
export const ROOM_NOT_THERE = "Dieser Teil der Seite kam nicht an. Steht die Verbindung?";
export const SHEET_NOT_THERE = "Dieser Teil der Seite kam nicht an. Steht die Verbindung? Dann noch einmal tippen.";
export const AGAIN = "Noch einmal";
export const CLOSE = "Schließen";

export const LEAVE = "So lassen";
export const LESS = "weniger", MORE = "mehr";

export const STATES = {
  none: "Es läuft nichts",
  waiting: "Wartet auf den Beginn",
  checking: "Prüft die Kamera",
  shooting: "Nimmt auf",
  held: "Angehalten",
  recovering: "Fängt sich",
  done: "Fertig",
  stopped: "Beendet",
  failed: "Gescheitert",
};
export const ALL_WELL = "Alles in Ordnung.", NO_NEED = "Nichts zu tun.", LAST_HEARD = "So war es zuletzt.";
export const fast = (rate) => `Uhr ${number(rate)} × schneller`;
export const attends = (count) => (count === 1 ? "Etwas braucht dich:" : `${count} Dinge brauchen dich:`);
export const because = (cause) => `Grund: ${cause}`;
export const endedAt = (utc, now) => `Beendet ${clock(utc, now)}`;

// ---- Verbindung

export const LOOKING = "Sucht das Rig…";
export const NOT_PAIRED = "Nicht gekoppelt";
export const NO_ANSWER = "Das Rig hat nicht geantwortet. Noch einmal versuchen.";
export const LIVE = "Live";
export const noLink = (seconds) => `Seit ${span(seconds)} keine Verbindung. So alt ist, was hier steht. Versucht es weiter…`;

export const phonesTime = (utc) => `Dieses Telefon sagt ${clock(utc, 0)}. Stimmt das?`;

// ---- was kommt

export const NEXT_IN = "Nächste Auslösung in", NEXT = "Nächste Auslösung";
export const NO_CAMERA = "Keine Kamera da";
export const STARTS = "Beginnt in";
export const NOW = "jetzt";
export const overdue = (seconds) => `seit ${span(seconds)} fällig`;
export const UNKNOWN = "nicht bekannt", NONE = "—";
export const startsAt = (utc, now) => `um ${clock(utc, now)}`;
export const left = (utc, now) => `noch ${span(utc - now)}, endet ${clock(utc, now)}`;
export const past = (utc, now) => `Das Ende, ${clock(utc, now)}, ist vorbei`;
/** Wo die gezeigten Zeiten nicht die dieses Telefons sind. */
export const zoneOfTimes = (zone) => (zone === null ? "" : `Zeiten von ${zone.replace("_", " ")}`);
export const nextIn = (s) => `Nächste in ${span(s)}.`;
export const untilFrames = (frames) => `Läuft bis ${frames} Bilder da sind`;
export const UNTIL_COUNTED = "Läuft, bis die Bilder da sind";
export const NO_END = "Läuft, bis es beendet wird";
export const NOT_UNTIL_RESUMED = "Keine Auslösung, bis es weitergeht.";

// ---- Zahlen

export const heater = ({ on, trouble }) => `Tauheizung: ${trouble ? trouble : on ? "an" : "aus"}`;
export const place = ({ name, waiting, trouble }) => `Kopien nach ${name}: ${trouble ? trouble : waiting ? `${count(waiting)} warten` : "alle gemacht"}`;

export const wholeClip = (s) => `Film ${runs(s)}`;
export const WHILE_HELD = "Was noch kommt, zählt nicht weiter, solange angehalten ist.";
export const clip = (soFar, inTheEnd) =>
  inTheEnd == null ? `Film bisher ${runs(soFar)}` : `Film bisher ${runs(soFar)}, am Ende ${runs(inTheEnd)}`;
/** Eine Angabe wie "1/8 s  f/2.8  ISO 400" auf zwei Zeilen. */
export const exposure = (label) => label.replace(/ {2,}/, ", ").replace(/ {2,}/, "\n");
export const missed = (missedSlots, lost) => (lost ? `${count(missedSlots)}, ${count(lost)} verloren` : count(missedSlots));
export const biased = (value) => `Korrektur ${signed(value)} EV`;
/** Wohin Intervall und Belichtung unterwegs sind. */
export const heading = ({ utc, interval_s, exposure }, now) =>
  `Unterwegs zu ${[interval_s && seconds(interval_s), exposure?.label.replace(/ {2,}/g, ", ")].filter(Boolean).join(", ")} um ${clock(Date.parse(utc) / 1000, now)}`;
const enough = (hours) => (hours < 48 ? `noch ${number(hours, hours < 10 ? 1 : 0)} h` : `noch ${UNITS.days(Math.floor(hours / 24))}`);
export const battery = (left, hours) => percent(left) + (hours == null ? "" : `\n${enough(hours)}`);
export const room = (bytes, hours) => size(bytes) + (hours == null ? "" : `\n${enough(hours)}`);
export const PAUSED = "Holen ruht";
/** Eine Zeile für eine Kamera neben der ersten. */
export function beside({ id, connected, battery_percent, card_free_bytes }) {
  if (!connected) return `${id}: nicht da`;
  const told = [battery_percent == null ? null : `Akku ${percent(battery_percent)}`, card_free_bytes == null ? null : `Karte ${size(card_free_bytes)}`];
  return [`${id}: da`, ...told.filter(Boolean)].join(", ");
}
export function sun(altitude) {
  const phase = altitude > -0.833 ? "Tag" : altitude > -6 ? "bürgerl. Dämmerung" : altitude > -12 ? "naut. Dämmerung"
    : altitude > -18 ? "astron. Dämmerung" : "Nacht";
  return `${degrees(altitude, 1)}, ${phase}`;
}

// ---- das letzte Bild

export const SHOW_PICTURE = "Letztes Bild zeigen";
export const HIDE_PICTURE = "Bild verbergen";
export const pictured = (frame) => `Bild ${frame.seq}, ${clock(Date.parse(frame.due_utc) / 1000)}`;
export const NO_PICTURE = "Das Bild kam nicht an.";

// ---- Befehle

export const DOING = { hold: "Hält an…", resume: "Geht weiter…", stop: "Beendet…" };
export const DONE = {
  hold: "Angehalten.", resume: "Geht weiter.", stop: "Beendet.", stopping: "Endet, sobald die Bilder unterwegs da sind.", kept: "Nicht beendet.",
};
export const stopsIn = (s) => `Endet in ${s} s.`;
export const DO_NOT_STOP = "Nicht beenden";
export const STOP_NOT_SENT = "Das Ende wurde nicht gesendet: keine Verbindung zum Rig. Dort läuft es weiter.";
export const UNDERSTOOD = "OK";
/** Was neben den Befehlen aus `NAMES` noch scheitern kann. */
export const SHEETS = { pace: "Neues Tempo", start: "Start" };
const named = (order) => (SHEETS[order] ?? NAMES[order]).replace("…", "");
export const failed = (order, why) => `${named(order)}: nicht geschehen. ${why}`;
export const unanswered = (order) =>
  `${named(order)}: keine Antwort vom Rig. Vielleicht kam es an, vielleicht nicht; der Zustand oben sagt es, sobald die Verbindung steht.`;

// ---- Änderungen, während es läuft

export const change = {
  title: "Tempo ändern", to: "Neues Intervall, Sekunden", over: "Dorthin in, Minuten", act: "Ändern",
  now: (interval) => `Jetzt ${interval == null ? UNKNOWN : seconds(interval)}.`,
  rule: (most) =>
    "Von nun an statt des Tempos aus dem Plan: das Intervall geht dorthin und bleibt dort bis zum Ende. " +
    `Es ändert sich höchstens um ${percent(most * 100)} je Bild; auch 0 Minuten brauchen also einige Bilder.`,
  noNumber: "Beides braucht eine Zahl, das Intervall mehr als 0.",
  done: (to, minutes) => `Geht zu ${seconds(to)}${minutes ? ` in ${number(minutes)} min` : ""} und bleibt dort bis zum Ende.`,
};

// ---- Starten

export const start = {
  title: "Welcher Plan?", act: "Starten",
  none: "Auf diesem Rig liegt noch kein Plan. Einen schreiben: unter Pläne.",
  when: (when) => (when.windows ?? [when]).map((one) =>
    `${one.start ?? "jetzt"} → ${one.stop ?? one.duration ?? (one.frames ? `${one.frames} Bilder` : "bis zum Beenden")}`).join(", "),
  done: (shoot) => `${shoot.plan_name}: ${STATES[shoot.state].toLowerCase()}.`,
};

// ---- schwarzer Schirm, Lampe, dieses Telefon

export const black = {
  says: "Schwarzer Schirm. Ein Punkt leuchtet mit jedem Bild; ein Ring wartet, ein Kreuz braucht jemanden. Tippen zeigt Worte.",
  back: "Zurück",
  noLink: "Keine Verbindung zum Rig.",
  frames: (n) => `${count(n)} Bilder.`,
};

export const lamp = {
  says: "Mit dem Schirm zum Vordergrund hinlegen. Solange sie an ist, steht ihr Licht in den Bildern.",
  next: (s) => `Nächste Auslösung in ${span(s)}.`,
  bright: "Helligkeit", red: "Rot", white: "Weiß", back: "Zurück",
};

export const phone = {
  theme: "Farben", byLight: "Nach dem Licht", night: "Nacht", day: "Tag",
  themeSays: "Nach dem Licht: Rot auf Schwarz, sobald die Sonne am Ort des Rigs 6° unter dem Horizont steht, sonst dunkel auf hell.",
  language: "Sprache", byPhone: "Wie das Telefon",
  languageSays: "Texte, die vom Rig selbst kommen, etwa Ursachen und Abhilfen, sind englisch.",
  access: "Zugang", noAnswer: "Das Rig hat nicht geantwortet.", unnamed: "ohne Namen",
  here: "Das ist das Rig selbst oder eine Maschine, der es traut.",
  paired: (name, rights) => `Gekoppelt${name ? ` als „${name}“` : ""}, darf ${rights === "all" ? "alles ändern" : "nur ansehen"}.`,
  invite: { all: "Telefon einlassen", view: "Nur ansehen lassen" },
  code: (code, rights) => `Code für das andere Telefon: ${code}. Er lässt ein Gerät ${rights === "all" ? "alles ändern" : "nur ansehen"}, einmal.`,
  since: (day, rights, mine) => `${mine ? "dieses Telefon, " : ""}seit ${day}, darf ${rights === "all" ? "ändern" : "ansehen"}`,
  revoke: "Wegnehmen", sure: "Sicher?",
  home: "Auf dem Startbildschirm",
  homeSays: "Im Menü des Browsers: „Zum Startbildschirm hinzufügen“. Dann öffnet sie wie eine App und braucht weiter das WLAN des Rigs.",
  dark: "Im Dunkeln",
  darkSays: "Zuerst die Helligkeit des Telefons herunterdrehen: sie zählt mehr als jede Farbe. Den Boden um das Stativ kennen, bevor es dunkel ist; nicht auf Straßen und nicht an Kanten stehen, solange der Blick auf dem Schirm ist.",
};
