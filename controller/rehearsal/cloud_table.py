"""A record of clouds as a CSV file, read for a rehearsal."""

from __future__ import annotations

import csv
import io
import math
import re

from controller.rehearsal.weather import HIGHEST
from controller.words.errors import BadInput

_FORM = "Write a head line minute,transmission and below it lines such as 0,1.0"
_COMMAS = "Write commas between the columns and points in the numbers, such as 0,0.8"
_PER_CENT = "percent", "per cent", "%", "pct"


def read_table(text: str, where: str = "the sky's table") -> tuple[list[float], list[float]]:
    """Minutes and transmissions of a CSV with the head `minute,transmission`; lines that begin with # are left out.

    Raises BadInput (bad-sky): the line, what is wrong with it, the remedy.
    """
    lines = [(n, line) for n, line in enumerate(text.lstrip("\ufeff").splitlines(), 1) if line.strip()]
    lines = [(n, line) for n, line in lines if not line.lstrip().startswith("#")]
    if not lines:
        raise BadInput("bad-sky", "there is nothing in it", where, _FORM)
    number, head = lines[0]
    _check_head(head, f"{where}, line {number}")
    minutes: list[float] = []
    shares: list[float] = []
    for number, line in lines[1:]:
        at = f"{where}, line {number}"
        minute, share = (_number(cell, at) for cell in _cells(line, at))
        if minutes and minute <= minutes[-1]:
            what = f"minute {minute:g} does not come after minute {minutes[-1]:g}"
            raise BadInput("bad-sky", what, at, "Put the lines in order of time, each minute once")
        if not 0 <= share <= HIGHEST:
            what = f"a transmission of {share:g} is no share of a clear sky's light"
            remedy = f"Give 0 (dark) to 1 (clear); up to {HIGHEST:g} beside bright clouds"
            if HIGHEST < share <= 100:
                remedy = f"{remedy}. If it is per cent, divide by 100: {share / 100:g}"
            raise BadInput("bad-sky", what, at, remedy)
        minutes.append(minute)
        shares.append(share)
    if not minutes:
        raise BadInput("bad-sky", "there is no line below the head", where, _FORM)
    return minutes, shares


def _check_head(head: str, at: str) -> None:
    names = [name.strip().strip('"').lower() for name in head.split(",")]
    if names == ["minute", "transmission"]:
        return
    what, remedy = f"the head is {head.strip()[:60]!r}", _FORM
    if mark := _other_mark(head):
        what, remedy = f"the columns are parted by {mark}", _COMMAS
    elif len(names) == 2 and any(word in names[1] for word in _PER_CENT):
        what, remedy = f"{what}: per cent", "Write minute,transmission, and shares below it: 0.8 for 80 %"
    raise BadInput("bad-sky", what, at, remedy)


def _cells(line: str, at: str) -> list[str]:
    cells = next(csv.reader(io.StringIO(line)))
    if mark := _other_mark(line):
        raise BadInput("bad-sky", f"the columns are parted by {mark}", at, _COMMAS)
    if len(cells) == 2:
        return cells
    if len(cells) in (3, 4) and all(re.fullmatch(r"\s*-?[0-9]+\s*", cell) for cell in cells):
        minute, share = ".".join(cells[:-2]), ".".join(cells[-2:])
        what = f"{len(cells)} values instead of 2, as decimal commas make them"
        raise BadInput("bad-sky", what, at, f"Write decimals with a point, such as {minute.strip()},{share.strip()}")
    raise BadInput("bad-sky", f"{len(cells)} values instead of 2", at, "Write minute,transmission")


def _other_mark(line: str) -> str | None:
    """What stands between the columns in place of a comma."""
    return next((name for mark, name in ((";", "semicolons"), ("\t", "tabs")) if mark in line.strip()), None)


def _number(cell: str, at: str) -> float:
    cell = cell.strip()
    try:
        value = float(cell)
    except ValueError:
        value = math.nan
    if math.isfinite(value):
        return value
    remedy = "Write numbers with a decimal point, minute first"
    if share := re.fullmatch(r"([0-9]{1,9}(?:[.,][0-9]{1,9})?)\s*%", cell):
        what, remedy = f"{cell[:40]!r} is per cent", f"Write the share: {float(share[1].replace(',', '.')) / 100:g}"
    elif re.fullmatch(r"-?[0-9]{1,9},[0-9]{1,9}", cell):
        what, remedy = f"{cell!r} has a decimal comma", f"Write {cell.replace(',', '.')}, without quotes"
    else:
        what = f"{cell[:40]!r} is no number"
    raise BadInput("bad-sky", what, at, remedy)
