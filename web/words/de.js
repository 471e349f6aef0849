// Deutsch: jedes Wort der Seite, in derselben Ordnung wie en.js. Sätze des Rigs selbst stehen in de/.

import { clock, count, days, degrees, ev, fNumber, isoSpeed, marked, number, percent, runs, seconds, shutter, signed, size, span } from "./figures.js";

export const NAMES = {
  "door-why": "Dieses Telefon ist dem Rig nicht bekannt. Ein Telefon mit Zugang zeigt einen Code unter „Dieses Telefon“, am Rig selbst der Befehl „duskhand pair“.",
  "door-code-name": "Code", "door-phone-name": "Name dieses Telefons (beliebig)", "door-do": "Koppeln",
  "time-do": "Zeit dieses Telefons nehmen",
  "view-only": "Nur ansehen: zum Ändern braucht es andere Rechte.",
  "done-name": "Bilder", "to-come-name": "Noch", "missed-name": "Verpasst",
  "interval-name": "Intervall", "exposure-name": "Belichtung", "gap-name": "Lücke",
  "scene-name": "Licht jetzt", "sun-name": "Sonne",
  "card-name": "Karte", "rig-disk-name": "Platte am Rig", "battery-name": "Akku",
  "hold": "Halt…", "resume": "Weiter", "change": "Ändern…", "stop": "Beenden", "start": "Starten…", "test": "Probebild…", "copy-again": "Kopieren noch einmal versuchen",
  "rooms": "Wohin…", "rooms-title": "Wohin?", "room-back": "Rig",
};

// ---- Räume

export const ROOMS = {
  rig: "Rig", frames: "Bilder", camera: "Kamera", plans: "Pläne", black: "Schwarz", lamp: "Lampe", phone: "Dieses Telefon",
};
export const ROOMS_SAY = {
  rig: "Wie es jetzt steht", frames: "Bilder, Verpasstes, Kurven", camera: "Einstellen, scharfstellen, prüfen", plans: "Schreiben, proben, starten",
  black: "Dunkel, mit einem Zeichen je Bild", lamp: "Licht auf den Vordergrund", phone: "Farben, Sprache, Zugang",
};
export const PART_COMING = "Holt diesen Teil der Seite…";
export const ROOM_SLOW = "Holt diesen Teil der Seite noch: die Verbindung ist langsam oder weg.";
export const ROOM_NOT_THERE = "Dieser Teil der Seite kam nicht an. Steht die Verbindung?";
export const SHEET_NOT_THERE = "Dieser Teil der Seite kam nicht an. Steht die Verbindung? Dann noch einmal tippen.";
export const AGAIN = "Noch einmal";
export const CLOSE = "Schließen";

export const LEAVE = "So lassen";
export const LESS = "weniger";
export const MORE = "mehr";
export const TURN_SIGN = "Vorzeichen wechseln, + oder −";

/** Ein Text mitten im Satz: nur der erste Buchstabe wird klein, Hauptwörter bleiben groß. */
const within = (text) => text[0].toLowerCase() + text.slice(1);

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
export const ALL_WELL = "Alles in Ordnung.";
export const NO_NEED = "Nichts zu tun.";
export const WAITS = "Alles gut; es wartet auf „Weiter“.";
export const LAST_HEARD = "So war es zuletzt.";
export const fast = (rate) => `Uhr ${number(rate)} × schneller`;
export const attends = (count) => (count === 1 ? "Etwas braucht dich." : `${count} Dinge brauchen dich.`);
export const because = (cause) => `Grund: ${cause}`;
/** Wo die Sätze des Rigs selbst stehen, von js/ aus. */
export const sentences = () => ["../words/de/now.js", "../words/de/checks.js", "../words/de/asked.js", "../words/de/plans.js", "../words/de/clips.js", "../words/de/fields.js"];
export const endedAt = (utc, now) => `Beendet ${clock(utc, now)}`;

// ---- Verbindung

export const LOOKING = "Sucht das Rig…";
export const NOT_PAIRED = "Nicht gekoppelt";
export const NO_ANSWER = "Das Rig hat nicht geantwortet. Noch einmal versuchen.";
export const LIVE = "Live";
export const CONNECTING = "Verbindet…";
export const noLink = (seconds) => `Seit ${span(seconds)} keine Verbindung. So alt ist, was hier steht. Versucht es weiter…`;

export const phonesTime = (utc) => `Dieses Telefon sagt ${clock(utc, 0)}. Stimmt das?`;

// ---- was kommt

export const NEXT_IN = "Nächste Auslösung in";
export const NEXT = "Nächste Auslösung";
export const NO_CAMERA = "Keine Kamera da";
export const STARTS = "Beginnt in";
export const NOW = "jetzt";
export const overdue = (seconds) => `seit ${span(seconds)} fällig`;
export const UNKNOWN = "nicht bekannt";
export const NONE = "—";
export const OPEN = "offen";
export const startsAt = (utc, now) => `um ${clock(utc, now)}`;
export const left = (utc, now) => `noch ${span(utc - now)}, endet ${clock(utc, now)}`;
export const past = (utc, now) => `Das Ende, ${clock(utc, now)}, ist vorbei`;
/** Wo die gezeigten Zeiten nicht die dieses Telefons sind. */
export const zoneOfTimes = (zone) => (zone === null ? "" : `Zeiten von ${zone.replaceAll("_", " ")}`);
export const nextIn = (s) => `Nächste in ${span(s)}.`;
export const untilFrames = (frames) => `Läuft bis ${frames} Bilder da sind`;
export const UNTIL_COUNTED = "Läuft, bis die Bilder da sind";
export const NO_END = "Läuft, bis es beendet wird";
export const NOT_UNTIL_RESUMED = "Keine Auslösung, bis es weitergeht.";
export const GOES_ON_IN = "Weiter in";
export const goesOn = (utc, now) => `Geht von selbst weiter um ${clock(utc, now)}.`;

// ---- Zahlen

export const heater = ({ on, trouble }) => `Tauheizung: ${trouble ? trouble : on ? "an" : "aus"}`;
export const place = ({ name, waiting, trouble }) => `Kopien nach ${name}: ${trouble ? trouble : waiting ? `${count(waiting)} warten` : "alle gemacht"}`;

export const wholeClip = (s) => `Film ${runs(s)}`;
export const WHILE_HELD = "Was noch kommt, wird weniger, solange angehalten ist.";
export const clip = (soFar, inTheEnd) =>
  inTheEnd == null ? `Film bisher ${runs(soFar)}` : `Film bisher ${runs(soFar)}, am Ende ${runs(inTheEnd)}`;
