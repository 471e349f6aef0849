"""Edges that are pulses, pulses that are shot, and moves that leave the camera still. By arithmetic of these tests."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.decide.pace import PaceChange
from controller.decide.plan import Plan, plan_from
from controller.decide.schedule import Window
from controller.decide.step import Adjust, Moment, Slot, begin, check_adjust, next_slot
from controller.decide.wiring import Motion
from controller.decide.wiring.motion import move_after, moves_after, released_at, with_motion
from controller.decide.wiring.pulses import Bounce, too_early
from controller.words.errors import BadInput

FOLLOW = {"kind": "follow", "shutter_s": [0.0005, 20.0], "iso": [100, 6400], "aperture": 2.8}
MOTION = Motion(pin=17, after_s=0.1, pulse_s=0.4, settle_s=2.5)


def plan(pace: dict[str, object], light: dict[str, object] | None = None) -> Plan:
    site = {"latitude": 57.66, "longitude": 11.72}
    return plan_from({"name": "night", "site": site, "pace": pace, "light": light or FOLLOW})


def night_slot(of: Plan) -> Slot:
    """A slot in the dark, where the exposure wants all the time that there is."""
    utc = 1_792_540_800.0  # 2026-10-21T00:00:00Z, the sun far below the horizon there
    progress = begin(of, Window(utc, utc + 3600, None), Moment(utc, 0.0), earliest_mono=0.0)
    slot = next_slot(of, Adjust(), progress, None, Moment(utc, 0.0))
    assert isinstance(slot, Slot)
    return slot


# ---- edges


def test_a_contact_that_bounces_at_both_ends_is_one_pulse():
    bounce = Bounce(0.02)
    closing = [(1.0, True), (1.002, False), (1.003, True), (1.009, False), (1.010, True)]
    opening = [(1.2, False), (1.204, True), (1.205, False), (1.211, True), (1.212, False)]
    again = [(2.0, True)]
    assert [at for at, active in closing + opening + again if bounce.is_pulse(at, active)] == [1.0, 2.0]


@given(st.lists(st.floats(0.05, 10), min_size=1, max_size=30), st.floats(0.001, 0.024))
def test_clean_pulses_are_all_heard(gaps, width_s):
    bounce, at, heard = Bounce(0.02), 0.0, 0
    for gap in gaps:
        at += gap
        heard += bounce.is_pulse(at, True)
        assert not bounce.is_pulse(at + width_s, False)
    assert heard == len(gaps)


def test_a_pulse_too_soon_after_the_last_one_that_was_shot():
    assert too_early(5.0, None, 5.0) is None
    assert too_early(10.0, 5.0, 5.0) is None
    told = too_early(8.7, 5.0, 5.0)
    assert told is not None
    assert "3.7 s" in told
    assert "min_interval_s is 5" in told


# ---- plans on pulses


def test_the_exposure_leaves_room_for_the_next_pulse():
    slot = night_slot(plan({"kind": "pulse", "min_interval_s": 6.0, "min_gap_s": 1.5}))
    assert slot.exposure.shutter_s <= 4.5
    assert slot.exposure.shutter_s > 4.5 / 2 ** (1 / 3) - 1e-6  # the longest third of a stop that fits
    assert slot.interval_s == 6.0


def test_such_a_pace_is_not_changed_from_here():
    of = plan({"kind": "pulse", "min_interval_s": 6.0})
    with pytest.raises(BadInput, match="pulses give the pace"):
        check_adjust(of, Adjust(pace=PaceChange(6.0, 9.0, 0.0, 60.0)))


def test_nor_does_it_stretch():
    with pytest.raises(BadInput, match="stretch_to_s"):
        plan({"kind": "pulse", "min_interval_s": 6.0, "stretch_to_s": 20.0})


# ---- motion


def test_a_move_is_exposure_pulse_and_settling_one_after_the_other():
    move = move_after(MOTION, 100.0)
    assert (move.begins, move.ends, move.still) == pytest.approx((100.1, 100.5, 103.0))
    late = move.late(100.3, 100.9)
    assert (late.begins, late.ends, late.still) == pytest.approx((100.3, 100.9, 103.4))


@pytest.mark.parametrize("min_gap_s", [0.5, 5.0])
def test_the_gap_holds_a_move(min_gap_s):
    of = plan({"kind": "steady", "interval_s": 10.0, "min_gap_s": min_gap_s})
    slot = night_slot(with_motion(of, MOTION))
    gap_s = max(min_gap_s, 3.0)
    assert slot.interval_s == 10.0
    assert (10.0 - gap_s) / 2 ** (1 / 3) - 1e-6 < slot.exposure.shutter_s <= 10.0 - gap_s
    assert night_slot(of).exposure.shutter_s >= slot.exposure.shutter_s


def test_a_fixed_exposure_has_its_interval_made_long_enough():
    light = {"kind": "fixed", "shutter_s": 4.0, "aperture": 2.8, "iso": 800}
    of = plan({"kind": "steady", "interval_s": 5.0, "min_gap_s": 0.5}, light)
    slot = night_slot(with_motion(of, MOTION))
    assert slot.exposure.shutter_s == pytest.approx(4.0)
    assert slot.interval_s >= 7.0 - 1e-9


def test_without_a_motion_rig_a_plan_is_as_it_was():
    of = plan({"kind": "steady", "interval_s": 5.0})
    assert with_motion(of, None) is of


def test_it_does_not_move_within_a_bracket():
    of = plan({"kind": "steady", "interval_s": 60.0}, {**FOLLOW, "bracket_ev": [-2, 0, 2]})
    assert [seq for seq in range(1, 10) if moves_after(of, seq)] == [3, 6, 9]
    assert all(moves_after(plan({"kind": "steady", "interval_s": 60.0}), seq) for seq in range(1, 10))


def test_a_release_waits_for_the_camera_to_stand_still_or_is_none():
    assert released_at(10.0, 12.0) == 10.0
    assert released_at(10.0, 12.0, 9.0) == 10.0
    assert released_at(10.0, 12.0, 11.0) == 11.0
    assert released_at(10.0, 12.0, 12.1) is None
