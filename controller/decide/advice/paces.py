"""Intervals that cannot be kept, or that become others than the plan names; clips that are no film."""

from __future__ import annotations

from collections.abc import Iterator

from controller.decide.advice.ahead import Ahead
from controller.decide.advice.stretches import span
from controller.decide.anchors import parse_length
from controller.decide.forecast import Point
from controller.decide.pace import interval_at
from controller.decide.plan import ByPulse, FixedLight, Plan, Timed
from controller.decide.safe_interval import Needs
from controller.words.advice import Costs, Warned
from controller.words.phrases import at_least, figures
from controller.words.stops import shutter_time

_SHORT_CLIP_S = 5.0
_SAME_S = 1e-6
_GROWN = 1.05  # what lies below is the pace's own slowness


def gap_s(plan: Plan, p: Point) -> float:
    """From the end of an exposure to the next release, seconds."""
    return p.interval_s - p.exposure.shutter_s if len(p.exposures) == 1 else plan.pace.min_gap_s


def step_s(plan: Plan, p: Point) -> float:
    """From a release to the next, seconds; within a bracket after the shortest of its exposures."""
    return p.interval_s if len(p.exposures) == 1 else _shortest_s(p) + plan.pace.min_gap_s


def _shortest_s(p: Point) -> float:
    return min(exposure.shutter_s for exposure in p.exposures)


def of_pace(plan: Plan, ahead: Ahead, needs: Needs | None) -> Iterator[Warned]:
    """Intervals that cannot be kept."""
    pace = plan.pace
    if needs is not None:
        yield from _of_needs(plan, ahead, needs)
    if isinstance(pace, ByPulse):
        what = (
            f"the pulses decide how many frames there will be: at most as many as {pace.min_interval_s:g} s apart make"
        )
        yield Warned(costs=Costs.COMFORT, what=what, remedy="See how far apart the other machine's pulses are")
    if isinstance(pace, Timed):
        over_s = parse_length(pace.over) if pace.over else (ahead.window.stop_utc or 0.0) - ahead.window.start_utc
        slope = abs(pace.to_s - pace.from_s) / over_s
        if slope > pace.max_change:
            wanted, most = f"{100 * slope:.0f} %", f"{100 * pace.max_change:.3g} %"
            what = f"the interval is to change by {wanted} a frame, and max_change holds it to {most}"
            yield Warned(costs=Costs.QUALITY, what=what, remedy="Make `over` longer, or raise max_change")
    if ahead.coming.frames_left == 0:
        what = "the window holds no frame"
        yield Warned(costs=Costs.FRAMES, what=what, remedy="Make it longer than one interval")


def _of_needs(plan: Plan, ahead: Ahead, needs: Needs) -> Iterator[Warned]:
    """Where the body may not be ready for the next frame; of a bracket's frames the gaps alone can be lengthened."""

    def short_of(p: Point) -> float:
        """Seconds that are missing."""
        return max(needs.safe_gap_s - gap_s(plan, p), needs.safe_step_s - step_s(plan, p))

    if (found := span(plan, ahead, lambda p: short_of(p) > _SAME_S)) is None:
        return
    points, when = found
    worst = max(points, key=short_of)
    what = (
        f"{when} releases are {figures(step_s(plan, worst))} s apart at {shutter_time(_shortest_s(worst))}, and "
        f"{at_least(needs.safe_interval_s(_shortest_s(worst)))} is the shortest that is safe with this body "
        f"({needs.basis}): it may not be ready for the next"
    )
    gap = at_least(gap_s(plan, worst) + short_of(worst)).removesuffix(" s")
    remedy = f"Use min_gap_s = {gap} and intervals to match, a faster card, or smaller files"
    yield Warned(costs=Costs.FRAMES, what=what, remedy=remedy, utc=points[0].utc)


def of_motion(plan: Plan, ahead: Ahead, needs_s: float | None) -> Iterator[Warned]:
    """Gaps that do not hold a move of the rig, which `with_motion` makes long enough when it shoots."""
    if needs_s is None or (found := span(plan, ahead, lambda p: gap_s(plan, p) < needs_s - _SAME_S)) is None:
        return
    points, when = found
    fixed = isinstance(plan.light, FixedLight)
    follows = "intervals will be longer" if fixed else "exposures will be shorter than told here"
    what = (
        f"{when} the gap between exposures is {min(gap_s(plan, p) for p in points):.2g} s, and the motion rig needs "
        f"{needs_s:.3g} s to move and to stand still: {follows}"
    )
    remedy = f"Use min_gap_s = {needs_s:.3g} and intervals to match, or a quicker move"
    yield Warned(costs=Costs.FRAMES if fixed else Costs.QUALITY, what=what, remedy=remedy, utc=points[0].utc)


def of_clip(clip_s: float | None) -> Iterator[Warned]:
    """A clip that is over before it begins."""
    if clip_s is not None and 0 < clip_s < _SHORT_CLIP_S:
        what = f"the clip lasts {clip_s:.1f} s only"
        yield Warned(costs=Costs.COMFORT, what=what, remedy="Use shorter intervals, or a longer window")


def of_stretched(plan: Plan, ahead: Ahead) -> Iterator[Warned]:
    """Where the exposure outgrows the interval, and the interval grows with it."""
    if plan.pace.stretch_to_s is None:
        return

    def own_s(p: Point) -> float:
        return interval_at(plan.pace, None, ahead.window, p.utc, lambda _: p.sun_altitude_deg, lambda _: p.scene_ev)

    if (found := span(plan, ahead, lambda p: p.interval_s > own_s(p) * _GROWN)) is None:
        return
    points, when = found
    most = max(points, key=lambda p: p.interval_s)
    what = (
        f"{when} the exposure outgrows the interval, which grows with it to {figures(most.interval_s)} s where the "
        f"pace has {figures(own_s(most))} s: the clip runs faster there"
    )
    remedy = "If that is not meant, remove stretch_to_s, and let ISO give way"
    yield Warned(costs=Costs.COMFORT, what=what, remedy=remedy, utc=points[0].utc)