/** Eine Angabe wie "1/8 s  f/2.8  ISO 400" auf zwei Zeilen. */
export const exposure = (label) => marked(label).replace(/ {2,}/, ", ").replace(/ {2,}/, "\n");
export const missed = (missedSlots, lost) => (lost ? `${count(missedSlots)}, ${count(lost)} verloren` : count(missedSlots));
export const biased = (value) => `Korrektur ${signed(value)} EV`;
/** Wohin Intervall und Belichtung unterwegs sind. */
export const heading = ({ utc, interval_s, exposure }, now) =>
  `Unterwegs zu ${[interval_s && `Intervall ${seconds(interval_s)}`, exposure && `Belichtung ${marked(exposure.label).replace(/ {2,}/g, ", ")}`].filter(Boolean).join(", ")}, bis ${clock(Date.parse(utc) / 1000, now)}`;
export const HOURS_UNKNOWN = "Dauer\nnoch offen";
export const enough = (hours) => (hours < 48 ? `noch ${number(hours, hours < 10 ? 1 : 0)} h` : `noch ${days(Math.floor(hours / 24))}`);
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

export const DOING = { resume: "Geht weiter…", stop: "Beendet…" };
export const DONE = {
  hold: "Angehalten.", resume: "Die Aufnahme geht weiter.", copies: "Das Kopieren wird noch einmal versucht.", stop: "Beendet.", stopping: "Endet, sobald die Bilder unterwegs da sind.", kept: "Nicht beendet.",
};
/** Mit dem, was daraus wird, wenn es jetzt endet: `frames_done`, `clip_s` und `clip_end_s` wie in `now`. */
export const stopsIn = (s, { frames_done, clip_s, clip_end_s }) =>
  `Endet in ${s} s, mit ${count(frames_done)} Bildern, Film ${runs(clip_s)}${clip_end_s == null ? "" : ` von ${runs(clip_end_s)}`}.`;
export const DO_NOT_STOP = "Nicht beenden";
export const STOP_NOT_SENT = "Das Beenden wurde nicht gesendet: keine Verbindung zum Rig. Dort läuft es weiter.";
export const UNDERSTOOD = "OK";
/** Was neben den Befehlen aus `NAMES` noch scheitern kann. */
export const SHEETS = { change: "Änderung", start: "Start", "plan-start": "Start" };
const named = (order) => (SHEETS[order] ?? NAMES[order]).replace("…", "");
export const failed = (order, why) => `${named(order)}: nicht geschehen. ${why}`;
export const unanswered = (order) =>
  `${named(order)}: keine Antwort vom Rig. Vielleicht kam es an, vielleicht nicht; der Zustand oben sagt es, sobald die Verbindung steht.`;

// ---- Änderungen, während es läuft

export const change = {
  title: "Ändern", act: "So ändern", parts: { pace: "Tempo", brightness: "Helligkeit", limits: "Grenzen", hold: "Halt" },
  to: (interval) => `Neues Intervall, Sekunden (jetzt ${interval == null ? UNKNOWN : seconds(interval)})`,
  over: "Dorthin in, Minuten",
  rule: (most) =>
    `Statt des Tempos aus dem Plan: es geht dorthin, höchstens ${percent(most * 100)} je Bild, und bleibt dort bis zum Ende.`,
  noNumber: "Beides braucht eine Zahl, das Intervall mehr als 0.",
  paced: (to, minutes) => `Geht zu ${seconds(to)}${minutes ? ` in ${number(minutes)} min` : ""} und bleibt dort bis zum Ende.`,
  bias: (is) => `Korrektur, EV: über 0 ist heller (jetzt ${signed(is, is % 1 ? 2 : 0)})`,
  noBias: "Die Korrektur braucht eine Zahl.",
  biased: (ev) => `Korrektur ${signed(ev, ev % 1 ? 2 : 0)} EV von den nächsten Bildern an.`,
  limits: {
    shutter_s: ["Kürzeste Zeit", "Längste Zeit"], iso: ["Kleinste ISO", "Größte ISO"], aperture: ["Weiteste Blende", "Engste Blende"],
  },
  values: { shutter_s: shutter, iso: isoSpeed, aperture: fNumber },
  brightEnd: "Für helles Licht",
  limited: "Neue Grenzen von den nächsten Bildern an.",
  ownPace: "Zurück zum Tempo des Plans", ownLight: "Zurück zum Licht des Plans: keine Korrektur, seine Grenzen",
  backToPlan: "Von den nächsten Bildern an gilt wieder der Plan.",
  hold: "Anhalten", holdFor: "Minuten Halt", byItself: "Danach von selbst weiter", noTime: "Es braucht eine Zahl von Minuten, mehr als 0.",
  untilResumed: "Angehalten, bis jemand „Weiter“ tippt; die Zahlen unten gelten für so viele Minuten.",
  fixed: "Dieser Plan gibt die Belichtung fest vor. Er hat weder Korrektur noch Grenzen.",
  nothing: "Noch ist nichts geändert.",
  ended: (state) => `Diese Aufnahme ist inzwischen zu Ende: ${within(STATES[state])}. Es gibt nichts mehr zu ändern.`,
  byOthers: "Eben wurde etwas geändert. Was hier steht, geht davon aus.",
};

export const effect = {
  title: "Was daraus wird", stands: "Wie es steht", then: "Dann", unknown: UNKNOWN, coming: "…",
  looking: "Rechnet aus, was daraus wird…", slow: "Rechnet noch aus, was daraus wird: ein kleines Rig braucht dafür länger…", enough: "Nicht darauf warten",
  notTold: "Was daraus wird, ist nicht bekannt: das Rig sagt es nicht. Ändern geht trotzdem.",
  rows: { frames: "Bilder", clip: "Film", end: "Endet", interval: "Letztes Intervall" },
  frames: (n) => (n == null ? OPEN : count(n)),
  clip: (s) => (s == null ? OPEN : runs(s)),
  end: (utc, now) => (utc == null ? OPEN : clock(utc, now)),
  interval: (s) => (s == null ? OPEN : seconds(s)),
  /** Woran die Belichtung stößt, mit den Namen des Rigs. */
  limits: {
    "longest shutter": "An der längsten Zeit", "widest aperture": "An der weitesten Blende", "highest iso": "An der größten ISO",
    gap: "Intervall voll Belichtung",
    "shortest shutter": "An der kürzesten Zeit", "narrowest aperture": "An der engsten Blende", "lowest iso": "An der kleinsten ISO",
  },
  met: (from, now, darker) => `${from <= now + 60 ? "jetzt" : `ab ${clock(from, now)}`}${darker ? `, bis ${number(Math.abs(darker), 1)} EV zu ${darker > 0 ? "dunkel" : "hell"}` : ""}`,
  notMet: "nie",
  /** Der Unterschied in einem Satz; `later` in Sekunden. */
  differs(stands, then, later) {
    if (stands.frames == null || then.frames == null) return "Läuft bis zum Beenden; die Summe ist also offen.";
    const frames = then.frames - stands.frames, clip = then.clip_s - stands.clip_s;
    const end = Math.abs(later) < 60 ? "gleiches Ende" : `endet ${span(Math.abs(later))} ${later > 0 ? "später" : "früher"}`;
    return frames === 0 ? `Gleich viele Bilder, ${end}.`
      : `${count(Math.abs(frames))} Bilder ${frames > 0 ? "mehr" : "weniger"}, Film ${runs(Math.abs(clip))} ${frames > 0 ? "länger" : "kürzer"}, ${end}.`;
  },
};

