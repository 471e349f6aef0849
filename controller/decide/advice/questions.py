"""The practitioner's questions, asked the other way round: which interval for this clip, which clip for this interval,
which stop for this card."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from controller.decide.advice import storage
from controller.decide.advice.ahead import Ahead, at_site, local, look_ahead, walked
from controller.decide.advice.needs import moment_of, total
from controller.decide.exposure import Body
from controller.decide.first_light import most_before
from controller.decide.plan import ByLight, ByPulse, BySun, Plan, Steady, Timed, plan_from
from controller.decide.schedule import Window
from controller.words.advice import Answer
from controller.words.errors import BadInput
from controller.words.phrases import at_least, count, figures, grouped, length, size

_ROUNDS = 12
_CLOSE = 0.5  # frames
_JUST_S = 60.0
_CLIP_NEAR = 0.005
_ROUNDING_S = 1e-3  # intervals are whole milliseconds


@dataclass(frozen=True, slots=True)
class Question:
    """One of the three; `where` is how the asker named it, for errors."""

    where: str
    clip_s: float | None = None
    interval_s: float | None = None
    card_bytes: float | None = None


def changed(plan: Plan, question: Question, asked: float | date, body: Body | None) -> Plan:
    """The plan that answers: with its intervals scaled to the clip, or one interval throughout.

    Raises BadInput: no-answer, bad-plan.
    """
    if question.interval_s is not None:
        return _steady(plan, question)
    return plan if question.clip_s is None else _for_clip(plan, question, asked, body)


def answer(plan: Plan, question: Question, ahead: Sequence[Ahead], body: Body | None, frame_bytes: float) -> Answer:
    """What to say of the plan that `changed` gave."""
    if question.card_bytes is not None:
        return _for_card(plan, question.card_bytes, ahead, body, frame_bytes)
    frames = total(ahead)
    intervals = sorted(p.interval_s for a in ahead for p in a.points if p.utc <= a.end_utc)
    pair = (round(intervals[0], 3), round(intervals[-1], 3))
    said = " to ".join(dict.fromkeys(f"{figures(interval_s)} s" for interval_s in pair))
    if frames is None:
        hour = 3600.0 / pair[0] * len(plan.light.offsets)
        clip = length(hour / plan.releases_per_clip_s)
        text = f"An interval of {said} makes {grouped(hour)} frames an hour: {clip} of clip."
    else:
        what = "An interval" if pair[0] == pair[1] else "Intervals"
        text = f"{what} of {said}: {count(frames, 'frame')}, a clip of {length(frames / plan.releases_per_clip_s)}."
        text += _not_exactly(plan, question, ahead, frames)
    return Answer(
        asked="clip" if question.clip_s is not None else "interval",
        text=text,
        pace=plan.pace.model_dump(mode="json", exclude_none=True),
        interval_s=pair,
        frames=frames,
        clip_s=None if frames is None else round(frames / plan.releases_per_clip_s, 2),
    )


def _not_exactly(plan: Plan, question: Question, ahead: Sequence[Ahead], frames: int) -> str:
    """Where the clip asked for is missed by more than a frame shows: that, and why."""
    clip_s = question.clip_s
    if clip_s is None or abs(frames - clip_s * plan.releases_per_clip_s) <= max(1.0, _CLIP_NEAR * frames):
        return ""
    why = f": each of the {grouped(len(ahead))} windows has whole frames" if len(ahead) > 1 else ""
    return f" {length(clip_s)} cannot be met exactly{why}."


def scaled(plan: Plan, factor: float) -> Plan:
    """Every interval of the pace times `factor`, in whole milliseconds. Raises BadInput (bad-plan)."""

    def times(value: float) -> float:
        return round(value * factor, 3 if value * factor < 1000 else 1)

    pace = plan.pace
    table = pace.model_dump(mode="json", exclude_none=True)
    match pace:
        case ByPulse():
            table["min_interval_s"] = times(pace.min_interval_s)
        case Steady():
            table["interval_s"] = times(pace.interval_s)
        case Timed():
            table |= {"from_s": times(pace.from_s), "to_s": times(pace.to_s)}
        case BySun() | ByLight():
            table["points"] = [[x, times(interval_s)] for x, interval_s in pace.points]
    return _with_pace(plan, table)


def _with_pace(plan: Plan, table: dict[str, Any]) -> Plan:
    stretch_s, least = table.get("stretch_to_s"), table.get("interval_s", table.get("from_s"))
    if "points" in table:
        least = min(interval_s for _, interval_s in table["points"])
    elif "to_s" in table:
        least = min(table["from_s"], table["to_s"])
    if stretch_s is not None and least is not None and stretch_s <= least:
        del table["stretch_to_s"]
    return plan_from({**plan.document(), "pace": table})


def _steady(plan: Plan, question: Question) -> Plan:
    kept = {"min_gap_s", "max_change", "stretch_to_s"}
    table = {k: v for k, v in plan.pace.model_dump(mode="json", exclude_none=True).items() if k in kept}
    try:
        return _with_pace(plan, {"kind": "steady", "interval_s": question.interval_s, **table})
    except BadInput as error:
        error.where = question.where
        raise


def _for_clip(plan: Plan, question: Question, asked: float | date, body: Body | None) -> Plan:
    assert question.clip_s is not None
    ahead, _ = look_ahead(plan, asked, body)
    if any(a.window.frames is not None for a in ahead):
        what = "the plan counts its frames, whatever their interval"
        frames = max(1, round(question.clip_s * plan.releases_per_clip_s))
        remedy = f"Put frames = {frames} into [when], or give it a stop instead"
        raise BadInput("no-answer", what, question.where, remedy)
    if total(ahead) is None:
        remedy = "Give the plan a stop or a duration"
        raise BadInput("no-answer", "a plan without an end makes a clip of any length", question.where, remedy)
    wanted, factor, found = question.clip_s * plan.releases_per_clip_s, 1.0, plan
    if wanted < 1:
        what = f"at {plan.clip.fps:g} frames a second that is less than one frame"
        raise BadInput("no-answer", what, question.where, "Ask for a longer clip")
    room_s = plan.light.shortest_s() + plan.pace.min_gap_s * len(plan.light.offsets)
    least = (room_s + _ROUNDING_S) / plan.pace.shortest()[1]
    for _ in range(_ROUNDS):
        made = sum(a.points[-1].frames for a in ahead)
        if abs(made - wanted) <= _CLOSE:
            break
        if factor <= least * 1.00001 and made < wanted:
            most_s = made / plan.releases_per_clip_s
            what = f"no interval makes a clip of {length(question.clip_s)}: {most_s:.1f} s is the longest"
            remedy = f"Lengthen the window, or shorten exposure and gap, {at_least(room_s)} together"
            raise BadInput("no-answer", what, question.where, remedy)
        factor = max(factor * made / wanted, least * (1 + 1e-9))
        try:
            found = scaled(plan, factor)
        except BadInput as error:
            what = f"a clip of {length(question.clip_s)} asks for intervals that no plan may have ({error.what})"
            raise BadInput("no-answer", what, question.where, "Ask for a clip of another length") from None
        ahead, _ = look_ahead(found, asked, body)
    return found


def _for_card(plan: Plan, card_bytes: float, ahead: Sequence[Ahead], body: Body | None, frame_bytes: float) -> Answer:
    """Until when a card lasts, beyond the plan's own stop if need be."""
    fit, before_each = storage.frames_in_card(card_bytes, frame_bytes), most_before(plan)
    head = f"{size(card_bytes)} hold {count(fit, 'frame')} of {size(frame_bytes)}"
    if before_each:
        head += f", up to {before_each} of them test frames" + (" before each window" if len(ahead) > 1 else "")
    frames = total(ahead)
    room = max(0, fit - before_each) if len(ahead) == 1 else fit
    if len(ahead) == 1 and room > 0 and plan.when.every is None:  # days of a repeated plan grow no longer
        only = ahead[0]
        window = Window(only.window.start_utc, None, room)
        long = walked(_timed_whole(plan, only.window), window, only.begin_utc, body, fine=True)
        stop_utc = long.utc_of(room)
    else:
        stop_utc = moment_of(ahead, room, before_each)
    if stop_utc is None and frames is None:
        text = f"{head}: more than a year of shooting."
    elif stop_utc is None:
        more = fit - (frames or 0) - before_each * len(ahead)
        text = f"{head}: all of the plan's {grouped(frames)}, and {grouped(more) if more else 'no'} more."
    else:
        stop, end_utc = at_site(plan, math.floor(stop_utc)), ahead[-1].coming.end_utc
        day = "" if stop.date() == at_site(plan, ahead[0].begin_utc).date() else f"{stop:%a %d %b} "
        text = f"{head}: the latest stop is {day}{stop:%H:%M:%S}"
        if end_utc is not None:
            apart_s = stop_utc - end_utc
            text += f", {length(abs(apart_s))} {'after' if apart_s >= 0 else 'before'} the plan's own end"
        if end_utc is not None and -1.0 < stop_utc - end_utc < _JUST_S:
            text = f"{head}: the card holds all of it, and no more"
        if plan.when.every is None:
            text += f': stop = "{stop:%Y-%m-%dT%H:%M:%S}".' if "the latest" in text else "."
        else:
            whole = [a for a in ahead if a.coming.end_utc is not None and a.coming.end_utc <= stop_utc]
            text += f": until = {at_site(plan, whole[-1].begin_utc):%Y-%m-%d}." if whole else ", in the first window."
    return Answer(
        asked="card",
        text=text,
        frames=room,
        clip_s=round(room / plan.releases_per_clip_s, 2),
        stop_utc=stop_utc,
        stop_local=None if stop_utc is None else local(plan, stop_utc),
    )


def _timed_whole(plan: Plan, window: Window) -> Plan:
    """A timed pace that fills its window, written so that it stays the same beyond the window's stop."""
    pace = plan.pace
    if not isinstance(pace, Timed) or pace.over is not None or window.stop_utc is None:
        return plan
    over = f"{window.stop_utc - window.start_utc:.3f}s"
    return plan.model_copy(update={"pace": pace.model_copy(update={"over": over})})
