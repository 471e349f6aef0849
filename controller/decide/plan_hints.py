"""Nearly right input: what was probably meant. Every hint is text that a plan takes as it stands."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from zoneinfo import available_timezones

_SAME = {  # words for the same thing that no likeness of letters leads to
    "tz": "timezone",
    "zone": "timezone",
    "lng": "longitude",
    "begin": "start",
    "end": "stop",
    "length": "duration",
    "count": "frames",
    "exposure": "shutter_s",
    "f_number": "aperture",
    "fstop": "aperture",
    "gap": "min_gap_s",
    "speed": "iso",
    "time": "shutter",
    "sundown": "sunset",
    "sunup": "sunrise",
    "midday": "noon",
    "solar_noon": "noon",
    "daily": "day",
    "constant": "steady",
    "linear": "timed",
    "manual": "fixed",
    "auto": "follow",
    "full": "all",
    "lens": "optics",
    "battery": "power",
    "location": "site",
    "schedule": "when",
    "elevation": "altitude_deg",
    "tilt": "altitude_deg",
    "bearing": "azimuth_deg",
    "heading": "azimuth_deg",
    "direction": "azimuth_deg",
}
_EVENT = re.compile(
    r"(?i)(sun|civil|nautical|astronomical|solar)?[\s_-]*(rise|set|dawn|dusk|noon)(?:\s*([+-])\s*(\S.*))?"
)
_CLOCK = re.compile(
    r"(?i)(?:([0-9]{1,2})\.([0-9]{1,2})\.([0-9]{4})[ ,T]+)?([0-9]{1,2})(?:[.:h]([0-9]{2}))?\s*([ap])?\.?(?:m\.?)?"
)
_LONG_UNITS = re.compile(
    r"(?i)([0-9]+(?:[.,][0-9]+)?)\s*(days?|hours?|hrs?|h|minutes?|mins?|m|seconds?|secs?|d|s)(?![a-z])[\s,]*(?:and\s+)?"
)
_NEXT_DAY = re.compile(
    r"(?i)\s*([0-9]{1,2})[:.]([0-9]{2})\s*"
    r"(?:\(?(?:on |the )*(?:next|following|tomorrow|morning)[a-z ]*\)?|\+\s*1\s*d?(?:ay)?)\s*"
)
_HOURS_MINUTES = re.compile(r"([0-9]{1,3}):([0-5][0-9])(?::([0-5][0-9]))?")
_ISO_LENGTH = re.compile(r"P(?:([0-9]+)D)?T?(?:([0-9]+)H)?(?:([0-9]+)M)?(?:([0-9]+)S)?")
_FRACTION = re.compile(r"\s*([0-9]{1,6})\s*/\s*([0-9]{1,6})\s*(?:s|sec|seconds?)?\s*")
_MEASURE = re.compile(
    r"(?i)\s*(?:f/?|iso\s*)?([+-]?[0-9]{1,12}(?:[.,][0-9]{1,12})?)\s*(?:°|[a-zµμ]{1,7})?\s*([NSEW])?\s*"
)
_ARC = re.compile(
    r"\s*([0-9]{1,3})\s*[°d]\s*(?:([0-9]{1,2}(?:[.,][0-9]+)?)\s*['′’])?\s*(?:([0-9]{1,2}(?:[.,][0-9]+)?)\s*[\"″”])?\s*([NSEW])\s*"
)


def nearest(wrong: str, known: Iterable[str]) -> str | None:
    """The known word that was meant: by case, by another name for it, by its beginning, or by its letters."""
    folded = {name.casefold(): name for name in known}
    word = re.sub(r"[\s-]+", "_", wrong[:64].strip().casefold())
    if (same := word if word in folded else _SAME.get(word, "")) in folded:
        return folded[same]
    if len(word) >= 3:
        begun = [key for key in folded if key.startswith(word) or (len(key) >= 3 and word.startswith(key))]
        if len(begun) == 1:
            return folded[begun[0]]
    close = difflib.get_close_matches(word, folded, n=1)
    return folded[close[0]] if close else None


def zone(wrong: str) -> str | None:
    """The time zone that was meant: a place without its region, in other letters, or hours from UTC."""
    if hours := re.fullmatch(r"(?i)\s*(?:utc|gmt)?\s*([+-])0?([0-9]{1,2})(?::?00)?\s*", wrong):
        name = f"Etc/GMT{'-' if hours[1] == '+' else '+'}{int(hours[2])}"  # in these names the sign is the other way
        return name if name in available_timezones() else None
    word = re.sub(r"\s+", "_", wrong[:64].strip()).casefold()
    places: dict[str, str] = {}
    for name in sorted(available_timezones()):
        places[name.casefold()] = name
        places.setdefault(name.rpartition("/")[2].casefold(), name)
    close = [word] if word in places else difflib.get_close_matches(word, places, n=1, cutoff=0.7)
    return places[close[0]] if close else None


def length(wrong: str) -> str | None:
    """A length of time as a plan writes it: '2 hours' is 2h, '1:30' is 1h30min, 'PT90M' is 90min."""
    text = wrong.strip()[:64]
    if found := _HOURS_MINUTES.fullmatch(text):
        return _joined(zip((found[1], found[2], found[3] or "0"), ("h", "min", "s"), strict=True))
    if (found := _ISO_LENGTH.fullmatch(text.upper())) and any(found.groups()):
        return _joined(zip((part or "0" for part in found.groups()), ("d", "h", "min", "s"), strict=True))
    parts = _LONG_UNITS.findall(text)
    if parts and not _LONG_UNITS.sub("", text).strip():
        return _joined((figure.replace(",", "."), _unit(unit.lower())) for figure, unit in parts)
    return f"{text}min" if re.fullmatch(r"[1-9][0-9]{0,3}", text) else None


def _unit(word: str) -> str:
    return "min" if word.startswith("m") else word[0]


def _joined(parts: Iterable[tuple[str, str]]) -> str | None:
    text = "".join(f"{figure.lstrip('0') or '0'}{unit}" for figure, unit in parts if float(figure) > 0)
    return text.replace("h.", "h0.") or None


def moment(wrong: str) -> list[str]:
    """Texts that may have been meant as a start or a stop, likeliest first; whoever asks takes one that can be read."""
    text = wrong.strip()[:64]
    found = []
    if event := _EVENT.fullmatch(text):
        kind, rest = (event[1] or "").lower(), event[2].lower()
        glue = "" if rest in ("rise", "set") else "_"
        names = [f"{kind}{glue}{rest}"] if kind not in ("", "solar") or rest == "noon" else []
        names = names or ([f"sun{rest}"] if rest in ("rise", "set") else [f"civil_{rest}", f"nautical_{rest}"])
        names = ["noon"] if rest == "noon" else names
        offset = f"{event[3]}{length(event[4]) or event[4]}" if event[3] else ""
        found += [f"{name}{offset}" for name in names]
    if clock := _CLOCK.fullmatch(text):
        day, month, year, hour, minute, half = clock.groups()
        if minute or half:
            hours = int(hour) % 12 + (12 if half in ("p", "P") else 0) if half else int(hour)
            hours = 0 if hours == 24 and minute == "00" else hours
            date = f"{year}-{int(month):02}-{int(day):02}T" if day else ""
            found.append(f"{date}{hours:02}:{minute or '00'}")
    if re.fullmatch(r"[0-9]{4}-[0-9][0-9]-[0-9][0-9]", text):
        found.append(f"{text}T18:20")
    if text.casefold() == "midnight":
        found.append("00:00")
    return found


def golden_or_blue(wrong: str, stop: bool) -> str | None:
    """What to write for a light that is no moment: photographers' golden and blue light, by the sun's altitude."""
    text = wrong.casefold()
    if "golden" in text:
        offered = "sunrise+1h in the morning, sunset in the evening" if stop else "sunrise, or sunset-45min"
        return f"golden light is the sun at 6° to −0.8°: try {offered}"
    if "blue" in text:
        offered = "sunrise-15min in the morning, civil_dusk+10min" if stop else "civil_dawn-10min, or sunset+15min"
        return f"blue light is the sun at −4° to −8°: try {offered}"
    return None


def next_day(wrong: str) -> str | None:
    """The time in '05:00 next day', '5:00 tomorrow' or '05:00 +1d': a plan writes it without its day."""
    found = _NEXT_DAY.fullmatch(wrong[:64])
    return f"{int(found[1]):02}:{found[2]}" if found and int(found[1]) < 24 and int(found[2]) < 60 else None


def number(wrong: str, key: str = "") -> str | None:
    """A number out of a text: '1/250' is 0.004, '57,7' is 57.7, '24 mm' is 24, and for places '11°57'W' is -11.95."""
    text = wrong[:64].replace("\u2212", "-")
    if (found := _FRACTION.fullmatch(text)) and int(found[1]) and int(found[2]):
        return f"{int(found[1]) / int(found[2]):.6g}"
    sided = key in ("latitude", "longitude")
    if sided and (arc := _ARC.fullmatch(text)):
        degrees, minutes, seconds = (float((part or "0").replace(",", ".")) for part in arc.groups()[:3])
        side = -1 if arc[4] in "SW" else 1
        return f"{side * (degrees + minutes / 60 + seconds / 3600):.6g}"
    if found := _MEASURE.fullmatch(text):
        figure = float(found[1].replace(",", "."))
        return f"{-figure if sided and text.strip()[-1] in 'SW' else figure:.12g}"
    return None
