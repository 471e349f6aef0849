"""The curves of a rehearsal, drawn with characters: interval and exposure, and the brightness that is asked and set."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import datetime, tzinfo
from functools import partial

from controller.commands.drawing import BOLD, Canvas, Style, hours
from controller.results.report.curves import Curves
from controller.words.stops import aperture_label, shutter_label

_ROWS, _FEW_ROWS = 8, 5
_SCALE = 7  # columns of the scale at the left
_NARROWEST, _WIDEST = 30, 100
_NICE_S = (1, 2, 5, 10, 15, 20, 30, 40, 60, 120, 300, 600, 1800, 3600)

Values = list[float | None]


def charts(curves: Curves, zone: tzinfo, style: Style, columns: int) -> list[str]:
    """Lines of three drawings over one scale of time, no wider than `columns` where that is 38 or more."""
    if len(curves.utc) < 2:
        return []
    width = max(_NARROWEST, min(_WIDEST, columns - _SCALE - 1))
    start, end = curves.utc[0], curves.utc[-1]
    full, dashed = ("⠤⠤⠤", "⠤ ⠤") if style.braille else ("***", "o o")

    def clock(utc: float) -> tuple[int, int]:
        local = datetime.fromtimestamp(utc, zone)
        return local.hour, local.minute

    pauses = [(curves.utc[k] + curves.interval_s[k], curves.utc[k + 1]) for k in curves.breaks()]

    def over(values: Sequence[float | None]) -> Values:
        return _sampled(curves.utc, values, width * style.grain[0], pauses)

    scale = style.text(" " * (_SCALE + 1) + hours(start, end, clock, width))
    interval, shutter = over(curves.interval_s), over(curves.shutter_s)
    most = _nice(max(_known(interval) + _known(shutter), default=1.0))
    lines = [style.text(f"{full} interval  {dashed} exposure, seconds")]
    lines += _drawn(((shutter, True), (interval, False)), width, 0.0, most, lambda v: f"{v:g} s", style)
    lines += [scale, "", style.text(f"{full} shutter")]
    stops = over([None if s is None or s <= 0 else math.log2(s) for s in curves.shutter_s])
    lines += _drawn(((stops, False),), width, *_whole(_known(stops)), lambda v: shutter_label(2.0**v), style)
    named: list[tuple[str, Sequence[float | None], Callable[[float], str]]] = [
        ("aperture", curves.aperture, aperture_label),
        ("ISO", curves.iso, lambda value: f"{value:.0f}"),
    ]
    for name, shown, label in named:
        octaves = over([None if v is None or v <= 0 else math.log2(v) for v in shown])
        known = _known(octaves)
        if known and max(known) - min(known) > 0.1:
            lines += [scale, "", style.text(f"{full} {name}")]
            say = partial(_power, label)
            lines += _drawn(((octaves, False),), width, min(known), max(known), say, style, _FEW_ROWS)
    lines += [scale, "", style.text(f"EV at ISO 100: {full} set  {dashed} scene")]
    ev, scene = over(curves.exposure_ev), over(curves.scene_ev)
    lines += _drawn(((scene, True), (ev, False)), width, *_whole(_known(ev) + _known(scene)), _ev, style)
    return [*lines, scale]


def _drawn(
    series: Sequence[tuple[Values, bool]],
    width: int,
    bottom: float,
    top: float,
    name: Callable[[float], str],
    style: Style,
    rows: int = _ROWS,
) -> list[str]:
    canvas = Canvas(width, rows, bottom, top, style)
    for values, dashed in series:
        canvas.line(values, "o" if dashed else "*", "" if dashed else BOLD, dashed=dashed)
    names = {0: name(top), rows - 1: name(bottom)}
    return canvas.lines(lambda y: names.get(y, ""), columns=_SCALE)


def _sampled(
    utc: Sequence[float], values: Sequence[float | None], points: int, pauses: Sequence[tuple[float, float]]
) -> Values:
    """One value for each of `points` equal stretches of time: the last slot's that began by then; none in a pause."""
    found: Values = []
    k = 0
    for n in range(points):
        at = utc[0] + (utc[-1] - utc[0]) * (n + 1) / points
        while k + 1 < len(utc) and utc[k + 1] <= at:
            k += 1
        found.append(None if any(begin < at < end for begin, end in pauses) else values[k])
    return found


def _known(values: Values) -> list[float]:
    return [value for value in values if value is not None]


def _whole(values: list[float]) -> tuple[float, float]:
    """A range of whole EV around the values."""
    if not values:
        return 0.0, 1.0
    low, high = math.floor(min(values)), math.ceil(max(values))
    return low, max(high, low + 1)


def _nice(value: float) -> float:
    return next((n for n in _NICE_S if n >= value), math.ceil(value / 3600) * 3600)


def _power(label: Callable[[float], str], octaves: float) -> str:
    return label(2.0**octaves)


def _ev(value: float) -> str:
    return f"{value:+.0f}".replace("-", "−") if round(value) else "0"