export const held = {
  goes: ({ frames, clip_s }, end, byItself) => (frames == null ? "Danach läuft es bis zum Beenden."
    : `Geht es ${byItself ? "dann" : "jetzt"} weiter: am Ende ${count(frames)} Bilder, Film ${runs(clip_s)}, endet ${end}.`),
  costs: (frames, clip) => (frames > 0 ? `Zehn weitere Minuten Halt kosten ${count(frames)} Bilder, ${runs(clip)} Film.` : ""),
};

// ---- Starten

export const start = {
  title: "Welcher Plan?",
  none: "Auf diesem Rig liegt noch kein Plan. Einen schreiben: unter Pläne.",
  begin: "Beginn", begins: { planned: "Wie geplant", now: "Jetzt", at: "Um…" }, at: "Uhrzeit am Ort des Plans, etwa 18:20",
  looking: "Rechnet aus, was daraus wird…",
  notTold: "Was daraus wird, ist nicht bekannt: das Rig sagt es nicht. Starten geht trotzdem.",
  from: (at, wait) => (wait <= 1 ? "Beginnt jetzt" : `Beginnt ${at}, in ${span(wait)}`),
  until: (at) => (at === null ? "läuft bis zum Beenden" : `endet ${at}`),
  comes: (frames, clip) => (frames == null ? "" : `${count(frames)} Bilder, Film ${runs(clip)}`),
  windows: (n) => (n > 1 ? `${n} Mal; dies ist das erste` : ""),
  more: (n, told) => (n > 0 ? `${n === 1 ? `${told ? "Noch eine" : "Eine"} Warnung` : `${told ? "Noch " : ""}${count(n)} Warnungen`} unter Pläne` : ""),
  act: (at, wait) => (at === null ? "Starten" : wait <= 1 ? "Jetzt starten" : `Starten: ${at}`),
  ready: "Ist das Rig bereit?", checking: "Sieht nach…",
  isReady: (warnings) => (warnings ? `Bereit; zu wissen ${warnings === 1 ? "ist eines" : `sind ${warnings} Dinge`}:` : "Bereit."),
  notReady: (faults) => `Nicht bereit, ${faults === 1 ? "ein Fehler" : `${faults} Fehler`}:`,
  notChecked: "Nicht bekannt: das Rig sagt es nicht.",
  noTime: "Eine Uhrzeit fehlt, etwa 18:20.",
  runs: (name) => `„${name}“ hat inzwischen begonnen.`,
  taken: (name, until) => `„${name}“ hat die Kamera ${until === null ? "bis zum Beenden" : `bis ${until}`}. Erst beenden, oder eine andere Zeit wählen.`,
  done: (name, at, wait) => (wait > 1 ? `${name} beginnt ${at}.` : `${name} beginnt.`),
};

// ---- Kamera

