"""The search for the light before a first frame: from any guess within five frames, whatever it begins with."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.decide.first_light import Search, exposure_for, looked
from controller.decide.follow import target_ev
from controller.decide.meter import SRGB, Reading
from controller.decide.place import place_at
from controller.decide.plan import FollowLight
from controller.decide.step import Adjust
from tests.decide import changed, example, utc

PLAN = changed(
    example("quay_at_dusk"),
    light={"shutter_s": [0.0001, 30], "aperture": [2.8, 22], "iso": [100, 12800], "order": None},
)
RULE = PLAN.light
assert isinstance(RULE, FollowLight)
SUNSET = utc("2026-10-03T16:00:00")
FRAMES = 5
SPREAD_EV = np.linspace(-2.5, 2.5, 41)  # of the parts of a scene about its mean


def seen(over_ev: float, curve_ev: float) -> Reading:
    """A picture of a scene that is `over_ev` brighter than its exposure renders mid grey; a camera whose own tone
    curve makes it read `curve_ev` wrong for each EV away from there."""
    parts = np.clip(SRGB.mid * np.exp2(over_ev * (1 + curve_ev) + SPREAD_EV - 0.9), 0.0, 1.0)
    clipped, black = float(np.mean(parts >= 0.99)), float(np.mean(parts <= float(SRGB.linear[2])))
    return Reading(float(parts.mean()), clipped, black, 160, 120)


def search(off_ev: float, curve_ev: float, at_utc: float) -> tuple[Search, int]:
    """The search before a scene that is `off_ev` brighter than the sky model."""
    state, count = Search(), 0
    while count < FRAMES and not state.settled:
        exposure = exposure_for(PLAN, RULE, Adjust(), None, state, at_utc, 8.0)
        mid_utc = at_utc + exposure.shutter_s / 2
        scene_ev = place_at(PLAN.site, mid_utc).model_ev(mid_utc) + off_ev
        state = looked(PLAN, state, exposure, mid_utc, seen(scene_ev - exposure.ev, curve_ev))
        at_utc, count = at_utc + 3.0, count + 1
    return state, count


@given(st.floats(-9.0, 6.0), st.floats(-0.25, 0.25), st.sampled_from([0.0, 1200.0, 2400.0]))
def test_five_frames_are_enough_from_any_guess(off_ev: float, curve_ev: float, after_s: float):
    state, count = search(off_ev, curve_ev, SUNSET + after_s)
    assert state.settled
    assert count <= FRAMES
    place = place_at(PLAN.site, SUNSET + after_s)
    model_ev = place.model_ev(SUNSET + after_s)
    wanted = target_ev(RULE, model_ev + off_ev, place.altitude_deg)
    assert state.light is not None
    found = target_ev(RULE, model_ev + state.light.offset_ev, place.altitude_deg)
    # A scene as dark as this plan can hardly expose in 8 s is read far from mid grey, where a curve's error shows.
    slack = 0.3 + abs(curve_ev) * max(1.0, -(model_ev + off_ev + 5.0))
    assert found == pytest.approx(wanted, abs=slack)


@pytest.mark.parametrize(("off_ev", "most"), [(0.2, 1), (2.0, 2), (-3.0, 2), (6.0, 4), (-6.0, 3)])
def test_near_the_model_one_frame_is_enough(off_ev: float, most: int):
    state, count = search(off_ev, 0.0, SUNSET)
    assert state.settled
    assert count <= most


def test_a_scene_beyond_the_plan_s_limits_gives_the_bound_and_no_more():
    """Dark as a cellar: every frame is black; what is known is that it is at least so dark."""
    state, _ = search(-40.0, 0.0, SUNSET)
    assert not state.settled
    assert state.light is not None
    assert state.light.offset_ev < -9
    assert math.isfinite(state.light.offset_ev)
