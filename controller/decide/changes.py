"""Changes that a person makes while shooting, from what is in force: to look at them, and to make them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from controller.decide.pace import PaceChange
from controller.decide.step import Adjust, Progress
from controller.words.errors import BadInput
from controller.words.stops import aperture_label, iso_label, shutter_time

OWN_PACE, OWN_LIGHT = "the plan's own pace again", "the plan's own light again: no bias, and its own limits"
"""What is said of the ways back."""


def paced(progress: Progress | None, to_s: float, over_s: float, now_utc: float) -> PaceChange:
    """The interval to `to_s` over `over_s` seconds, from the one in force, beginning now."""
    in_force = progress.interval_s if progress is not None else None
    return PaceChange(from_s=in_force or to_s, to_s=to_s, start_utc=now_utc, over_s=over_s)


def own_pace(adjust: Adjust) -> Adjust:
    """The plan's pace in force again; it is gone to as by any pace, `max_change` a frame at most."""
    return replace(adjust, pace=None)


def own_light(adjust: Adjust) -> Adjust:
    """The plan's light in force again: no bias, and its own limits."""
    return Adjust(pace=adjust.pace)


def lit(adjust: Adjust, wanted: Mapping[str, Any]) -> tuple[Adjust, dict[str, Any]]:
    """Bias and limits of the exposure, by Adjust's names; what is None stays. Also those that change.

    Raises BadInput (nothing-to-change).
    """
    changes = {name: value for name, value in wanted.items() if value is not None}
    if not changes:
        raise BadInput("nothing-to-change", "no change was named", "body", "Give bias_ev, shutter_s, iso or aperture")
    return replace(adjust, **changes), changes


def lit_told(changes: Mapping[str, Any]) -> str:
    """Such changes in words, as photographers write them."""
    return "light: " + ", ".join(_SAID[name](value) for name, value in changes.items())


def _bias(ev: float) -> str:
    return f"bias {round(ev, 2):+g} EV".replace("-", "−") if ev else "no bias"


def _limits(label: Callable[[float], str]) -> Callable[[Sequence[float]], str]:
    def said(limits: Sequence[float]) -> str:
        return " to ".join(dict.fromkeys(map(label, limits)))  # one where both are the same

    return said


_SAID: dict[str, Callable[[Any], str]] = {
    "bias_ev": _bias,
    "shutter_s": _limits(shutter_time),
    "iso": _limits(iso_label),
    "aperture": _limits(aperture_label),
}
