"""The altitude of sun and moon over a day, drawn with characters."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Sequence

from controller.commands.drawing import BOLD, Canvas, Style, hours

WIDTH = 73  # columns of the drawing; with its scale it keeps inside 80
_ROWS = 13
_BANDS = ((-50 / 60, "█#"), (-6.0, "▓="), (-12.0, "▒-"), (-18.0, "░."), (-91.0, "  "))
Curve = Callable[[Sequence[float]], Sequence[float]]


def chart(
    start: float,
    end: float,
    sun: Curve,
    moon: Curve,
    clock: Callable[[float], tuple[int, int]],
    style: Style,
    width: int = WIDTH,
) -> list[str]:
    """Lines of a drawing that is `width` columns wide, and of its scales.

    `sun` and `moon` give altitudes, degrees, for moments; `clock` hour and minute.
    """
    across = style.grain[0]
    when = [start + (end - start) * (k + 0.5) / (width * across) for k in range(width * across)]
    sun_deg, moon_deg = sun(when), moon(when)
    top = max(10.0, math.ceil(max(*sun_deg, *moon_deg) / 10) * 10)
    bottom = min(-10.0, math.floor(min(*sun_deg, *moon_deg) / 10) * 10)
    canvas = Canvas(width, _ROWS, bottom, top, style)
    level = canvas.level(0.0)
    canvas.line(moon_deg, "o", dashed=True)
    canvas.line(sun_deg, "*", BOLD)
    lines = canvas.lines(lambda y: _label(y, level, top, bottom), level)
    bands = "".join(_band(sun_deg[x * across], style) for x in range(width))
    lines.append("     " + bands.rstrip())
    lines.append("     " + hours(start, end, clock, width, every=3))
    return lines


def legend(style: Style, columns: int = 80) -> list[str]:
    """What the lines and the band mean."""
    shades = ", ".join(
        f"{pair[0 if style.braille else 1]} {name}"
        for (_, pair), name in zip(_BANDS, ("day", "civil", "nautical", "astronomical"), strict=False)
    )
    sun, moon = ("⠤⠤⠤", "⠤ ⠤") if style.braille else ("***", "o o")
    whole = f"     {sun} sun  {moon} moon  below: {shades}"
    if len(whole) <= columns:
        return [whole]
    return [
        f"     {sun} sun  {moon} moon",
        *(f"     {line}" for line in textwrap.wrap(f"below: {shades}", max(20, columns - 5))),
    ]


def _label(y: int, level: int, top: float, bottom: float) -> str:
    if y == level:
        return "0°"
    if y not in (0, _ROWS - 1):
        return ""
    return f"{top if y == 0 else bottom:+.0f}°".replace("-", "−")


def _band(altitude: float, style: Style) -> str:
    pair = next(pair for level, pair in _BANDS if altitude >= level)
    return pair[0 if style.braille else 1]
