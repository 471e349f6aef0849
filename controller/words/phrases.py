"""Lengths, sizes and counts as people say them, and what is wrong with its remedy."""

from __future__ import annotations

import math
from collections.abc import Iterable


def with_remedy(what: str, remedy: str | None) -> str:
    """One line: what is wrong, then what helps, where anything does."""
    return f"{ended(what)} {remedy}" if remedy else what


def ended(text: str) -> str:
    """A sentence with its stop, which remedies have none of: what follows them differs."""
    return text if text.endswith((".", "!", "?")) else f"{text}."


def length(seconds: float) -> str:
    """A length of time: '45.4 s', '2 min 29 s', '96 min', '2 h 39 min', '5 days 3 h'."""
    if seconds < 119.95:
        return f"{seconds:.1f} s"
    if seconds < 599.5:
        whole = round(seconds)
        return f"{whole // 60} min {whole % 60:02} s"
    minutes = round(seconds / 60)
    if minutes < 120:
        return f"{minutes} min"
    if minutes < 72 * 60:
        return f"{minutes // 60} h {minutes % 60:02} min"
    hours = round(seconds / 3600)
    return f"{hours // 24} days {hours % 24} h"


def size(bytes_: float) -> str:
    """Bytes in the units that makers of cards use: '28.4 GB'."""
    for unit, least in (("TB", 1e12), ("GB", 1e9)):
        if bytes_ >= least * 0.9995:
            return f"{bytes_ / least:.1f} {unit}"
    return f"{bytes_ / 1e6:.0f} MB" if bytes_ >= 9.95e6 else f"{bytes_ / 1e6:.2g} MB"


def signed(value: float, unit: str = "") -> str:
    """A figure with its sign: '+4.2', '−6.0°'."""
    return f"{value:+.1f}{unit}".replace("-", "−")


def count(number: int | None, name: str) -> str:
    """So many of something."""
    return f"{number} {name}" if number == 1 else f"{grouped(number)} {name}s"


def grouped(number: float | None) -> str:
    """A whole number, its thousands apart from 10,000 on."""
    return "None" if number is None else f"{number:,.0f}" if abs(number) > 9999.5 else f"{number:.0f}"


def runs(numbers: Iterable[int], most: int = 12) -> str:
    """Whole numbers that rise, those in a row as one: '3, 5–7, 9'; of more than `most` such runs how many are left."""
    found: list[list[int]] = []
    for number in numbers:
        if found and found[-1][-1] == number - 1:
            found[-1][1:] = [number]
        else:
            found.append([number])
    told = ", ".join("–".join(map(str, run)) for run in found[:most])
    rest = sum(run[-1] - run[0] + 1 for run in found[most:])
    return f"{told} and {grouped(rest)} more" if rest else told


def figures(value: float) -> str:
    """Three significant figures: '0.333', '9.99', '10', '4020', '12,300'."""
    if value == 0 or not math.isfinite(value):
        return f"{value:g}"
    rounded = round(value, 2 - math.floor(math.log10(abs(value))))
    return grouped(rounded) if abs(rounded) >= 100 else f"{rounded:g}"


def at_least(seconds: float) -> str:
    """A length of time to use or exceed, rounded up: '2.1 s', '17 s', '0.12 s'."""
    step = 10.0 ** (math.floor(math.log10(seconds)) - 1) if seconds < 1 else 0.1 if seconds < 100 else 1.0
    return f"{math.ceil(seconds / step - 1e-6) * step:.6g} s"


_NTH = "first second third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth".split()


def nth(number: int) -> str:
    """'first' … 'twelfth', then '13th', '21st'."""
    if number <= len(_NTH):
        return _NTH[number - 1]
    last = 0 if 10 < number % 100 < 14 else number % 10
    return f"{number}{('th', 'st', 'nd', 'rd')[last] if last < 4 else 'th'}"
