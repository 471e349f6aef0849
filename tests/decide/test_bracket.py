"""Brackets: exposures apart by what is asked, in one interval with their gaps."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.decide.bracket import Bracket, around, bracket, room_s
from controller.decide.exposure import ANY_BODY, Body, allocate, check_bulb, limits, shutters
from controller.decide.exposure import triple as triple_of
from controller.words.brackets import index_of, middle_index
from controller.words.errors import BadInput

NIGHT = limits((1 / 8000, 30.0), (2.8, 2.8), (100.0, 3200.0))
ORDER = ("shutter", "iso")
some_offsets = st.lists(
    st.sampled_from([-6, -4, -3, -2, -1, -2 / 3, 0, 1 / 3, 1, 2, 4, 6]), min_size=2, max_size=9, unique=True
)


def test_a_bracket_by_day_moves_the_shutter():
    """Two stops brighter is four times the light (arithmetic)."""
    base = allocate(12, NIGHT, ORDER, ANY_BODY, 10.0)
    under, right, over = bracket(base, (-2, 0, 2), NIGHT, ORDER, ANY_BODY, 10.0)
    assert right == base
    assert (under.shutter_s, over.shutter_s) == pytest.approx((base.shutter_s / 4, base.shutter_s * 4))
    assert {t.iso for t in (under, right, over)} == {100}


def test_where_the_exposures_do_not_fit_together_iso_gives_way_and_the_light_stays():
    base = allocate(0, NIGHT, ORDER, ANY_BODY, 30.0)
    assert base.shutter_s == pytest.approx(8)
    free = bracket(base, (-2, 0, 2), NIGHT, ORDER, ANY_BODY, 43.0)
    assert [t.shutter_s for t in free] == pytest.approx([2, 8, 32])
    held = bracket(base, (-2, 0, 2), NIGHT, ORDER, ANY_BODY, 12.0)
    assert sum(t.shutter_s for t in held) <= 12
    assert [t.ev for t in held] == pytest.approx([2, 0, -2], abs=1 / 6 + 1e-9)
    assert held[2].iso > 100


@given(st.floats(-10, 18), some_offsets, st.floats(0.02, 60))
def test_never_longer_than_the_room_and_never_further_off_than_half_a_third(ev, offsets, room):
    base = allocate(ev, NIGHT, ORDER, ANY_BODY, room)
    found = bracket(base, offsets, NIGHT, ORDER, ANY_BODY, room)
    assert len(found) == len(offsets)
    assert sum(t.shutter_s for t in found) <= room
    longest = max(t.shutter_s for t in found)
    brightest = allocate(-99, NIGHT, ORDER, ANY_BODY, longest).ev
    darkest = allocate(99, NIGHT, ORDER, ANY_BODY, longest).ev
    for offset, triple in zip(offsets, found, strict=True):
        wanted = min(max(base.ev - offset, brightest), darkest)
        assert abs(triple.ev - wanted) <= 1 / 6 + 1e-9


def test_the_frames_of_an_interval_fill_it():
    exposures = bracket(allocate(5, NIGHT, ORDER, ANY_BODY, 10.0), (0, -2, 2), NIGHT, ORDER, ANY_BODY, 7.0)
    whole = Bracket(10.0, 5.0, exposures[0], exposures)
    slots = [whole.slot_s(k, 1.0) for k in range(3)]
    assert sum(slots) == pytest.approx(10.0)
    assert slots[:2] == pytest.approx([exposures[0].shutter_s + 1, exposures[1].shutter_s + 1])
    assert slots[2] >= exposures[2].shutter_s + 1
    assert room_s(10.0, 1.0, (0, -2, 2)) == 7.0


def test_where_a_slot_stands_follows_from_its_number():
    assert [index_of(seq, (-2, 0, 2)) for seq in range(1, 8)] == [0, 1, 2, 0, 1, 2, 0]
    assert middle_index((-2, 0, 2)) == 1
    assert middle_index((2, -1)) == 1
    assert middle_index((0.0,)) == 0


def test_a_fixed_exposure_is_bracketed_by_its_shutter():
    fixed = limits((1 / 60, 1 / 60), (8.0, 8.0), (200.0, 200.0))
    base = allocate(0, fixed, (), ANY_BODY, math.inf)
    found = bracket(base, (0, -2, 2), around(fixed), (), ANY_BODY, 10.0)
    assert [t.shutter_s for t in found] == pytest.approx([1 / 64, 1 / 256, 1 / 16])
    assert {(t.aperture, t.iso) for t in found} == {(base.aperture, base.iso)}


def test_a_fixed_exposure_is_bracketed_as_far_as_a_plan_may_ask():
    """Six stops to either side, the most that `bracket_ev` takes (plan.md): 1/4 s between 1/256 s and 16 s."""
    fixed = limits((0.25, 0.25), (8.0, 8.0), (200.0, 200.0))
    found = bracket(allocate(0, fixed, (), ANY_BODY, math.inf), (-6, 0, 6), around(fixed), (), ANY_BODY, 60.0)
    assert [t.shutter_s for t in found] == pytest.approx([1 / 256, 1 / 4, 16])


# ---- bulb


def test_bulb_goes_on_in_thirds_to_the_limit_where_plan_and_body_both_say_so():
    long = limits((1 / 8000, 120.0), (2.8, 2.8), (100.0, 3200.0), bulb=True)
    able = replace(ANY_BODY, bulb=True)
    assert shutters(long, able)[-1] == pytest.approx(32 * 2 ** (5 / 3))  # 101.6 s: the next third is above 120 s
    steps = [b / a for a, b in zip(shutters(long, able), shutters(long, able)[1:], strict=False)]
    assert steps == pytest.approx([2 ** (1 / 3)] * len(steps))
    assert allocate(-3, long, ORDER, able, 200.0).shutter_s == pytest.approx(64)
    assert allocate(-3, long, ORDER, able, 50.0).shutter_s <= 50
    for others in ((replace(long, bulb=False), able), (long, ANY_BODY)):
        assert allocate(-3, others[0], ORDER, others[1], 200.0).shutter_s == pytest.approx(32)


def test_one_time_beyond_the_dial_is_that_time():
    able = replace(ANY_BODY, bulb=True)
    assert shutters(limits((80.0, 80.0), (4.0, 4.0), (100.0, 100.0), bulb=True), able)[-2:] == (32.0, 80.0)
    assert shutters(limits((1.0, 1.0), (4.0, 4.0), (100.0, 100.0), bulb=True), able) == ANY_BODY.shutter_s
    assert shutters(limits((80.0, 80.0), (4.0, 4.0), (100.0, 100.0), bulb=True), ANY_BODY) == ANY_BODY.shutter_s


def test_a_body_without_bulb_is_refused_in_one_line():
    with pytest.raises(BadInput) as refused:
        check_bulb(True, Body((1 / 64, 1.0, 32.0), (), ()))
    assert refused.value.code == "no-bulb"
    assert "30 s" in str(refused.value)
    check_bulb(False, ANY_BODY)
    check_bulb(True, replace(ANY_BODY, bulb=True))


def test_the_frame_at_0_ev_is_the_exposure_in_force_itself():
    """Not the one that the order would choose for the same light: that would be a step of settings for nothing."""
    held = triple_of(4.0, 2.0**1.5, 200.0)
    right, over = bracket(held, (0, 1), NIGHT, ORDER, ANY_BODY, 60.0)
    assert right is held
    assert (over.shutter_s, over.iso) == pytest.approx((16.0, 100.0))
    short, _ = bracket(held, (0, 1), NIGHT, ORDER, ANY_BODY, 3.9)
    assert (short.ev, short.shutter_s < 3.9) == (pytest.approx(held.ev), True)
