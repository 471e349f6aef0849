"""Figures that were given with a unit, as a text or as a range: what the key under which they stand takes."""

from __future__ import annotations

import re
from typing import NamedTuple

from controller.decide import plan_hints

_TIME = {"ms": 1e-3, "millisecond": 1e-3, "s": 1.0, "sec": 1.0, "second": 1.0, "m": 60.0, "min": 60.0, "minute": 60.0}
_TIME |= {"h": 3600.0, "hr": 3600.0, "hour": 3600.0}
_QUANTITIES: dict[str, tuple[str, dict[str, float]]] = {  # a key's ending -> its unit, and what others come to in it
    "s": ("seconds", _TIME),
    "mm": ("millimetres", {"mm": 1.0, "cm": 10.0}),
    "um": ("micrometres", {"um": 1.0, "µm": 1.0, "μm": 1.0, "nm": 1e-3}),
    "wh": ("watt hours", {"wh": 1.0, "kwh": 1000.0}),
    "w": ("watts", {"w": 1.0, "watt": 1.0, "kw": 1000.0}),
    "lx": ("lux", {"lx": 1.0, "lux": 1.0}),
    "deg": ("degrees", {"°": 1.0, "deg": 1.0, "degree": 1.0}),
    "ev": ("EV", {"ev": 1.0, "stop": 1.0}),
    "c": ("degrees Celsius", {"°": 1.0, "c": 1.0, "°c": 1.0}),
    "mb": ("megabytes", {"mb": 1.0, "gb": 1000.0, "kb": 1e-3}),
}
_PART = re.compile(r"(\d{1,12}(?:[.,]\d{1,9})?)\s*([a-zµμ°]+)[\s,]*(?:and\s+)?")
_FAHRENHEIT = re.compile(r"([+-]?\d{1,4}(?:[.,]\d{1,3})?)\s*°?\s*f")
_RANGE = re.compile(r"(.{1,20}?)\s*(?:-|–|—|\bto\b|…|\.\.+)\s*(.{1,20})")


class Figure(NamedTuple):
    """A number as a plan writes it, and the unit in which it is, where the text had one."""

    text: str
    unit: str = ""


def figure(text: str, key: str) -> Figure | None:
    """The number that a text comes to under a key; None where it is none, or of another quantity than the key's."""
    plain = text.strip()[:64].replace("\u2212", "-")
    ending = key.rpartition("_")[2] if "_" in key else ""
    if ending not in _QUANTITIES or "/" in plain:
        meant = plan_hints.number(plain, key)
        return None if meant is None else Figure(meant)
    unit, scales = _QUANTITIES[ending]
    lower = plain.lower()
    if ending == "c" and (found := _FAHRENHEIT.fullmatch(lower)):
        return Figure(f"{(float(found[1].replace(',', '.')) - 32) / 1.8:.3g}", unit)
    sign = -1.0 if lower.startswith("-") else 1.0
    lower = lower.lstrip("+- ")
    parts = [(float(number.replace(",", ".")), _scale(word, scales)) for number, word in _PART.findall(lower)]
    if not parts:
        bare = plan_hints.number(plain, key) if re.fullmatch(r"[\d.,\s]+", lower) else None
        return None if bare is None else Figure(bare)
    if _PART.sub("", lower).strip():
        return None
    known = [number * scale for number, scale in parts if scale is not None]
    return Figure(f"{sign * sum(known):.9g}", unit) if len(known) == len(parts) else None


def _scale(word: str, scales: dict[str, float]) -> float | None:
    return scales.get(word, scales.get(word.removesuffix("s")))


def remedy(text: str, key: str) -> str | None:
    """What to write in place of a text where a number belongs: 'Write 120: seconds, without quotes.'"""
    meant = figure(text, key)
    if meant is None:
        return None
    same = not meant.unit or meant.text in text.replace("\u2212", "-")
    comma = "with a decimal point and " if "," in text and "." in meant.text else ""
    return f"Write {meant.text}, {comma}without quotes" if same else f"Write {meant.text}: {meant.unit}, without quotes"


def limits(text: str, key: str) -> str | None:
    """A range such as '100-3200' or 'f/2.8 to f/8' as a list of two numbers."""
    found = _RANGE.fullmatch(text.strip()[:64])
    if found is None:
        return None
    ends = [figure(end, key) for end in found.groups()]
    return f"[{ends[0].text}, {ends[1].text}]" if ends[0] and ends[1] else None
