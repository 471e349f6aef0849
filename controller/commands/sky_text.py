"""What `duskhand sky` prints for people."""

from __future__ import annotations

import textwrap
from datetime import date, datetime, tzinfo

import numpy as np

from controller.commands.drawing import Style
from controller.commands.sky_chart import WIDTH, chart, legend
from controller.decide.almanac import Day, Kind, Span
from controller.decide.moon import moon_altitudes
from controller.decide.sun import altitudes
from controller.words.phrases import signed

_WIDE = 60
_HEAD = f"{'':19}{'time':>8}  {'altitude':>8}  {'azimuth':>7}  {'scene EV':>8}"


def render(latitude: float, longitude: float, on: date, zone: tzinfo, day: Day, style: Style, columns: int = 80) -> str:
    """Lines of at most 80 columns; down to 40 where the terminal has no more."""
    narrow = columns < _WIDE
    place = f"{_degrees(latitude, 'NS')}  {_degrees(longitude, 'EW')}"
    heading = f"{place}   {on:%a %d %b %Y}   {zone}"
    lines = textwrap.wrap(heading, columns) if narrow else [heading]
    lines += ["", f"{'':19}{'time':>5} {'altitude':>9} {'EV':>5}" if narrow else _HEAD]
    for event in day.events:
        name, when = event.name.replace("_", " "), _local(zone, event.utc)
        altitude, scene_ev = signed(event.altitude_deg, "°"), signed(event.scene_ev)
        aside = _aside(zone, event.utc, on)
        if not narrow:
            azimuth = f"{event.azimuth_deg:>6.0f}°"
            lines.append(f"{name:19}{when:%H:%M:%S}  {altitude:>8}  {azimuth}  {scene_ev:>8}{aside}")
            continue
        row = f"{name:19}{_local(zone, 60 * round(event.utc / 60)):%H:%M} {altitude:>9} {scene_ev:>5}"
        lines += [row + aside] if len(row + aside) <= columns else [row, f"{'':18}{aside}"]
    lines.append("")
    for name, text in _facts(zone, on, day):
        if narrow:
            lines += [name, *textwrap.wrap(text, columns, initial_indent="  ", subsequent_indent="  ")]
        else:
            lines.append(f"{name:19}{text}")
    lines.append("")
    lines = [style.text(line) for line in lines]
    lines += chart(
        day.from_utc,
        day.to_utc,
        lambda when: altitudes(latitude, longitude, np.asarray(when)).tolist(),
        lambda when: moon_altitudes(latitude, longitude, np.asarray(when)).tolist(),
        lambda utc: (_local(zone, utc).hour, _local(zone, utc).minute),
        style,
        min(WIDTH, max(24, columns - 7)),
    )
    return "\n".join(line.rstrip() for line in [*lines, *legend(style, columns)])


def _facts(zone: tzinfo, on: date, day: Day) -> list[tuple[str, str]]:
    if day.kind is Kind.ORDINARY:
        length = f"{_length(sum(s.length_s for s in day.daylight))} with the sun above the horizon"
    elif day.kind is Kind.POLAR_DAY:
        length = f"polar day: the sun does not set, lowest {signed(day.lowest_deg, '°')}"
    else:
        length = f"polar night: highest {signed(day.highest_deg, '°')}, {day.brightest}"
    if day.dark:
        dark = ", ".join(f"{_span(zone, on, s)} ({_length(s.length_s)})" for s in day.dark)
    else:
        dark = f"none: it gets no darker than {day.darkest}"
    facts = [("day", length), ("dark, sun < −18°", dark)]
    if day.dark:
        up = ", ".join(_span(zone, on, s) for s in day.dark_with_moon)
        facts.append(("moon in the dark", f"up {up}" if up else "down"))
    coming = _local(zone, 60 * round(day.next_phase.utc / 60))
    name = "exact" if day.next_phase.name == day.phase else day.next_phase.name
    phase = f"{day.phase}, {100 * day.illuminated:.0f} % lit; {name} {coming:%d %b %H:%M}"
    return [*facts, ("moon at midnight", phase)]


def _span(zone: tzinfo, on: date, span: Span) -> str:
    ends = (60 * round(utc / 60) for utc in (span.from_utc, span.to_utc))
    return " – ".join(f"{_local(zone, utc):%H:%M}{_aside(zone, utc, on)}" for utc in ends)


def _aside(zone: tzinfo, utc: float, on: date) -> str:
    """The day, where it is not the one asked for."""
    local = _local(zone, utc)
    return "" if local.date() == on else f" {local:%d %b}"


def _local(zone: tzinfo, utc: float) -> datetime:
    return datetime.fromtimestamp(round(utc), zone)


def _degrees(value: float, signs: str) -> str:
    return f"{abs(value):.6g}° {signs[value < 0]}"


def _length(seconds: float) -> str:
    minutes = round(seconds / 60)
    return f"{minutes // 60} h {minutes % 60:02} min"