export const camera = {
  which: "Welche Kamera?", there: "da", away: "nicht da",
  body: "Gehäuse", battery: "Akku", card: "Karte",
  card_: (bytes, frames) => [bytes == null ? null : size(bytes), frames == null ? null : `${count(frames)} Bilder`].filter(Boolean).join("\n") || UNKNOWN,
  battery_: (left, hours) => (left == null ? UNKNOWN : percent(left) + (hours == null ? "" : `\n${enough(hours)}`)),
  none: "Das Rig hat noch keine Kamera. Eine anschließen, einschalten und einige Sekunden warten.",
  noAnswer: "Das Rig hat nicht geantwortet. Noch einmal versuchen.",
  runs: "Die Aufnahme hat diese Kamera, und ihre Bilder gehen vor. Zum Durchsehen die Aufnahme anhalten und danach fortsetzen.",
  held: "Die Aufnahme ist angehalten: Durchsehen geht. Das Fortsetzen nicht vergessen.",
  parts: { look: "Durchsehen und scharfstellen", frame: "Probebild", checks: "Ist alles bereit?", settings: "Einstellungen", timing: "Wie schnell sie ist", heater: "Tauheizung" },
  partsSay: {
    look: "Live-Bild, Ausschnitt, Schärfe", frame: "Ein Bild außerhalb jeder Aufnahme", checks: "Was fehlt, und was dagegen hilft",
    settings: "Was das Gehäuse anbietet", timing: "Sicheres Intervall, wie gelernt",
  },
  again: "Noch einmal nachsehen",

  // Live-Bild
  look: "Durchsehen", end: "Schließen", beginning: "Warten auf das erste Bild…",
  sun: "Nie durch einen Sucher in die Sonne sehen: es macht blind. Kein langes Objektiv auf die Sonne richten: es verbrennt den Sensor, auch beim Live-Bild.",
  warm: "Das Durchsehen hält das Gehäuse warm und kostet Akku.",
  picture: (zoom) => (zoom === 1 ? "Das ganze Bild. Tippen, wo es näher sein soll." : `Ein Ausschnitt, ${zoom}-mal so groß.`),
  whole: (age) => `Ganzes Bild, ${span(age)} alt. Tippen oder ziehen wählt den Ausschnitt.`,
  part: "Der vergrößerte Ausschnitt: tippen, ziehen oder Pfeiltasten",
  nearer: "Stärker vergrößern", wider: "Weniger vergrößern", times: (zoom) => `${zoom} ×`,
  speed: "Wie viel übertragen wird", speeds: { figures: "Nur Zahlen", calm: "Ruhig", quick: "Schnell" },
  speedSays: { figures: "Keine Bilder, für die schwächste Verbindung.", calm: "Alle 2 s ein kleines Bild.", quick: "Bis zu 4 ganze Bilder je Sekunde." },
  status: (ran, perS, left) => `Läuft seit ${span(ran)}, ${number(perS / 1e3, perS < 1e4 ? 1 : 0)} kB/s. Endet in ${span(left)}, wenn die Seite nicht berührt wird.`,
  ended: {
    idle: "Beendet: 3 Minuten lang hat niemand die Seite berührt.",
    away: "Beendet, als diese Seite nicht zu sehen war.",
    shoot: "Beendet: die Aufnahme geht weiter und hat die Kamera.",
    link: "Beendet: keine Verbindung zum Rig. Noch einmal versuchen.",
    camera: "Beendet: die Kamera gibt keine Bilder mehr. Noch einmal versuchen.",
  },
  sharpness: "Schärfe",
  trend: {
    none: "Warten auf Zahlen…", best: "Bisher am schärfsten", sharper: "Wird schärfer", softer: "Wird unschärfer", below: "War schon schärfer",
  },
  ofBest: (share) => `${percent(100 * share)} der besten`,
  best: "beste", ago: "vor 60 s", now: "jetzt",
  trendSays: "Den Fokusring langsam über das Beste hinaus drehen, dann zurück. Einen hellen Stern wählen und vergrößern.",
  anew: "Neu beginnen",
  light: "Licht, in Blenden unter Weiß", stop: (n) => (n === 0 ? "0" : number(-n)),
  lightSays: (most, clipped, black) =>
    `Das meiste ${most === 0 ? "weniger als eine Blende" : most === 1 ? "eine Blende" : `${most} Blenden`} unter Weiß. Weiß ${percent(100 * clipped)}, Schwarz ${percent(100 * black)}.`,

  // Probebild
  test: {
    says: "Es bleibt auf der Karte und gehört zu keiner Aufnahme. Das Gehäuse behält die gewählte Belichtung; eine Aufnahme stellt ihre eigene ein, wenn sie weitergeht.",
    shutter: "Belichtungszeit", iso: "ISO", asSet: "eingestellt", asNext: "wie Aufnahme", act: "Probebild aufnehmen", taking: "Wird aufgenommen…",
    busy: "Eine Aufnahme hat diese Kamera. Sie zuerst anhalten oder ihr Ende abwarten.", away: "Die Kamera ist nicht da. Einschalten und nach dem Kabel sehen.",
    unanswered: "Keine Antwort vom Rig. Das Bild kann trotzdem aufgenommen sein: vor einem weiteren auf der Karte nachsehen.",
    exposure: "Belichtung", of: (s, aperture, iso) => [shutter(s), aperture == null ? null : fNumber(aperture), `ISO ${isoSpeed(iso)}`].filter(Boolean).join(", "),
    scene: "Licht des Motivs", notTold: "nicht zu sagen: zu weiß oder zu schwarz",
    ev: (value) => ev(value), ends: "Weiß / Schwarz", end: (clipped, black) => `${percent(100 * clipped)} / ${percent(100 * black)}`, files: "Auf der Karte",
    show: "Bild zeigen", hide: "Bild verbergen", alt: "Das letzte Probebild", lost: "Das Bild kam nicht an.",
  },

  // Prüfung
  check: {
    plan: "Geprüft für", noPlan: "kein Plan", running: (name) => `${name}, läuft gerade`, looking: "Rig und Kameras werden gefragt…",
    levels: { fail: "Zuerst beheben", warn: "Ansehen", pass: "Gut" },
    well: (n) => (n === 1 ? "1 Punkt ist gut" : `${n} Punkte sind gut`), rig: "Rig",
    fix: (setting, value) => (value === "now" ? "Uhr des Gehäuses nach dem Rig stellen" : `${setting} auf „${value}“ stellen`),
    fixAll: (n) => `Alle ${n} davon einstellen`,
    fixed: "Eingestellt und noch einmal nachgesehen.", notFixed: (setting, why) => `${setting} wurde nicht eingestellt: ${why}`,
    whileRuns: "Solange eine Aufnahme läuft, wird von hier nichts eingestellt. Erst anhalten.",
  },

  // Einstellungen
  names: {
    shutter: "Belichtungszeit", aperture: "Blende", iso: "ISO", iso_auto: "ISO-Automatik", format: "Dateiformat", target: "Wohin die Bilder gehen",
    focus: "Fokus", exposure_mode: "Belichtungsprogramm", white_balance: "Weißabgleich", drive: "Aufnahmeart",
    noise_reduction: "Rauschminderung bei Langzeitbelichtung", power_off: "Abschaltzeit", style: "Bildstil", clock: "Uhr des Gehäuses",
    battery: "Akku", shots_left: "Bilder frei",
  },
  asking: "Die Kamera wird gefragt…", shootSets: "stellt die Aufnahme ein", onBody: "nur am Gehäuse selbst", empty: "zeigt das Gehäuse nicht",
  unnamed: (code) => `ohne bekannten Namen (das Gehäuse sagt ${code}): siehe Bildschirm der Kamera`,
  setting: (name) => `${name} wird eingestellt…`, isSet: (name, value) => `${name}: ${value}, vom Gehäuse zurückgelesen.`,
  clockSet: "Nach dem Rig stellen", texts: "Die Werte sind die Worte des Gehäuses.",

  // Tempo
  timing: {
    none: "Über dieses Gehäuse ist noch nichts bekannt. Eine Aufnahme von zehn Bildern zeigt es, oder der gleichmäßige Takt unten.",
    gap: "Sichere Lücke", interval: "Sicheres Intervall", gap_: (s) => `mindestens ${seconds(s)}`, from: (basis) => `Aus: ${basis}.`,
    both: (s, gap) => `mindestens ${s > 0 ? `${seconds(s)} und die ` : ""}Belichtung + ${seconds(gap)}`,
    files: (kinds) => `Mit ${kinds}`, measure: "Dauert, s", half: "die Hälfte", most: "99 von 100", count: "Bilder",
    names: { late: "Verspätung", call: "Auslösen", set: "Einstellen", readout: "Auslesen", write: "Schreiben", preview: "Kleines Bild", fetch: "Holen, s/MB" },
    beat: "Gleichmäßiger Takt", beatHeld: (s, frames) => (s == null ? `In ${count(frames)} Bildern wurde kein Intervall gehalten.` : `Alle ${seconds(s)} gehalten, gefunden mit ${count(frames)} Bildern.`),
    beatFailed: (s, why) => `Alle ${seconds(s)} nicht gehalten${why ? `: ${why}` : ""}.`,
    beatSays: "Findet das kürzeste Intervall, das das Gehäuse hält. Es braucht bis zu 96 Probebilder, die auf der Karte bleiben und den Verschluss abnutzen, und einige Minuten. Es endet, wenn dieser Teil verlassen oder das Telefon weggelegt wird.",
    act: "Takt suchen", sure: "Jetzt bis zu 96 Bilder aufnehmen", doing: (s) => `Läuft seit ${span(s)}…`, stop: "Abbrechen",
    ended: "Beendet, bevor etwas gefunden war. Die Bilder bis dahin sind auf der Karte.", busy: "Eine Aufnahme hat diese Kamera, auch wenn sie angehalten ist: jetzt kein Takt.",
  },

  // Tauheizung
  heater: { on: "an", off: "aus", unknown: "nicht bekannt", state: "Heizung", air: "Luft", humidity: "Feuchte", dew: "Taupunkt", celsius: (c) => `${number(c, 1)} °C` },
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
  clock: "Uhr des Rigs", clockSays: (time, zone) => `${time}${zone ? `, ${zone.replaceAll("_", " ")}` : ""}`,
  clockOf: "Die Zeiten der Seite sind die des Ortes, an dem aufgenommen wird, von 0:00 bis 24:00.",
  theme: "Farben", byLight: "Nach dem Licht", night: "Nacht", day: "Tag",
  themeSays: "Nach dem Licht: Rot auf Schwarz, sobald die Sonne am Ort des Rigs 6° unter dem Horizont steht, sonst dunkel auf hell.",
  language: "Sprache", byPhone: "Wie das Telefon",
  languageSays: "Was das Rig selbst sagt, steht hier auf Deutsch, soweit die Seite den Satz kennt, sonst englisch; der Bericht ist englisch.",
  access: "Zugang", noAnswer: "Das Rig hat nicht geantwortet.", unnamed: "ohne Namen",
  here: "Das ist das Rig selbst oder eine Maschine, der es traut.",
  paired: (name, rights) => `Gekoppelt${name ? ` als „${name}“` : ""}, darf ${rights === "all" ? "alles ändern" : "nur ansehen"}.`,
  invite: { all: "Telefon einlassen", view: "Telefon nur ansehen lassen" },
  code: (code, rights) => `Code für das andere Telefon: ${code}. Er lässt ein Gerät ${rights === "all" ? "alles ändern" : "nur ansehen"}, einmal.`,
  since: (day, rights, mine) => `${mine ? "dieses Telefon, " : ""}seit ${day}, darf ${rights === "all" ? "ändern" : "ansehen"}`,
  revoke: "Zugang nehmen", sure: "Sicher?",
  home: "Auf dem Startbildschirm",
  homeSays: "Im Menü des Browsers: „Zum Startbildschirm hinzufügen“. Dann öffnet sie mit einem Tippen und braucht weiter das WLAN des Rigs.",
  dark: "Im Dunkeln",
  darkSays: "Zuerst die Helligkeit des Telefons herunterdrehen: sie zählt mehr als jede Farbe. Den Boden um das Stativ kennen, bevor es dunkel ist; nicht auf Straßen und nicht an Kanten stehen, solange der Blick auf dem Schirm ist.",
};

