"""Dangers to people and gear, named only where the plan gives cause. docs/safety.md tells more of each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from controller.decide.advice.ahead import Ahead
from controller.decide.advice.picture import SUN_REMEDY
from controller.decide.plan import Plan
from controller.decide.sun import RISE_SET_DEG
from controller.words.advice import Caution, InPicture

_FROST_C = 3.0  # the sky draws surfaces below the air's temperature (common practice, no source)
_NIGHT_DEG = -6.0
_DOWNWARDS_DEG = -10.0
_LONG_S = 12 * 3600.0


def cautions(plan: Plan, ahead: Sequence[Ahead], there: Sequence[InPicture]) -> Iterator[Caution]:
    """What to be careful of. Laws and codes of the place go first, and licensed people where they ask for them."""
    points = [p for a in ahead for p in a.points if p.utc <= a.end_utc]
    if any(stay.body == "sun" for stay in there):
        text = (
            "The sun stands in the picture. Never look at it through a viewfinder or any optics; it burns shutter and "
            f"sensor, the longer the lens the sooner. {SUN_REMEDY}"
        )
        yield Caution(about="sun", text=text)
    elif plan.view is None and any(p.sun_altitude_deg > RISE_SET_DEG for p in points):
        text = (
            "The sun is up for a part of the time. If it can come into the picture: never look at it through any "
            "optics, and keep long lenses off it without a solar filter."
        )
        yield Caution(about="sun", text=text)
    if plan.power is not None and plan.power.temperature_c is not None and plan.power.temperature_c <= _FROST_C:
        text = (
            "Frost: do not charge lithium cells below 0 °C, keep batteries warm, keep ice off the front lens, and take "
            "the camera in inside a closed bag."
        )
        yield Caution(about="frost", text=text)
    if any(p.sun_altitude_deg < _NIGHT_DEG for p in points):
        text = (
            "It gets dark: stay off roads, rails, quay edges and cliffs, look at the place by day, and let someone "
            "know where you are and when you will be back."
        )
        yield Caution(about="night", text=text)
    if plan.view is not None and plan.view.altitude_deg <= _DOWNWARDS_DEG:
        text = (
            "The camera looks down from a height: tether camera, lens and rig so that nothing can fall on anyone. Work "
            "at height has its own rules and trades."
        )
        yield Caution(about="height", text=text)
    lasting = plan.when.every is not None or any(
        a.coming.end_utc is None or a.end_utc - a.begin_utc > _LONG_S for a in ahead
    )
    if lasting:
        text = (
            "A camera that stays films people: keep windows, gardens, faces and number plates out of the picture, ask "
            "the owner of the ground, and heed the privacy law of the place."
        )
        yield Caution(about="privacy", text=text)
    if plan.when.every is not None:
        text = (
            "For weeks outdoors mains belongs to protected sockets made by someone licensed for it, by the code of the "
            "place; else low voltage, fused at the battery."
        )
        yield Caution(about="mains", text=text)
