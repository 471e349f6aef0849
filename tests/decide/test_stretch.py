"""How long an interval becomes that may grow with the exposure: worked out by hand from N² / t = 2^EV at ISO 100."""

from __future__ import annotations

import pytest

from controller.decide.exposure import ANY_BODY
from controller.decide.plan import Plan
from controller.decide.step import Adjust, limits_in_force, stretched_s
from tests.decide import changed, example

LIGHT = {
    "kind": "follow",
    "aperture": [2.8, 2.8],
    "iso": [100, 3200],
    "shutter_s": [0.001, 30.0],
    "brightness": [[0.0, 0.0], [-18.0, 0.0]],
}


def plan(**light: object) -> Plan:
    stretch = {"kind": "steady", "interval_s": 5.0, "min_gap_s": 1.0, "stretch_to_s": 20.0}
    return changed(example("quay_at_dusk"), pace=stretch, light={**LIGHT, **light})


def stretched(some: Plan, scene_ev: float, paced_s: float = 5.0, bias_ev: float = 0.0) -> float:
    adjust = Adjust(bias_ev=bias_ev)
    return stretched_s(some, adjust, limits_in_force(some, adjust), ANY_BODY, paced_s, scene_ev, -6.0)


@pytest.mark.parametrize("scene_ev", [0.9, 0.5, 0.34, 0.1, 0.0, -0.1, -0.3])
def test_it_holds_the_shutter_that_suits_the_scene_and_a_sixth_of_a_stop(scene_ev: float) -> None:
    suits_s = 8 / 2**scene_ev  # the true f/2.8 is √8
    assert stretched(plan(), scene_ev) == pytest.approx(suits_s * 2 ** (1 / 6) + 1.0, abs=0.0011)


def test_brighter_pictures_need_longer_intervals() -> None:
    assert stretched(plan(), 1.0, bias_ev=1.0) == pytest.approx(8 * 2 ** (1 / 6) + 1.0, abs=0.0011)


def test_it_is_never_shorter_than_the_pace_says_nor_longer_than_the_plan() -> None:
    assert stretched(plan(), 5.0) == 5.0
    longest_s = 2 ** (12 / 3)  # the longest third of a stop that leaves a second of 20 s
    assert stretched(plan(), -3.0) == pytest.approx(longest_s + 1.0, abs=0.0011)
    for paced_s in (20.0, 25.0):
        assert stretched(plan(), -3.0, paced_s) == paced_s


def test_a_bracket_needs_room_for_all_of_its_exposures() -> None:
    three = plan(bracket_ev=[-1.0, 0.0, 1.0])
    suits_s = 8 / 2**1.5 * 2 ** (1 / 6)
    assert stretched(three, 1.5) == pytest.approx(suits_s * (0.5 + 1 + 2) + 3 * 1.0, abs=0.0011)


def test_in_the_dark_every_frame_of_a_bracket_needs_the_longest_shutter() -> None:
    """Two stops of ISO above the lowest: the frame a stop darker is exposed as long, at half of that ISO."""
    three = plan(bracket_ev=[-1.0, 0.0, 1.0], shutter_s=[0.001, 4.0])
    assert stretched(three, -1.0) == pytest.approx(3 * 4.0 + 3 * 1.0, abs=0.0011)
