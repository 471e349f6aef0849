"""Allocation of exposures: nearest, in order, inside limits, and never too long."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.decide import exposure
from controller.decide.exposure import ANY_BODY, QUANTITIES, Body, Limits, allocate, allowed, limits

WIDE = limits((1 / 8000, 30.0), (2.8, 16.0), (100.0, 12800.0))
THIRD = 1 / 3


def test_labels_mean_the_true_stops_behind_them():
    """Third-stop dials: 30 s is 32 s, f/5.6 is 5.657, ISO 125 is 126 (powers of two: arithmetic)."""
    found = limits((1 / 60, 30.0), (5.6, 11.0), (125.0, 6400.0))
    assert found.shutter_s == pytest.approx((1 / 64, 32))
    assert found.aperture == pytest.approx((2**2.5, 2**3.5))
    assert found.iso == pytest.approx((100 * 2**THIRD, 6400))
    assert limits((0.0005, 18.0), (2.8, 2.8), (100.0, 3200.0)).shutter_s == pytest.approx((1 / 2048, 18.0))


def test_sunny_sixteen():
    """Full sun is EV 15 (ANSI PH2.7): 1/100 s (true 1/102 s) at f/16, ISO 100 is 14.67."""
    chosen = allocate(14.67, limits((1 / 8000, 30.0), (16.0, 16.0), (100.0, 100.0)), ("shutter",), ANY_BODY, 99.0)
    assert chosen.shutter_s == pytest.approx(1 / 101.6, rel=0.01)
    assert chosen.ev == pytest.approx(14.667, abs=0.001)


def test_gives_way_in_the_order_that_the_plan_says():
    fixed = limits((1 / 2000, 18.0), (2.8, 2.8), (100.0, 3200.0))
    at = {ev: allocate(ev, fixed, ("shutter", "iso"), ANY_BODY, 99.0) for ev in (8, 0, -2, -5, -12)}
    assert at[8].iso == 100
    assert at[8].shutter_s == pytest.approx(1 / 32)
    assert at[0].shutter_s == pytest.approx(8)
    assert at[-2].shutter_s == pytest.approx(16)
    assert at[-2].iso == pytest.approx(200)
    assert at[-5].iso == pytest.approx(1600)
    assert (at[-12].shutter_s, at[-12].iso) == pytest.approx((16, 3200))
    turned = allocate(0, fixed, ("iso", "shutter"), ANY_BODY, 99.0)
    assert (turned.iso, turned.shutter_s) == pytest.approx((3200, 0.25))
    open_first = allocate(8, WIDE, ("aperture", "shutter", "iso"), ANY_BODY, 99.0)
    assert open_first.aperture == pytest.approx(2.828, abs=0.001)


def test_iso_gives_way_where_the_interval_is_too_short_for_the_shutter():
    fixed = limits((1 / 2000, 18.0), (2.8, 2.8), (100.0, 3200.0))
    free, held = (allocate(-1, fixed, ("shutter", "iso"), ANY_BODY, longest) for longest in (18.0, 4.9))
    assert (free.shutter_s, free.iso) == pytest.approx((16, 100))
    assert (held.shutter_s, held.iso) == pytest.approx((4, 400))
    assert held.ev == pytest.approx(free.ev)


bodies = st.builds(
    lambda shutter, aperture, iso: Body(
        tuple(sorted({2.0 ** (k / 3) for k in shutter})),
        tuple(sorted({2.0 ** (k / 6) for k in aperture})),
        tuple(sorted({100 * 2.0 ** (k / 3) for k in iso})),
    ),
    st.lists(st.integers(-39, 15), min_size=1, max_size=40),
    st.lists(st.integers(0, 27), max_size=20),
    st.lists(st.integers(-3, 24), max_size=20),
)
ranges = st.tuples(st.floats(0.01, 100), st.floats(1, 1000)).map(lambda p: (p[0], p[0] * p[1]))
some_limits = st.builds(Limits, ranges.map(lambda r: (r[0] / 1000, r[1] / 1000)), ranges, ranges)


@given(st.floats(-20, 25), some_limits, st.permutations(QUANTITIES), bodies, st.floats(0.0001, 100))
def test_never_longer_than_the_interval_allows_whatever_is_asked(target, some, order, body, longest_s):
    longest_s = max(longest_s, body.shutter_s[0])
    chosen = allocate(target, some, order, body, longest_s)
    assert chosen.shutter_s <= longest_s
    assert chosen.shutter_s in body.shutter_s
    assert not body.iso or chosen.iso in body.iso
    assert not body.aperture or chosen.aperture in body.aperture


@given(st.floats(-20, 25), st.permutations(QUANTITIES), st.floats(0.001, 40))
def test_nearest_that_full_dials_of_thirds_can_give(target, order, longest_s):
    chosen = allocate(target, WIDE, order, ANY_BODY, longest_s)
    brightest = allocate(99, WIDE, order, ANY_BODY, longest_s).ev
    darkest = allocate(-99, WIDE, order, ANY_BODY, longest_s).ev
    if darkest <= target <= brightest:
        assert abs(chosen.ev - target) <= THIRD / 2 + 1e-9
    assert darkest - 1e-9 <= chosen.ev <= brightest + 1e-9
    assert allowed(chosen, WIDE, ANY_BODY, longest_s)
    assert not allowed(chosen, WIDE, ANY_BODY, chosen.shutter_s * 0.99)


def test_a_lens_that_the_camera_cannot_set_counts_as_the_plan_says():
    manual = Body(ANY_BODY.shutter_s, (), ANY_BODY.iso)
    chosen = allocate(3, limits((1 / 8000, 30.0), (4.0, 4.0), (100.0, 100.0)), ("shutter",), manual, 99.0)
    assert chosen.aperture == 4.0
    assert chosen.ev == pytest.approx(3, abs=THIRD / 2)


def test_limits_between_two_stops_take_the_nearest_stop():
    few = Body((1 / 64, 1 / 8, 1.0), (2.0,), (100.0, 800.0))
    chosen = allocate(0, limits((0.4, 0.5), (2.8, 2.8), (400.0, 400.0)), ("shutter",), few, 99.0)
    assert (chosen.shutter_s, chosen.aperture, chosen.iso) == (1.0, 2.0, 800.0)
    assert exposure.shortest_s(few) == 1 / 64


def test_a_body_that_is_not_known_has_full_dials_in_thirds():
    """1/8000 to 30 s, f/1 to f/32 and ISO 50 to 102400: powers of two, counted (arithmetic)."""
    ends = [(dial[0], dial[-1], len(dial)) for dial in (ANY_BODY.shutter_s, ANY_BODY.aperture, ANY_BODY.iso)]
    expected = [(2.0**-13, 32.0, 18 * 3 + 1), (1.0, 32.0, 10 * 3 + 1), (50.0, 102_400.0, 11 * 3 + 1)]
    assert ends == [pytest.approx(dial) for dial in expected]


def test_without_a_body_dials_are_those_that_cameras_have():
    """Thirds from 1/8000 to 30 s, f/1 to f/32, ISO 50 to 102400, by their true values (common practice, no source)."""
    ends = [(dial[0], dial[-1]) for dial in (ANY_BODY.shutter_s, ANY_BODY.aperture, ANY_BODY.iso)]
    assert ends == [(pytest.approx(1 / 8192), 32.0), (1.0, pytest.approx(32.0)), (50.0, 102_400.0)]


@pytest.mark.parametrize("ev", [-8.0, 3.0, 16.0])
def test_an_aperture_that_a_body_does_not_tell_stays_as_the_plan_s_first(ev):
    """A lens without contacts cannot be closed by the rig, however bright it gets."""
    body = Body(ANY_BODY.shutter_s, (), ANY_BODY.iso)
    assert allocate(ev, WIDE, ("aperture", "shutter", "iso"), body, 99.0).aperture == pytest.approx(2**1.5)
