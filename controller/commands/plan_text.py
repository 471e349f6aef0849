"""What `duskhand plan` prints for people: at any width from 45 columns on."""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import groupby
from typing import Any
from zoneinfo import ZoneInfo

from controller.commands.plan_months import LONG, closely, listed
from controller.words.advice import Answer, Costs, Mark, PlanSummary, PowerNeed, Stars, StorageNeed, WindowSummary
from controller.words.phrases import count, ended, length, signed, size, with_remedy
from controller.words.stops import shutter_time

_WIDEST = 100
_LABEL = 8
_FIGURE_AND_UNIT = re.compile(r"(?<=\d) (?=(?:s|h|min|days|EV|MB|GB|TB|W|Wh|°C|%)(?![\w°]))")
_HEADS = {
    Costs.FRAMES: "Frames may be lost",
    Costs.NIGHT: "The night may be spoiled",
    Costs.QUALITY: "Quality",
    Costs.COMFORT: "Good to know",
}


def render(found: PlanSummary, columns: int = 80) -> str:
    """The whole answer, for a terminal of so many columns."""
    width = max(40, min(columns, _WIDEST))
    site = found.plan["site"]
    place = f"{_degrees(site['latitude'], 'NS')} {_degrees(site['longitude'], 'EW')}"
    blocks = [_wrapped(f"{found.name}   {place}   {found.timezone}", width)]
    if found.answer is not None:
        blocks.append(_answer(found.answer, width))
    blocks.append(_skipped(found, width))
    sums = [list(_needs(found, width)), *_warnings(found, width)]
    if len(found.windows) > LONG:
        text = closely(found.windows)
        lines = [line for entry in listed(found.windows) for line in _wrapped(entry, width)]
        blocks += [*sums, lines, [] if text is None else _wrapped(text, width)]
    else:
        for fine, windows in groupby(found.windows, lambda window: bool(window.marks)):
            if fine:
                for window in windows:
                    blocks += [_window(found, window, width), _phases(window, columns), _marks(window.marks, columns)]
            else:
                blocks.append([line for window in windows for line in _window(found, window, width)])
        text = closely(found.windows)
        blocks += [[] if text is None else _wrapped(text, width), *sums]
    return "\n\n".join("\n".join(line.rstrip() for line in block) for block in blocks if block)


def _answer(answer: Answer, width: int) -> list[str]:
    lines = _wrapped(answer.text, width)
    if answer.pace is not None:
        lines.append("[pace]")
    for key in ("kind", "interval_s", "from_s", "to_s", "points"):
        if answer.pace is not None and key in answer.pace:
            lines += textwrap.wrap(f"{key} = {json.dumps(answer.pace[key])}", width, subsequent_indent="    ")
    return lines


# ---- windows


def _window(found: PlanSummary, window: WindowSummary, width: int) -> list[str]:
    start = datetime.fromisoformat(window.start_local)
    head = f"{start:%a %d %b %Y}  {start:%H:%M:%S}"
    if window.end_local is None or window.end_utc is None:
        return _wrapped(f"{head} {_zone(found, window.start_utc)} until stopped", width)
    end = datetime.fromisoformat(window.end_local)
    if window.clock_change is not None:
        head += f" {_zone(found, window.start_utc)}"
    day = "" if end.date() == start.date() else f"{end:%a %d %b} "
    head += f" – {day}{end:%H:%M:%S} {_zone(found, window.end_utc)}"
    facts = [length(window.end_utc - window.start_utc)]
    if window.frames is not None and window.clip_s is not None:
        facts += [count(window.frames, "frame"), f"a clip of {length(window.clip_s)} at {found.fps:g} frames/s"]
    return [*_wrapped(head, width), *_wrapped(", ".join(facts), width)]


def _zone(found: PlanSummary, utc: float) -> str:
    """'CEST, UTC+2'."""
    there = datetime.fromtimestamp(utc, ZoneInfo(found.timezone))
    offset = there.utcoffset()
    minutes = 0 if offset is None else round(offset.total_seconds() / 60)
    sign, (hours, rest) = "+" if minutes >= 0 else "−", divmod(abs(minutes), 60)
    utc_text = f"UTC{sign}{hours}" + (f":{rest:02}" if rest else "") if minutes else "UTC"
    name = f"{there:%Z}"
    return utc_text if name[:1] in "+-" or name == utc_text else f"{name} ({utc_text})"


