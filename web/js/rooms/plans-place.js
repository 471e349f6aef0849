// A place out of pasted text: a geo: link (RFC 5870), degrees in the usual writings, the link or the text that a map shares.

const COMMA = (text) => Number(text.replace(",", "."));
const VALUE = String.raw`([-+]?)(\d{1,3}(?:[.,]\d+)?)\s*(?:°|º|deg)?\s*(?:(\d{1,2}(?:[.,]\d+)?)\s*['′’]\s*(?:(\d{1,2}(?:[.,]\d+)?)\s*(?:"|″|”|''|′′))?)?`;
const AFTER = new RegExp(String.raw`${VALUE}\s*([NSEW])(?![a-z])`, "gi");
const BEFORE = new RegExp(String.raw`(?<![a-z])([NSEW])\s*${VALUE}`, "gi");
const ANGLE = new RegExp(VALUE.replace("°|º|deg)?", "°|º|deg)"), "gi");
const DOT = String.raw`([-+]?\d{1,3}(?:\.\d+)?)`, PAIR = String.raw`${DOT}\s*,\s*${DOT}`;
/** How links of maps carry a place; latitude comes first in all of them. */
const LINKS = [
  new RegExp(`@${PAIR}`), new RegExp(`[?&](?:q|ll|query|center|destination)=(?:loc:)?${PAIR}`, "i"),
  new RegExp(`[?&]m?lat=${DOT}&m?(?:lon|lng)=${DOT}`, "i"), new RegExp(`map=[\\d.]+/${DOT}/${DOT}`, "i"),
];
const PLAIN = [
  /([-+]?\d{1,3}\.\d+)\s*[,;\s]\s*([-+]?\d{1,3}\.\d+)/, // 57.7, 11.95, in a text too
  /([-+]?\d{1,3},\d+)\s*(?:[,;]\s*|\s)([-+]?\d{1,3},\d+)/, // 57,7 11,95
  /^([-+]?\d{1,3}(?:\.\d+)?)(?:\s*[,;]\s+|\s*;\s*|\s+)([-+]?\d{1,3}(?:\.\d+)?)$/, // 57, 11: two numbers and nothing else
  /^([-+]?\d{1,3}\.\d+),([-+]?\d{1,3})$/, /^([-+]?\d{1,3}),([-+]?\d{1,3}\.\d+)$/,
  /^([-+]?\d{1,3}(?:,\d+)?)\s*(?:;\s*|,?\s+)([-+]?\d{1,3}(?:,\d+)?)$/,
];

function place(latitude, longitude) {
  const fits = Math.abs(latitude) <= 90 && Math.abs(longitude) <= 180; // not so for NaN
  return fits ? { latitude: Math.round(latitude * 1e6) / 1e6, longitude: Math.round(longitude * 1e6) / 1e6 } : null;
}

/** RFC 5870: latitude, longitude, perhaps an altitude, parameters. Another reference system than WGS 84 is not read. */
function geo(text) {
  const found = new RegExp(`geo:${PAIR}(?:,[-\\d.]+)?([;?]\\S*)?`, "i").exec(text);
  if (!found) return undefined;
  const [, latitude, longitude, more = ""] = found;
  if (/;crs=(?!wgs84)/i.test(more)) return null;
  const asked = new RegExp(`[?&]q=${PAIR}`).exec(more);
  return Number(latitude) === 0 && Number(longitude) === 0 && asked ? place(Number(asked[1]), Number(asked[2])) : place(Number(latitude), Number(longitude));
}

function degrees([sign, whole, minutes = "0", seconds = "0"]) {
  if (COMMA(minutes) >= 60 || COMMA(seconds) >= 60) return NaN;
  return (sign === "-" ? -1 : 1) * (COMMA(whole) + COMMA(minutes) / 60 + COMMA(seconds) / 3600);
}

/** Two angles with their letters, in either order. */
function lettered(text) {
  const before = /^\s*[NSEW]\s*\d/i.test(text);
  const found = [...text.matchAll(before ? BEFORE : AFTER)].map((one) => (before
    ? [one[1].toUpperCase(), degrees(one.slice(2))] : [one[5].toUpperCase(), degrees(one.slice(1, 5))]));
  const of = (letters) => found.filter(([letter]) => letters.includes(letter));
  const [north, east] = [of("NS"), of("EW")];
  if (north.length !== 1 || east.length !== 1) return null;
  const signed = ([letter, value]) => (letter === "S" || letter === "W" ? -value : value);
  return place(signed(north[0]), signed(east[0]));
}

/** `{latitude, longitude}` in degrees, north and east positive; null where the text names no place, or not one alone. */
export function readPlace(given) {
  let text = given.trim().replace(/[−–]/g, "-");
  try { text = decodeURIComponent(text.replace(/\+(?=\d)/g, "")); } catch { /* a per cent sign of its own */ }
  const linked = geo(text);
  if (linked !== undefined) return linked;
  for (const form of LINKS) {
    const found = form.exec(text);
    if (found) return place(Number(found[1]), Number(found[2]));
  }
  const angles = lettered(text);
  if (angles) return angles;
  if (/[\d°º'′’"″”]\s*[NSEWO](?![a-z])/i.test(text)) return null; // letters that did not make a place
  const bare = [...text.matchAll(ANGLE)];
  if (bare.length) return bare.length === 2 ? place(degrees(bare[0].slice(1)), degrees(bare[1].slice(1))) : null;
  for (const form of PLAIN) {
    const found = form.exec(text);
    if (found) return place(COMMA(found[1]), COMMA(found[2]));
  }
  return null;
}
