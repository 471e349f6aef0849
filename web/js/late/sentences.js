// How a text of the rig's is known again by its words, for a language that has the rig's sentences: each stands there
// beside the English one, with placeholders for what differs from time to time. Fetched with them (`js/rig-says.js`).
//
// {n} is a number, {length} a length of time, {size} bytes, {time} a time, {day} a day, {label} an exposure as cameras write
// it, {frames} and what else `COUNTED` has so many of them, {text} something else that the rig tells; any other word, such
// as {name}, stands for what stays as it is. Figures behind a word tell one from another: {n}, {n2}.

const MOST = 500;
const PLACE = /\{([a-z]+)\d*\}/g;
const NUMBER = "\\d[\\d,]*(?:\\.\\d+)?", NAME = "(?:usb:|(?!\\. |: ).)+?"; // which does not go on into another sentence
const DAYS = "Mon Tue Wed Thu Fri Sat Sun".split(" "), MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split(" ");

/** From the files of sentences and the page's way to write figures: a function from the rig's text to the language's own. */
export function translator(files, { days, marked, number }) {
  const told = new Map();

  /** Figures of the rig's, such as `12,300.5`, as the page writes them. */
  const figure = (text) => (/^0\d/.test(text) ? text : number(Number(text.replaceAll(",", "")), text.split(".")[1]?.length ?? 0));
  const figures = (text) => text.replace(/^-/, "−").replace(/(\d+) days?/, (_, n) => days(Number(n))).replace(new RegExp(`${NUMBER}(?= |$)`, "g"), figure);

  /** A day or a time of the rig's, `Sat 28 Nov 19:40`, with the language's own names. */
  const named_ = (utc, options) => new Intl.DateTimeFormat(document.documentElement.lang, { ...options, timeZone: "UTC" }).format(utc);
  const calendar = (text) => text.replace(/[A-Z][a-z]{2}/g, (word) => {
    const day = DAYS.indexOf(word), month = MONTHS.indexOf(word); // 1 January 2024 was a Monday
    return day >= 0 ? named_(Date.UTC(2024, 0, 1 + day), { weekday: "short" }) : month >= 0 ? named_(Date.UTC(2024, month), { month: "short" }) : word;
  });

  /** What a placeholder stands for, and how the page shows it. */
  const KINDS = {
    n: [`[-−+]?${NUMBER}`, figures],
    length: [`${NUMBER} (?:s|min|h|days?)(?: \\d+ (?:s|min|h))?`, figures],
    size: [`${NUMBER} [MGT]B`, figures],
    time: ["(?=[A-Z\\d])(?:[A-Z][a-z]{2} ?)?(?:\\d{1,2} [A-Z][a-z]{2}(?: \\d{4})? ?)?(?:\\d\\d:\\d\\d)?", calendar],
    day: ["\\d{4}-\\d\\d-\\d\\d", String],
    label: [NAME, marked],
    text: [".+", (text) => rigSays(text)],
  };
  const NAMED = [NAME, String];

  /** So many of something, which has one word for one and another for more. */
  const counting = (noun, [single, several]) => [`${NUMBER} ${noun.slice(0, -1)}s?`, (text) => {
    const [n] = text.split(" ");
    return `${figure(n)} ${n === "1" ? single : several}`;
  }];

  /** Gives of a text that is the English sentence the other one, of any other null. */
  function maker(english, other, kinds) {
    const places = [...english.matchAll(PLACE)].map(([place, kind]) => [place, ...(kinds[kind] ?? NAMED)]);
    const plain = english.split(PLACE).filter((_, i) => i % 2 === 0).map((text) => text.replace(/[.*+?^${}()|[\]\\]/g, "\\$&"));
    const whole = new RegExp(`^${plain.map((text, i) => (i ? `(${places[i - 1][1]})${text}` : text)).join("")}$`);
    return (text) => {
      const found = whole.exec(text);
      if (!found) return null;
      const put = Object.fromEntries(places.map(([place, , shown], i) => [place, shown(found[i + 1])]));
      return other.replace(PLACE, (place) => put[place]);
    };
  }

  const counted = Object.fromEntries(files.flatMap(({ COUNTED = {} }) => Object.entries(COUNTED)).map(([noun, words]) => [noun, counting(noun, words)]));
  const size = ([english]) => english.replace(PLACE, "").length, kinds = { ...KINDS, ...counted };
  const makers = files.flatMap(({ SENTENCES }) => Object.entries(SENTENCES)).sort((one, two) => size(two) - size(one)) // the closest first
    .map(([english, other]) => maker(english, other, kinds));

  /** One sentence, with all that is told within it; one that is known in the middle of others too where it begins. */
  function one(text) {
    for (const make of makers) {
      const made = make(text);
      if (made !== null) return made;
    }
    const small = text[0].toLowerCase() + text.slice(1), made = small === text ? null : one(small);
    return made && made[0].toUpperCase() + made.slice(1);
  }

  /** The first of several, with its stop, and then the others. */
  function row(text) {
    const end = text.search(/[.!?](?= [^a-z]|$)/), rest = text.slice(end + 2);
    if (end < 0) return null;
    const first = one(text.slice(0, end + 1)) ?? `${rigSays(text.slice(0, end))}${text[end]}`;
    return rest ? `${first} ${rigSays(rest)}` : first;
  }

  /** What is told of something that is named before it: `camera-1: …`, and lists of such. */
  function named(text) {
    if (text.includes("; ")) return text.split("; ").map(rigSays).join("; ");
    const cut = text.indexOf(": ");
    return cut < 1 ? null : `${one(text.slice(0, cut)) ?? text.slice(0, cut)}: ${rigSays(text.slice(cut + 2))}`;
  }

  /** A text of the rig's, as far as it is known. */
  function rigSays(text) {
    if (told.size > MOST) told.clear();
    if (text && !told.has(text)) told.set(text, one(text) ?? row(text) ?? named(text) ?? text);
    return told.get(text) ?? text;
  }

  return rigSays;
}