def _phases(window: WindowSummary, columns: int) -> list[str]:
    head = ["light", "from", "to", "frames", "clip", "interval", "speed-up"]
    wide, narrow, least = [head], [[*head[:3], head[-1]]], [head[:3]]
    for p in window.phases:
        begins, ends = (f"{datetime.fromisoformat(text):%H:%M}" for text in (p.from_local, p.to_local))
        speed, interval, clip = _span(p.speed_up, "×", least=9.95), _span(p.interval_s, " s"), length(p.clip_s)
        frames = f"{count(p.frames, 'frame')}, clip {clip}, every {interval}"
        wide.append([p.light, begins, ends, str(p.frames), clip, interval, speed])
        narrow += [[p.light, begins, ends, speed], [frames]]
        least += [[p.light, begins, ends], [f"{frames}, {speed}"]]
    return _fitting(columns, wide, narrow, least)


def _marks(marks: Sequence[Mark], columns: int) -> list[str]:
    wide, narrow = [], []
    for m in marks:
        at, name = f"{datetime.fromisoformat(m.local):%H:%M:%S}", m.name.replace("_", " ")
        sun, interval = signed(m.sun_altitude_deg, "°"), f"{_figure(m.interval_s)} s"
        wide.append([name, at, sun, interval, str(m.frame), m.exposure.label])
        narrow += [[name, at, sun], [f"{m.exposure.label}, every {interval}"]]
    head = ["moment", "time", "sun", "interval", "frame", "exposure"]
    return _fitting(columns, [head, *wide], [head[:3], *narrow])


def _skipped(found: PlanSummary, width: int) -> list[str]:
    if not found.skipped:
        return []
    number = len({skipped.day for skipped in found.skipped})
    shot = {window.start_local[:10] for window in found.windows}
    none = number == len({skipped.day for skipped in found.skipped} - shot)
    days = "day" if number == 1 else "days"
    verb = "has" if number == 1 else "have"
    first = found.skipped[0]
    what = f"{verb} no window" if none else f"{verb} fewer windows"
    return _wrapped(f"{number} {days} {what}, the first {first.day}: {first.cause}", width)


# ---- what it needs


def _needs(found: PlanSummary, width: int) -> Iterator[str]:
    if len(found.windows) > 1 and found.frames is not None and found.clip_s is not None:
        text = f"{count(found.frames, 'frame')} in {len(found.windows)} windows, a clip of {length(found.clip_s)}"
        yield from _labelled("in all", text, width)
    yield from _labelled("card", _card(found.storage, found.frames), width)
    if found.storage.rig_bytes is not None:
        text = f"{size(found.storage.rig_bytes)} with fetch = {found.storage.fetch}"
        if found.storage.rig_room_bytes is not None:
            text += f"; {size(found.storage.rig_room_bytes)} free"
        yield from _labelled("rig", text, width)
    for text in found.storage.deleted:
        yield from _labelled("deleted", text, width)
    if found.power is not None:
        yield from _labelled("power", _power(found, found.power), width)
    if found.field is not None:
        text = f"{found.field.horizontal_deg:.1f}° × {found.field.vertical_deg:.1f}° in the picture"
        for stay in (stay for window in found.windows for stay in window.in_picture):
            enters, leaves = (datetime.fromisoformat(t) for t in (stay.enters_local, stay.leaves_local))
            text += f"; {stay.body} {enters:%H:%M} – {leaves:%H:%M}"
        yield from _labelled("view", text, width)
    if found.stars is not None:
        yield from _labelled("stars", _stars(found.stars), width)


def _card(storage: StorageNeed, frames: int | None) -> str:
    each = f"{size(storage.frame_bytes)} a frame ({storage.basis})"
    if storage.card_bytes is None or frames is None:
        return each
    room = "" if storage.card_room_bytes is None else f"; {size(storage.card_room_bytes)} free"
    return f"{size(storage.card_bytes)} for {count(frames, 'frame')}, {each}{room}"


