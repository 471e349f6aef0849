"""What is left after a hold, where a decision fails, a row is incomplete, or the last picture is of another day."""

from __future__ import annotations

from dataclasses import replace

import pytest

from controller.decide import follow
from controller.decide.resume import light_after
from controller.decide.schedule import Window
from controller.decide.step import (
    Adjust,
    Finished,
    Moment,
    Slot,
    after_hold,
    begin,
    limits_in_force,
    next_slot,
    same_again,
    used,
)
from controller.decide.turnover import begins_now
from controller.words.documents import Frame
from tests.decide import changed, example, utc

NOON = utc("2026-10-03T10:00:00")
PLAN = example("quay_at_dusk")
WINDOW = Window(NOON, NOON + 600.0)


def first() -> Slot:
    slot = next_slot(PLAN, Adjust(), begin(PLAN, WINDOW, Moment(NOON, 0.0), earliest_mono=0.0), None, Moment(NOON, 0.0))
    assert isinstance(slot, Slot)
    return slot


def test_the_same_slot_again_keeps_the_cadence_and_the_exposure():
    slot = first()
    progress = used(begin(PLAN, WINDOW, Moment(NOON, 0.0), earliest_mono=0.0), slot, True)
    put_s = 40.0  # the wall's clock, meanwhile
    again = same_again(progress, slot, Moment(NOON + put_s + 3.0, 3.0))
    assert isinstance(again, Slot)
    assert (again.seq, again.due_mono) == (slot.seq + 1, slot.due_mono + slot.interval_s)
    assert again.due_utc == pytest.approx(NOON + put_s + slot.interval_s, abs=1e-3)
    assert (again.exposure, again.interval_s) == (slot.exposure, slot.interval_s)


def test_the_same_slot_again_ends_where_the_plan_does():
    slot = first()
    progress = used(begin(PLAN, WINDOW, Moment(NOON, 0.0), earliest_mono=0.0), slot, True)
    for due_s, over in ((599.9, False), (600.0, True), (700.0, True)):
        late = replace(progress, due_mono=due_s)
        assert isinstance(same_again(late, slot, Moment(NOON, 0.0)), Finished) is over
        endless = replace(late, window=Window(NOON, None))
        assert isinstance(same_again(endless, slot, Moment(NOON, 0.0)), Slot)


def test_after_a_hold_the_next_slot_is_due_by_both_clocks():
    progress = begin(PLAN, WINDOW, Moment(NOON, 0.0), earliest_mono=0.0)
    held = after_hold(progress, Moment(NOON + 340.0, 300.0), 302.0)  # the wall's clock was put by 40 s meanwhile
    assert (held.due_mono, held.due_utc) == (302.0, pytest.approx(NOON + 342.0, abs=1e-3))
    assert held.unspent_s == progress.unspent_s + 302.0


def test_a_fixed_light_is_held_inside_limits_that_are_changed():
    stars = example("stars_over_a_ridge")  # ISO 3200
    for changed_to, iso in (((100.0, 800.0), 800.0), ((6400.0, 12_800.0), 6400.0), ((100.0, 6400.0), 3200.0)):
        assert limits_in_force(stars, Adjust(iso=changed_to)).iso == pytest.approx((iso, iso))


def known() -> follow.Light:
    light = follow.Light()
    for k in range(30):
        light = follow.measured(light, NOON + 10.0 * k, 5.0, 7.0, 0.0, 0.0)
    assert light.settled
    return light


@pytest.mark.parametrize(("after_s", "anew"), [(86_300.0, False), (86_500.0, True)])
def test_a_picture_of_yesterday_says_how_bright_it_was_and_no_more(after_s, anew):
    """After a day the light is not settled any more: the exposure may go to where it should be at once."""
    light = known()
    after = follow.measured(light, light.utc + after_s, 5.0, 12.0, 0.0, 0.0)
    assert after.offset_ev == pytest.approx(7.0, abs=0.2)  # the picture is believed either way
    assert (after.settled_utc == after.utc) is anew
    assert (after.swing.known_s == 0.0) is anew


def test_a_picture_that_comes_late_is_left_out_and_one_by_a_clock_set_back_begins_anew():
    light = known()
    assert follow.measured(light, light.utc, 5.0, 12.0, 0.0, 0.0) is light
    assert follow.measured(light, light.utc - 599.0, 5.0, 12.0, 0.0, 0.0) is light
    back = follow.measured(light, light.utc - 601.0, 5.0, 12.0, 0.0, 0.0)
    assert back.utc == light.utc - 601.0
    assert back.offset_ev > 6.5


def test_light_that_was_never_seen_does_not_move_with_the_clock():
    never = follow.Light()
    assert follow.shifted(never, 3600.0) is never
    moved = follow.shifted(known(), 3600.0)
    assert (moved.utc, moved.settled_utc) == (NOON + 290.0 + 3600.0, NOON + 3600.0)


def test_a_row_without_its_exposure_tells_nothing_of_the_light():
    whole = {"shoot": "s", "seq": 1, "camera": "c", "due_utc": NOON, "interval_s": 5.0, "scene_ev": 9.0}
    assert light_after(PLAN, Frame(**whole)) == follow.Light()
    settings = {"shutter_s": 0.01, "aperture": 2.8, "iso": 100.0}
    assert light_after(PLAN, Frame(**whole, **settings)).utc is not None
    for name in settings:  # as where a lens without contacts tells no aperture
        assert light_after(PLAN, Frame(**whole, **{**settings, name: None})) == follow.Light()


@pytest.mark.parametrize(
    ("when", "now"),
    [
        ({"start": "now", "stop": None, "duration": "2h"}, True),
        ({"start": "18:00", "stop": None, "duration": "2h"}, False),
        ({"start": "sunset"}, False),
    ],
)
def test_a_plan_begins_when_it_is_started_where_it_says_now(when, now):
    assert begins_now(changed(PLAN, when=when)) is now