// ---- Bilder

export const frames = {
  whichShoot: "Welche Aufnahme", whichCamera: "Welche Kamera", viewsName: "Gezeigt als",
  views: { look: "Ansehen", list: "Liste", curves: "Kurven" }, clips: "Filme", report: "Bericht",
  reportWorks: "Der Bericht wird ausgerechnet…", reportLong: "Eine lange Aufnahme braucht auf einem kleinen Rig Minuten.",
  reportLost: "Keine Verbindung. Der Bericht wird angefordert, sobald sie wieder da ist.", toFrames: "‹ Bilder", print: "Drucken…", keepReport: "Als Datei sichern",
  aShoot: (name, when, state) => `${when}, ${within(state)}: ${name}`,
  looking: "Liest das Protokoll…", noShoots: "Auf diesem Rig wurde noch nichts aufgenommen.", noFrames: "Noch keine Auslösung war fällig.",

  show: "Bilder zeigen", hide: "Bilder verbergen",
  back: "Eine Auslösung zurück", on: "Eine Auslösung weiter", play: "Abspielen", pause: "Pause",
  slider: "Auslösung der Aufnahme", speedName: "Spielt", about: "Was davon bekannt ist",
  speed: (n) => `${n} je s`, clipSpeed: (n) => `${n} wie Film`, allIn: (s) => `alles in ${s} s`,
  slot: (seq, of, when) => `Auslösung ${count(seq)} von ${count(of)}` + (when && ", " + when),
  frame: (seq, of, when) => `Bild ${count(seq)} von ${count(of)}, ${when}`,
  missedSlot: (seq, of, when, state) => `× Nr. ${count(seq)} von ${count(of)}, ${when}: ${state === "lost" ? "verloren" : "verpasst"}`,
  missedRun: (from, to, when) => `× Nr. ${count(from)} bis ${count(to)}, ab ${when}: keine Bilder`,
  noRow: "Das Protokoll hat dazu keine Zeile.",
  noPicture: "Von diesem Bild liegt keine Vorschau auf dem Rig.",
  coming: "Die Vorschau ist unterwegs…", notThrough: "Die Vorschau kam nicht an.",
  thinned: (by) => `Zeigt 1 von ${count(by)}, um mitzukommen. Von denen ohne Bild sind die neuesten 200 alle dabei.`,

  states: {
    due: "Gleich fällig",
    released: "Ausgelöst; die Kamera hat das Bild noch nicht gemeldet",
    written: "Auf der Karte der Kamera", fetched: "Auf der Karte, und geprüft auf dem Rig",
    lost: "Verloren: ausgelöst, aber nicht auf der Karte", missed: "Verpasst: nicht ausgelöst",
  },
  shortStates: { released: "eben ausgelöst", written: "auf der Karte", fetched: "auf Karte und Rig", missed: "Verpasst", lost: "Verloren" },
  exposure: (s, n, iso) => [shutter(s), n && fNumber(n), iso && `ISO ${isoSpeed(iso)}`].filter(Boolean).join("; "),
  ms: (value) => `${number(value, 0)} ms`,
  off: (value, written) => ` (die Einstellung ist ${written} EV zu ${value < 0 ? "dunkel" : "hell"})`,
  underOne: "unter 1 %",
  where: (altitude, azimuth) =>
    `${degrees(Math.abs(altitude), 1)} ${altitude < 0 ? "unter" : "über"} dem Horizont` + (azimuth == null ? "" : `, Azimut ${degrees(azimuth)}`),
  kilobytes: (n) => `${n} kB`,
  facts: {
    state: "Zustand", cause: "Grund", due: "Fällig", released: "Ausgelöst", late: "Verspätung", skew: "Nach der ersten Kamera",
    interval: "Intervall bis zum nächsten", gap: "Lücke", exposure: "Belichtung", exposureEv: "Belichtung, EV bei ISO 100",
    sceneEv: "Motiv, wie gemessen, EV bei ISO 100", targetEv: "Gewünscht, EV bei ISO 100",
    clipped: "Ausgefressen, vom Bild", black: "Ganz ohne Licht, vom Bild",
    sun: "Sonne", moon: "Mond", camera: "Kamera", onCard: "Datei auf der Karte", cardFreed: "Von der Karte gelöscht",
    onRig: "Datei auf dem Rig", size: "Größe", rigFreed: "Vom Rig gelöscht", copies: "Kopien auf", sha256: "SHA-256", id: "Nummer auf diesem Rig",
  },

  list: "Vom neuesten zurück", which: "Welche Bilder",
  kinds: { all: "Alle", missed: "Verpasst", doubtful: "Fraglich" },
  kindsSay: {
    all: "Jede fällige Auslösung, mit Bild oder ohne.",
    missed: "Auslösungen ohne Bild, verpasst oder verloren, jede mit ihrem Grund.",
    doubtful: "Bilder, die vielleicht nicht sind, was sie sein sollten, jedes mit dem, was dagegen spricht.",
  },
  late: (s) => `${s} s zu spät ausgelöst`, half: "von dem Paar kam nur eine Datei auf das Rig",
  nothing: { all: "Noch keine.", missed: "Keine wurde verpasst.", doubtful: "Keines ist fraglich." },
  theFrame: (seq) => `Bild ${count(seq)}`, theSlot: (seq) => `Nr. ${count(seq)}`,
  older: "Ältere",
  csv: "Protokoll als Tabelle sichern", csvSays: "Eine CSV-Datei mit allen Spalten, für eine Tabellenkalkulation. Bei langen Aufnahmen dauert es.",
  csvNot: "Das Protokoll kam nicht an. Steht die Verbindung? Dann noch einmal tippen.",

  curves: "Über der Höhe der Sonne", curvesEarly: "Kurven gibt es ab dem zweiten Bild.",
  sceneKey: "Motiv", exposureKey: "Belicht.", missedKey: "× kein Bild",
  evAxis: "EV bei ISO 100", intervalAxis: "Intervall, s", sunAxis: "Höhe der Sonne", sunSinks: "Sonne sinkt", sunRises: "Sonne steigt",
  curvesSay: (first, last) =>
    `${span((Date.parse(last.due_utc) - Date.parse(first.due_utc)) / 1000)} Aufnahme: Sonne von ` +
    `${degrees(first.sun_altitude_deg, 1)} bis ${degrees(last.sun_altitude_deg, 1)}, Motiv von ` +
    `${first.scene_ev == null ? UNKNOWN : ev(first.scene_ev)} bis ${last.scene_ev == null ? UNKNOWN : ev(last.scene_ev)}, ` +
    `Intervall von ${seconds(first.interval_s)} bis ${seconds(last.interval_s)}.`,
};

