"""What of a change the camera offers only in part, or may not keep up with: in words, since none of it is refused."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from controller.decide.exposure import ANY_BODY, Body, Limits, shutters
from controller.decide.forecast import Point
from controller.decide.plan import Plan
from controller.decide.safe_interval import Needs
from controller.decide.step import Adjust, limits_in_force
from controller.words.phrases import at_least, figures
from controller.words.stops import aperture_label, iso_label, shutter_time

_SLACK = 1e-3


def of_dials(plan: Plan, before: Adjust, adjust: Adjust, body: Body | None) -> Iterator[str]:
    """Limits of a change that lie beyond the body's dials, or between two of their steps."""
    if body is None:
        return
    limits = limits_in_force(plan, adjust)
    if adjust.aperture != before.aperture and not body.aperture:
        yield "This camera does not set the aperture: set it on the lens."
    for name, label, dial in _dials(limits, body):
        if getattr(adjust, name) != getattr(before, name) and dial:
            yield from _of_dial(getattr(limits, name), dial, label)


def _dials(limits: Limits, body: Body) -> list[tuple[str, Callable[[float], str], Sequence[float]]]:
    return [
        ("shutter_s", shutter_time, shutters(limits, body)),
        ("aperture", aperture_label, body.aperture),
        ("iso", iso_label, body.iso or ANY_BODY.iso),
    ]


def _of_dial(limit: tuple[float, float], dial: Sequence[float], label: Callable[[float], str]) -> Iterator[str]:
    low, high = limit
    if not any(low * (1 - _SLACK) <= value <= high * (1 + _SLACK) for value in dial):
        yield f"This camera has nothing from {label(low)} to {label(high)}: the nearest that it has is used."
        return
    if low < dial[0] * (1 - _SLACK):
        yield f"{label(low)} is beyond this camera: its dial begins at {label(dial[0])}."
    if high > dial[-1] * (1 + _SLACK):
        yield f"{label(high)} is beyond this camera: its dial ends at {label(dial[-1])}."


def of_needs(points: Sequence[Point], needs: Needs | None) -> Iterator[str]:
    """Intervals for which the body may not be ready."""
    if needs is None or not points:
        return
    worst = min(points, key=lambda p: p.interval_s - needs.safe_interval_s(p.exposure.shutter_s))
    safe_s = needs.safe_interval_s(worst.exposure.shutter_s)
    if worst.interval_s < safe_s - _SLACK:
        yield (
            f"Intervals go down to {figures(worst.interval_s)} s at {shutter_time(worst.exposure.shutter_s)}, and "
            f"{at_least(safe_s)} is the shortest that is safe with this body ({needs.basis}): it may not be ready."
        )