def _power(found: PlanSummary, power: PowerNeed) -> str:
    cold = ""
    if power.temperature_c is not None:
        cold = f" at {power.temperature_c:g} °C".replace("-", "−")
    gives = f"the battery gives {power.usable_wh:.0f} of {power.battery_wh:g} Wh{cold} ({100 * power.share:.0f} %)"
    at = f"at {power.draw_w:g} W, switched on at {_clock(found, power.from_utc)}"
    if power.needed_wh is None and power.empty_utc is None:
        return f"{gives}: {length(power.lasts_s)} {at}"
    if power.needed_wh is None and power.empty_utc is not None:
        return f"{gives}: {length(power.lasts_s)} {at} until {_clock(found, power.empty_utc)}"
    return f"{power.needed_wh:.0f} Wh {at}; {gives}, {length(power.lasts_s)}"


def _stars(stars: Stars) -> str:
    trail = "" if stars.trail_px is None else f"trail by {stars.trail_px:.1f} pixels in "
    where = f"at δ = {stars.declination_deg:.0f}°"
    one = "" if stars.one_pixel_s is None else f", by one in {stars.one_pixel_s:.2g} s"
    rules = f"points up to {stars.rule_500_s:.2g} s by the 500 rule"
    if stars.npf_s is not None:
        rules += f", {stars.npf_s:.2g} s by the NPF formula"
    return f"{trail}{shutter_time(stars.exposure_s)} {where}{one}; {rules}"


def _clock(found: PlanSummary, utc: float) -> str:
    there = datetime.fromtimestamp(utc, ZoneInfo(found.timezone))
    same = bool(found.windows) and there.date() == datetime.fromisoformat(found.windows[0].start_local).date()
    return f"{there:%H:%M}" if same else f"{there:%a %d %b %H:%M}"


# ---- warnings


def _warnings(found: PlanSummary, width: int) -> Iterator[list[str]]:
    for costs, head in _HEADS.items():
        texts = [
            ended(with_remedy(w.what[0].upper() + w.what[1:], w.remedy)) for w in found.warnings if w.costs is costs
        ]
        if texts:
            yield [head, *(line for text in texts for line in _item(text, width))]
    if found.cautions:
        cautions = [line for caution in found.cautions for line in _item(caution.text, width)]
        yield ["Be careful (docs/safety.md)", *cautions]


# ---- lines


def _fitting(columns: int, *tables: Sequence[Sequence[str]]) -> list[str]:
    """The first of the tables that there is room for, else the last."""
    made = [_table(rows, columns) for rows in tables]
    return next((lines for lines in made if max(map(len, lines)) <= columns), made[-1])


def _table(rows: Sequence[Sequence[str]], columns: int) -> list[str]:
    """Columns as wide as they need to be, texts to the left; a row of one cell goes with the one before it."""
    whole = [row for row in rows if len(row) > 1]
    widths = [max(len(row[i]) for row in whole) for i in range(len(whole[0]))]
    texts = {0, len(widths) - 1} if "exposure" in rows[0] else {0}
    lines = []
    for row in rows:
        if len(row) == 1:
            lines += _wrapped(row[0], columns, "  ", "    ")
            continue
        cells = zip(row, widths, strict=True)
        lines.append("  ".join(c.ljust(w) if i in texts else c.rjust(w) for i, (c, w) in enumerate(cells)))
    return lines


def _figure(value: float) -> str:
    """Three figures, whole from 100 on."""
    return f"{value:.0f}" if value >= 99.95 else f"{value:.1f}" if value >= 9.995 else f"{value:.2f}"


def _span(pair: tuple[float, float], unit: str, least: float = 99.95) -> str:
    """From the one to the other, whole numbers from `least` on."""
    first, last = (f"{value:.0f}" if value >= least else _figure(value) for value in pair)
    return f"{first}{unit}" if first == last else f"{first}–{last}{unit}"


def _labelled(label: str, text: str, width: int) -> list[str]:
    return _wrapped(text, width, label.ljust(_LABEL), " " * _LABEL)


def _item(text: str, width: int) -> list[str]:
    return _wrapped(text, width, "- ")


def _wrapped(text: str, width: int, first: str = "", rest: str = "  ") -> list[str]:
    """Lines of at most `width`, a figure and its unit kept together."""
    joined = _FIGURE_AND_UNIT.sub("\u00a0", text)
    lines = textwrap.wrap(joined, width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)
    return [line.replace("\u00a0", " ") for line in lines]


def _degrees(value: Any, signs: str) -> str:
    return f"{abs(value):.4g}° {signs[value < 0]}"