// ---- Filme

export const clips = {
  title: "Filme", looking: "Sucht die Filme…", none: "Noch kein Film dieser Aufnahme.",
  ofDay: (day) => (day == null ? "Das Fenster" : day), soFar: (day) => (day == null ? "Das Fenster bis jetzt, klein" : `${day} bis jetzt, klein`),
  asked: (made) => (made ? `Bestellt, fertig ${made}` : "Bestellt"),
  states: { shooting: "Das Fenster läuft", waiting: "Wartet", making: "Wird gemacht", ready: "Fertig", failed: "Nicht gemacht" },
  framesIn: (n) => (n === 1 ? "1 Bild" : `${count(n)} Bilder`), without: (n) => `${count(n)} ${n === 1 ? "Auslösung" : "Auslösungen"} ohne Bild`,
  watch: "Ansehen", shut: "Schließen", keep: "Als Datei sichern", more: "Was davon bekannt ist",
  codecs: { h264: "H.264", hevc: "HEVC" }, bits: (n) => `${n} Bit`, rate: (n) => `${number(n)} Bilder/s`, unsteadied: "nicht beruhigt",
  place: "Stelle im Film", at: (now, of) => `${now} von ${of}`, whole: "Ganzer Schirm",
  noWatch: "Dieser Browser kann ihn nicht zeigen, oder er kam nicht durch. Als Datei sichern und am Rechner ansehen.",
  form: "Einen Film machen", make: "Machen", asking: "Das Rig sieht nach, ob er sich machen lässt…", taken: "Er steht in der Liste und wird gemacht, sobald er an der Reihe ist.",
  whichFrames: "Welche Bilder",
  which: { all: "Jedes Bild", "sun-azimuth": "Eines am Tag, nach der Richtung der Sonne", "sun-altitude": "Eines am Tag, nach der Höhe der Sonne", "hour-best": "Das beste jeder Stunde" },
  azimuth: "Richtung der Sonne, Grad von Nord über Ost", altitude: "Höhe der Sonne, Grad über dem Horizont",
  noAngle: (text) => `„${text}“ ist keine Gradzahl. Eine wie 180 angeben.`,
  side: "Während sie", sides: { morning: "steigt", evening: "sinkt" },
  skip: "Weglassen", skips: { fog: "Nebel", drops: "Tropfen auf dem Objektiv", night: "Nacht" },
  days: "Nur einige Tage", first: "Erster Tag", last: "Letzter Tag",
  how: "Wie", hows: { steady: "Helligkeit beruhigen", even: "Zeit gleichmäßig, Bilder überblendet" },
  sizeName: "Pixel höchstens", size: (w, h) => `${w} × ${h}`,
  burn: "Ins Bild schreiben", burns: { time: "Datum und Uhrzeit", sun: "Höhe der Sonne" },
};

// ---- Pläne

