"""What to do about a text that is not TOML: the slips that people make who do not write it every day."""

from __future__ import annotations

import re

from controller.decide.plan_errors import one_line, quoted
from controller.decide.plan_figures import figure, limits
from controller.decide.plan_meant import FOCAL, azimuth

_DECIMAL_COMMA = re.compile(r"(?<![\w\"'.\[/])([+-]?\d+),(\d+)(?![\w\"'/])")
_FRACTION = re.compile(r"(?<![\w.\"'/])(\d{1,6})\s*/\s*(\d{1,6})(?![\w.\"'/])")
_DAY = re.compile(r"(?<![\w.\"'/-])(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})(?![\w.\"'/-])")
_ISO_DAY = re.compile(r"(?<![\w.\"'/-])(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?![\w.\"'/-])")
_TIME = re.compile(r"(?:(\d{4})-(\d\d)-(\d\d)[T ])?(\d{1,2}):(\d\d)")
_ASSIGNED = re.compile(r"([\w.-]+)\s*=\s*([^#]*)")
_HEAD = re.compile(r"(\[{0,2})\s*([A-Za-z_][\w.-]*)\s*(\]{0,2})\s*(?:#.*)?")
_TEXTS = ("name", "start", "stop", "duration", "over", "timezone", "fetch", "kind", "every")
_TWICE = ("twice", "overwrite", "already", "mutate")


def toml_remedy(text: str, error: str) -> str:
    """What to write instead; `error` is the reader's, which names the line."""
    number = re.search(r"at line (\d+)", error)
    lines = text.split("\n")
    line = one_line(lines[int(number[1]) - 1].strip()) if number and int(number[1]) <= len(lines) else ""
    if any(word in error for word in _TWICE):
        return "The same key or table stands there twice: keep one of them"
    if found := re.search(r"[“”„‘’]", line):
        return f'Use straight quotes, "…", in place of {found[0]}'
    if line.startswith(("//", ";", "--")):
        return "Begin comments with #"
    if "Unclosed array" not in error and "=" not in line and (head := _HEAD.fullmatch(line)) and (head[1] or head[3]):
        twofold = "[[" in line or ("]]" in line and head[2] in ("light.regions", "when.windows"))
        return f"Write [[{head[2]}]]" if twofold else f"Write [{head[2]}]"
    if found := re.match(r"([\w-]+)\s*:\s*(.*)", line):
        return f"Write {found[1]} = {found[2] or 'its value'}: TOML has an equals sign"
    if (assigned := _ASSIGNED.match(line)) and (meant := _value(assigned[1], assigned[2].strip())):
        return meant
    if "Unclosed array" in error:
        return "A list is not closed: end it with ]"
    if "Illegal character" in error or 'Expected "\'"' in error:
        return "A quote is not closed: end the text with another one"
    return "Quote texts; write tables as [site]"


def _value(key: str, value: str) -> str | None:
    """What to write in place of a key's value, as it stands in the line."""
    if _DAY.search(value) or (_ISO_DAY.search(value) and ":" not in value):
        written = _DAY.sub(lambda d: f"{d[3]}-{int(d[2]):02}-{int(d[1]):02}", value)
        return f"Write {key} = {_ISO_DAY.sub(lambda d: f'{d[1]}-{int(d[2]):02}-{int(d[3]):02}', written)}"
    if time := _TIME.fullmatch(value):
        day = f"{time[1]}-{time[2]}-{time[3]}T" if time[1] else ""
        return f"Write {key} = {quoted(f'{day}{int(time[4]):02}:{time[5]}')}"
    if re.search(r"\d/\d{1,2}/\d{2}", value):
        return "Write days as year, month, day, such as 2026-12-31"
    if key not in _TEXTS and _FRACTION.search(value) and not re.search(r"/\s*0+\b", value):
        return f"Write {key} = {_FRACTION.sub(lambda f: f'{int(f[1]) / int(f[2]):.6g}', value)}"
    if found := _DECIMAL_COMMA.search(value):
        return f"Write the decimal point: {found[1]}.{found[2]} in place of {found[0]}"
    if not value or value[0] in "\"'[{=":
        return None
    if value.casefold() in ("true", "yes", "on", "false", "no", "off"):
        return f"Write {key} = {'true' if value.casefold() in ('true', 'yes', 'on') else 'false'}"
    if key in _TEXTS:
        return f"Write {key} = {quoted(value)}"
    if key == "focal_mm" and limits(value, key):
        return FOCAL
    if key == "azimuth_deg" and (points := azimuth(value)):
        return points.replace("Write ", f"Write {key} = ").replace(", without quotes", "")
    if meant := figure(value, key):
        return f"Write {key} = {meant.text}{f': {meant.unit}' if meant.unit else ''}"
    if pair := limits(value, key):
        return f"Write {key} = {pair}"
    return f"Write {key} = {quoted(value)}" if re.match(r"[^\W\d]", value) else None
