"""What `duskhand rehearse` prints, for people."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from datetime import datetime

from controller.camera.messages import BUSY_WRITING, STILL_EXPOSING, TOO_SLOW
from controller.decide.plan import Plan
from controller.words.documents import Note
from controller.words.phrases import count, ended, length, signed, size, with_remedy
from controller.words.rehearsal import RehearsalSummary
from controller.words.stops import aperture_label, iso_label, shutter_label

_MOST_BINDS = 20
_REMEDIES = {
    BUSY_WRITING: "Use longer intervals there, or a faster card",
    STILL_EXPOSING: "Use longer intervals there, or shorter exposures",
    TOO_SLOW: "Use longer intervals there, or switch the power-off timer off",
}
_USUAL = frozenset({"card-at-start", "stopped"})  # notes that every rehearsal has


def render(plan: Plan, came: RehearsalSummary, notes: Sequence[Note], sky: str, columns: int) -> str:
    """Lines no wider than `columns`, where that is 38 or more."""
    width = max(38, min(columns, 100))
    lines = textwrap.wrap(f"{came.plan_name}, rehearsed under {sky} with a model camera", width)
    lines.append("")
    if came.start_utc is None or came.stop_utc is None:
        return "\n".join([*lines, "No slot came due."])
    rows = [
        ("from", _local(plan, came.start_utc)),
        ("to", _local(plan, came.stop_utc)),
        ("windows", str(came.windows)) if came.windows > 1 else None,
        ("frames", f"{came.frames}, a clip of {length(came.clip_s)}"),
        ("missed", str(sum(came.missed.values()))),
        ("lost", str(came.lost)) if came.lost else None,
        ("interval", _range(came.interval_s, lambda s: f"{s:.3g} s")),
        ("shutter", _range(came.shutter_s, shutter_label)),
        ("aperture", _range(came.aperture, aperture_label)),
        ("ISO", _range(came.iso, lambda v: iso_label(v).removeprefix("ISO "))),
        ("on the card", size(came.bytes)),
        ("exposure", _exposure(plan, came)),
    ]
    for name, text in filter(None, rows):
        lines += textwrap.wrap(text, width, initial_indent=f"{name:<12}", subsequent_indent=" " * 12)
    if came.missed:
        lines += ["", "Missed slots"]
        for cause, slots in came.missed.items():
            span = " to ".join(dict.fromkeys(_clock(plan, came, utc) for utc in came.missed_spans.get(cause, ())))
            missed = f"{count(slots, 'slot')}, {span}: {cause}"
            lines += _item(ended(with_remedy(missed, _REMEDIES.get(cause))), width)
    lines += ["", "Where a limit is reached" if came.binds else "No limit is reached."]
    for bind in came.binds[:_MOST_BINDS]:
        lines += _item(ended(with_remedy(bind.text, bind.remedy)), width)
    if len(came.binds) > _MOST_BINDS:
        lines += _item(f"and {len(came.binds) - _MOST_BINDS} more: --json lists them", width)
    told = [note for note in notes if note.kind not in _USUAL]
    if told:
        lines += ["", "Notes"]
        for note in told[:_MOST_BINDS]:
            lines += _item(f"{_clock(plan, came, note.utc)}: {note.text}", width)
    return "\n".join(lines)


def _item(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width, initial_indent="- ", subsequent_indent="  ")


def _range(pair: tuple[float, float] | None, name: Callable[[float], str]) -> str:
    if pair is None:
        return "not known"
    low, high = (name(value) for value in pair)
    return low if low == high else f"{low} … {high}"


def _exposure(plan: Plan, came: RehearsalSummary) -> str:
    if came.scene_ev is None and came.within_third is None:
        return "not known"
    if came.within_third is None:
        low, high = came.scene_ev or (0.0, 0.0)
        return f"one for all; the scene is {signed(low)} to {signed(high)} EV from mid grey with it"
    text = f"{came.within_third:.1%} of frames within 1/3 EV of what is wanted"
    if came.within_third == 1.0 or came.furthest_ev is None or came.furthest_utc is None:
        return text
    way = "bright" if came.furthest_ev > 0 else "dark"
    off = f"{abs(came.furthest_ev):.1f} EV too {way}"
    return f"{text}, the furthest {off} at {_clock(plan, came, came.furthest_utc)}"


def _clock(plan: Plan, came: RehearsalSummary, utc: float) -> str:
    """A time of day, with its day where the rehearsal has several."""
    zone = plan.site.zone
    at = datetime.fromtimestamp(utc, zone)
    days = {datetime.fromtimestamp(end, zone).date() for end in (came.start_utc, came.stop_utc) if end is not None}
    return f"{at:%a %d %b %H:%M}" if len(days) > 1 else f"{at:%H:%M}"


def _local(plan: Plan, utc: float) -> str:
    """To the nearest second, as `duskhand plan` has it."""
    return f"{datetime.fromtimestamp(round(utc), plan.site.zone):%a %d %b %Y %H:%M:%S %Z}"