export const plans = {
  again: (last) => `${last} …`, working: "Wird ausgerechnet…", noAnswer: "Das Rig hat nicht geantwortet. Noch einmal versuchen.",
  none: "Auf diesem Rig liegt noch kein Plan.", listSays: "Antippen, um einen anzusehen, zu ändern oder zu starten.",
  new: "Neuer Plan", all: "‹ Alle Pläne", unsaved: "Änderungen nicht gesichert", neverSaved: "Noch nicht gesichert, liegt auf diesem Telefon",
  noSuch: (name) => `Ein Plan mit dem Namen ${name} liegt nicht auf dem Rig.`,
  save: "Sichern", start: "Start…", throwAway: "Änderungen verwerfen", thrown: (name) => `Änderungen an ${name} verworfen.`, undo: "Zurückholen", undone: "Die Änderungen sind wieder da.",
  saved: "Auf dem Rig gesichert.", notSaved: "Nicht gesichert. Was getippt ist, bleibt in diesem Tab, auch wenn die Verbindung abreißt oder die Seite neu lädt.",
  notKept: "Nicht gesichert, und dieser Browser behält nichts: vor dem Verlassen sichern.",
  unkept: "Auf dem Rig noch nicht gesichert.",
  restored: "Nicht gesichert. So war es zuletzt getippt.",
  restoredOffline: "Keine Verbindung. So war es zuletzt getippt; auf dem Rig ist es nicht gesichert.",
  notDone: (why) => `Nicht gesichert. ${why}`,
  unanswered: "Keine Antwort vom Rig. Vielleicht ist es gesichert, vielleicht nicht; das Getippte steht noch da. Noch einmal sichern.",
  refused: {
    place: () => "Zuerst den Ort angeben.",
    gap: (interval, gap, least) => `Ein Intervall von ${interval} s ist zu kurz für die Belichtung und die Lücke von ${gap} s. Mindestens ${least} s nehmen, oder kürzer belichten oder die Lücke verkleinern.`,
    far: () => "Das ist mehr als einen Tag vom Sonnenereignis entfernt. Näher daran bleiben.",
    crossed: () => "Das Ende liegt vor dem Beginn. Tauschen, oder eines verschieben.",
    empty: () => "Bitte ausfüllen.",
  },
  clash: "Der Plan auf dem Rig wurde inzwischen anderswo geändert; gesichert wurde nichts. Entweder jenen nehmen, dann geht das hier Getippte verloren, oder diesen an seine Stelle setzen. Der andere bleibt unter den älteren Fassungen.",
  takeTheirs: "Den vom Rig nehmen", keepMine: "Diesen darüber sichern",
  also: (list) => `Auch in diesem Plan, und so belassen: ${list}`,
  more: "Kopieren, umbenennen, ältere Fassungen, löschen",
  acts: { copy: "Kopieren…", rename: "Umbenennen…", versions: "Ältere Fassungen…", delete: "Löschen…" },

  name: "Name", nameSays: "Buchstaben ohne Umlaute, Ziffern, . _ und -, höchstens 64; vorn ein Buchstabe oder eine Ziffer.", badName: "Nur Buchstaben ohne Umlaute, Ziffern, . _ und -, höchstens 64, und vorn ein Buchstabe oder eine Ziffer.", taken: "Ein Plan dieses Namens ist schon da. Einen anderen Namen geben.",
  newTitle: "Neuer Plan", begin: "Anfangen", copyTitle: (name) => `${name} kopieren`, copied: "Das ist die Kopie. Sie ist noch nicht gesichert.",
  renameTitle: (name) => `${name} umbenennen`, renamed: (name) => `Heißt jetzt ${name}.`,
  deleteTitle: (name) => `${name} löschen?`, deleteSays: "Auch die älteren Fassungen gehen für immer. Aufnahmen nach diesem Plan bleiben, mit ihren Bildern.", deleted: (name) => `${name} ist gelöscht.`,
  versionsTitle: "Ältere Fassungen", versionsSays: "Antippen, um eine im Formular zu sehen. Auf dem Rig ändert sich nichts, bis gesichert wird.",
  versionNow: (when) => `${when} (wie jetzt)`, noOlder: "Eine ältere gibt es nicht.", older: "Die ältere Fassung steht im Formular. Sichern, um sie wieder zu haben.",

  site: "Ort", where: ({ latitude, longitude, timezone }) => (latitude === undefined || longitude === undefined ? "Noch nicht angegeben" : [degrees(latitude, 4), degrees(longitude, 4), timezone?.replaceAll("_", " ")].filter(Boolean).join(", ")),
  paste: "Koordinaten, geo:-Link oder Text einer Karte einfügen", placed: ({ latitude, longitude }) => `Gelesen als Breite ${degrees(latitude, 5)}, Länge ${degrees(longitude, 5)}.`,
  noPlace: "Darin ist kein Ort zu finden. So schreiben: 57,7 11,95 oder 57°42'N 11°57'E.",
  latitude: "Breite, Nord +", longitude: "Länge, Ost +", zone: "Zeitzone", ownZone: (zone) => `Die Zone dieses Telefons: ${zone.replaceAll("_", " ")}`,

  when: "Wann", stop: "Ende", event: "Sonnenereignis", minutes: "Minuten danach (− davor)", shift: (step) => `${Math.abs(step)} Minuten ${step < 0 ? "früher" : "später"}`,
  kinds: { sun: "Nach der Sonne", now: "Jetzt, beim Starten", time: "Zu einer Uhrzeit", text: "Wie geschrieben", duration: "Nach einer Dauer", frames: "Nach einer Zahl von Bildern", never: "Wenn von Hand beendet" },
  begins: "Beginn",
  events: {
    astronomical_dawn: "Astronomische Morgendämmerung", nautical_dawn: "Nautische Morgendämmerung", civil_dawn: "Bürgerliche Morgendämmerung", sunrise: "Sonnenaufgang", noon: "Mittag", sunset: "Sonnenuntergang",
    civil_dusk: "Bürgerliche Abenddämmerung", nautical_dusk: "Nautische Abenddämmerung", astronomical_dusk: "Astronomische Abenddämmerung",
  },
  now: "jetzt",
  moment: (event, minutes) => (minutes ? `${span(Math.abs(minutes) * 60)} ${minutes < 0 ? "vor" : "nach"} ${event.replace(/^(\S+)e (\S+)$/, (_, which, dusk) => `der ${which.toLowerCase()}en ${dusk}`)}` : event),
  notThatDay: "(nicht an diesem Tag)", thatDay: (time, today) => `Das ist ${today ? "heute " : ""}${time}.`,
  clockTime: "Uhrzeit am Ort", asWritten: "Zeit, wie sie im Plan steht", duration: "Dauer, etwa 3h oder 1h30min", frameCount: "Bilder",
  windows: (n) => `Dieser Plan hat ${n} Fenster am Tag. Sie bleiben, wie sie sind; dieses Formular ändert Pläne mit einem Fenster.`,
  whichDays: "An welchen Tagen", repeat: "Wie oft", once: "Einmal", repeats: "An vielen Tagen", onDays: "An diesen Tagen",
  days: { mon: "Mo", tue: "Di", wed: "Mi", thu: "Do", fri: "Fr", sat: "Sa", sun: "So" },
  dates: { date: "Tag (leer: das nächste Mal)", from: "Erster Tag (leer: ab jetzt)", until: "Letzter Tag (leer: 400 Tage lang)", skip: "Ausgelassene Tage" },

  paceTitle: "Tempo", pace: "Was das Intervall bestimmt", paces: { steady: "Gleichmäßig", timed: "Mit der Zeit von einem zum anderen", sun: "Nach der Sonnenhöhe", light: "Nach dem Licht", pulse: "Nach Pulsen einer anderen Maschine" },
  paceFields: { interval_s: "Intervall, Sekunden", from_s: "Erstes Intervall, s", to_s: "Letztes Intervall, s", over: "Innerhalb von, etwa 40min", min_interval_s: "Kürzestes Intervall, Sekunden" },
  wholeWindow: "das ganze Fenster",
  pointsOf: { sun: "Intervall über der Sonnenhöhe", light: "Intervall über dem Licht, EV" }, curve: "Punkte der Kurve",
  point: (n) => `Punkt ${n}`, at: { sun: (value) => `Sonne bei ${value}`, light: (value) => `Licht ${value}` },
  points: "Die Punkte als Zahlen", axis: { sun: "Sonne, Grad", light: "Licht, EV", s: "Sekunden" },
  pointField: { sun: [(n) => `Punkt ${n}: Sonnenhöhe, Grad`, (n) => `Punkt ${n}: Intervall, Sekunden`], light: [(n) => `Punkt ${n}: Licht, EV`, (n) => `Punkt ${n}: Intervall, Sekunden`] },
  addPoint: "Punkt hinzufügen", dropPoint: (n) => `Punkt ${n} wegnehmen`,
  gapTitle: "Lücke", minGap: "Kürzeste Lücke, Sekunden", stretch: "Intervall darf mit der Belichtung wachsen bis, Sekunden (stretch_to_s)", gapSays: "Was zwischen Belichtung und nächster Auslösung bleibt: zum Schreiben und um die nächste einzustellen.",

  lightTitle: "Licht", light: "Was die Belichtung bestimmt", lights: { fixed: "Fest", follow: "Dem Licht folgen" },
  stops: { shutter_s: "Belichtungszeit", aperture: "Blende", iso: "ISO" },
  limits: { shutter_s: ["Kürzeste Zeit", "Längste Zeit"], aperture: ["Weiteste", "Engste"], iso: ["Tiefste ISO", "Höchste ISO"] },
  order: "Was zuerst nachgibt, wenn es dunkel wird", gives: { shutter: "Zeit", aperture: "Blende", iso: "ISO" },
  biasTitle: "Heller oder dunkler", bias: "Korrektur, EV (+ ist heller)",
  filesTitle: "Dateien und Film", fetch: "Was auf das Rig kommt", fetches: { preview: "Kleine Bilder", all: "Jede Datei", every: "Jede n-te Datei, sonst kleine Bilder", none: "Nichts" },
  everyNth: "Von wie vielen Bildern eines ganz kommt", fps: "Bilder je Sekunde im Film", daily: "Nach jedem Fenster den Film daraus machen", preview: "Unterwegs einen kleinen Film aus den kleinen Bildern machen",

  forecast: "Was daraus wird", starts: "Beginn", ends: "Ende", openEnd: "bis zum Beenden", frames: "Bilder", clip: "Film", card: "Auf der Karte", rig: "Auf dem Rig", power: "Strom",
  inWindows: (frames, windows) => `${count(frames)} in ${count(windows)} Fenstern`, of: (needed, free, fits) => (fits ? `${needed}, ${free} frei` : `▲ ${needed}, nur ${free} frei`),
  lasts: (time) => `reicht ${time}`, watts: (needed, usable) => `${number(needed, 0)} von ${number(usable, 0)} Wh`,
  framesIn: (n) => `${count(n)} Bilder`, clipOf: (s) => `Film ${runs(s)}`, warned: (n) => (n === 1 ? "1 Warnung" : `${n} Warnungen`),
  assumed: (basis) => `Größe eines Bildes: ${basis}.`, noWarning: "Keine Warnung.", careful: "Vorsicht",
  costs: { frames: "Bilder gingen verloren", night: "Die Nacht wäre verdorben", quality: "Qualität", comfort: "Gut zu wissen" },
  notYet: (label) => (label ? `Noch kein Plan: ▲ bei „${label}“.` : "Noch kein Plan: ▲ hier oben am Formular."), noForecast: "Keine Antwort vom Rig; es wird weiter versucht…", forecastOld: "Das galt vor der letzten Änderung.",

  rehearsal: "Probe", rehearsalSays: "Das Rig spielt den Plan vor einem Modell von Himmel und Kamera durch. Das dauert einige Sekunden und ändert nichts.",
  skies: { clear: "Klarer Himmel", cloudy: "Wolken" }, rehearsing: (s) => `Probe läuft… ${s} s`, took: (s) => `Sie dauerte ${span(s)}.`, rehearsalOld: "Diese Probe war vor der letzten Änderung.",
  rehearsed: (frames, clip) => `${frames} Bilder, Film ${clip}.`, missedSlots: (n, cause) => `${count(n)} verpasst: ${cause}.`,
  key: (missed) => `Durchgezogen: Intervall. Gestrichelt: Belichtungszeit. Dazwischen: die Lücke.${missed ? " Kreuze: verpasst." : ""} Unten: Uhrzeit und Sonnenhöhe.`,
  chartSays: ({ interval_s, shutter_s, frames }) => [`${count(frames)} Bilder`, interval_s && `Intervall von ${seconds(interval_s[0])} bis ${seconds(interval_s[1])}`, shutter_s && `Belichtungszeit von ${shutter(shutter_s[0])} bis ${shutter(shutter_s[1])}`].filter(Boolean).join(", "),

  startTitle: (name) => `${name} starten?`,
  startsUnsaved: "Aufgenommen wird, was im Formular steht. Der Plan auf dem Rig bleibt ohne diese Änderungen.",
};
