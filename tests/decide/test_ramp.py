"""`max_ev_per_min` in a closed loop: how fast the exposure moves, whatever asks for it."""

from __future__ import annotations

import itertools
import math
from bisect import bisect_right
from collections.abc import Callable

import pytest

from controller.decide import follow, ramp
from controller.decide.exposure import ANY_BODY, Body
from controller.decide.meter import Reading
from controller.decide.plan import Plan
from controller.decide.resume import resume
from controller.decide.schedule import windows
from controller.decide.step import Adjust, Moment, Slot, after_hold, begin, metered, next_slot, used
from tests.decide import changed, utc
from tests.decide.test_follow import MID, THIRD, WIDE, picture
from tests.decide.test_resume import row_of

NOON = utc("2026-10-03T10:00:00")
EVENING = changed(WIDE, when={"start": "sunset-60min", "stop": "sunset-20min"})
STARS = changed(
    WIDE,
    when={"start": "astronomical_dusk+30min", "stop": "astronomical_dusk+90min"},
    light={"shutter_s": [0.000125, 16.0], "iso": [100, 800]},
    pace={"min_gap_s": 0.5},
)


def steady(plan: Plan, interval_s: float) -> Plan:
    return changed(plan, pace={"kind": "steady", "interval_s": interval_s, "points": None, "min_gap_s": 0.5})


def shot(
    plan: Plan,
    adjust: Callable[[int], Adjust] = lambda seq: Adjust(),
    offset: Callable[[int], float] = lambda seq: 0.0,
    body: Body | None = None,
    count: int = 400,
    seen: Callable[[float], Reading] = lambda over_ev: picture(over_ev, 0.0, 1.0),
) -> list[Slot]:
    window = next(windows(plan, NOON))
    progress = begin(plan, window, Moment(NOON, 0.0), earliest_mono=0.0)
    slots: list[Slot] = []
    while len(slots) < count:
        moment = Moment(NOON + progress.due_mono, progress.due_mono)
        slot = next_slot(plan, adjust(progress.seq), progress, body, moment)
        if not isinstance(slot, Slot):
            break
        slots.append(slot)
        progress = used(progress, slot, True)
        reading = seen(slot.sky_ev + offset(slot.seq) - slot.exposure.ev)
        progress, _ = metered(plan, adjust(slot.seq), progress, slot, reading)
    return slots


def fastest_ev_min(slots: list[Slot], over_s: float = 60.0) -> float:
    """The largest difference of exposure between two frames that are no further apart than `over_s`."""
    dues = [slot.due_mono for slot in slots]
    ends = [bisect_right(dues, due + over_s + 1e-6) for due in dues]
    return max(abs(s.exposure.ev - slots[k].exposure.ev) for k, end in enumerate(ends) for s in slots[k:end])


def largest_step(slots: list[Slot]) -> float:
    return max(abs(b.exposure.ev - a.exposure.ev) for a, b in itertools.pairwise(slots))


def arrives(slots: list[Slot], seq: int) -> float:
    """Seconds from a slot until the exposure is within a third of what is asked for."""
    begun = slots[seq - 1].due_mono
    return next(s.due_mono - begun for s in slots[seq:] if abs(s.exposure.ev - s.target_ev) < THIRD)


@pytest.mark.parametrize("interval_s", [2, 5, 20])
@pytest.mark.parametrize("most", [0.5, 1.5, 4.0])
@pytest.mark.parametrize("bias", [-3.0, 1.3, 2.0, 6.0])
def test_no_minute_has_more_than_the_limit_and_a_third(interval_s: float, most: float, bias: float):
    plan = changed(steady(EVENING, interval_s), light={"max_ev_per_min": most})
    slots = shot(plan, lambda seq: Adjust(bias_ev=bias if seq > 30 else 0.0))
    assert fastest_ev_min(slots[10:]) <= most + THIRD + 1e-6
    # and no slower than it may: the sky's own change, and an interval and a third either way
    assert arrives(slots, 31) == pytest.approx((abs(bias) - THIRD) / most * 60, abs=20 / most + 2 * interval_s + 10)


def test_the_limit_s_steps_are_thirds_one_after_the_other():
    """1.5 EV a minute are a third every 13.3 s: arithmetic. At 2 s that is every seventh frame, six at times."""
    slots = shot(steady(EVENING, 2), lambda seq: Adjust(bias_ev=1.3 if seq > 30 else 0.0))
    moved = [
        b.seq for a, b in itertools.pairwise(slots[:70]) if a.seq > 29 and abs(b.exposure.ev - a.exposure.ev) > 0.1
    ]
    assert moved[0] == 31
    assert all(6 <= b - a <= 8 for a, b in itertools.pairwise(moved[:4]))
    assert largest_step(slots[10:]) == pytest.approx(THIRD)


def test_a_bias_of_two_stops_comes_in_step_by_step():
    for bias in (2.0, -2.0):
        slots = shot(steady(EVENING, 5), lambda seq, bias=bias: Adjust(bias_ev=bias if seq > 30 else 0.0))
        assert largest_step(slots[10:]) == pytest.approx(THIRD)
        assert abs(slots[60].exposure.ev - slots[60].target_ev) < THIRD


@pytest.mark.parametrize("bracket", [None, [-2, 0, 2]])
def test_limits_that_bind_are_widened_and_narrowed_step_by_step(bracket: list[float] | None):
    """ISO 800 under stars is stops short; 6400 is three more. Both ways the exposure moves as fast as it may."""
    plan = changed(steady(STARS, 24 if bracket is None else 60), light={"bracket_ev": bracket})
    size = 1 if bracket is None else len(bracket)
    wide = Adjust(iso=(100, 6400))
    slots = shot(plan, lambda seq: wide if 10 * size < seq <= 25 * size else Adjust(), count=45 * size)
    base = slots[size // 2 :: size]
    held, raised, lowered = base[9].base, base[24].base, base[44].base
    assert (held.iso, lowered.iso) == pytest.approx((800, 800))
    assert raised.ev <= held.ev - 2.9
    assert largest_step(base[5:]) <= THIRD + 1.5 * (base[1].due_mono - base[0].due_mono) / 60
    assert fastest_ev_min(base[5:]) <= 1.5 + THIRD + 1e-6
    assert all(s.base.iso <= 801 for s in base[40:])


def test_a_limit_that_something_else_makes_up_for_is_obeyed_at_once():
    night = changed(steady(STARS, 24), light={"iso": [100, 102400]})
    slots = shot(night, lambda seq: Adjust(shutter_s=(0.001, 8.0)) if seq > 10 else Adjust(), count=20)
    assert slots[9].exposure.shutter_s == pytest.approx(16)
    assert slots[10].exposure.shutter_s == pytest.approx(8)
    assert abs(slots[10].exposure.ev - slots[9].exposure.ev) <= THIRD + 1e-6


def test_a_lamp_that_stays_on_is_followed_at_once_and_a_bias_of_the_same_size_is_not():
    lamp = shot(steady(EVENING, 5), offset=lambda seq: 3.0 if seq > 30 else 0.0)
    assert largest_step(lamp[10:]) > 2
    assert arrives(lamp, 31) < 40
    bias = shot(steady(EVENING, 5), lambda seq: Adjust(bias_ev=-3.0 if seq > 30 else 0.0))
    assert largest_step(bias[10:]) == pytest.approx(THIRD)


def test_a_dial_of_whole_stops_is_paid_for_afterwards():
    body = Body(ANY_BODY.shutter_s, (), (100.0, 200.0, 400.0, 800.0, 1600.0, 3200.0, 6400.0))
    plan = changed(
        WIDE, when={"start": "sunset+20min", "stop": "sunset+80min"}, light={"shutter_s": [0.03125, 0.03125]}
    )
    slots = [s for s in shot(steady(plan, 5), body=body) if 100 < s.exposure.iso < 6400]
    assert {round(abs(b.exposure.ev - a.exposure.ev), 3) for a, b in itertools.pairwise(slots)} == {0.0, 1.0}
    assert max(abs(s.exposure.ev - s.target_ev) for s in slots) < 0.6
    hurried = shot(steady(EVENING, 5), lambda seq: Adjust(bias_ev=3.0 if seq > 30 else 0.0), body=body)
    assert fastest_ev_min(hurried[10:], 120.0) <= 2 * 1.5 + 1.0


def test_after_a_hold_the_time_that_has_passed_counts():
    """Twenty minutes of a dusk are up to 8 EV: the first frame afterwards is exposed for what there is."""
    plan = changed(WIDE, when={"start": "sunset"})
    window = next(windows(plan, NOON))
    progress = begin(plan, window, Moment(NOON, 0.0), earliest_mono=0.0)
    for _ in range(30):
        slot = next_slot(plan, Adjust(), progress, None, Moment(NOON + progress.due_mono, progress.due_mono))
        assert isinstance(slot, Slot)
        progress = used(progress, slot, True)
        progress, _ = metered(plan, Adjust(), progress, slot, picture(slot.sky_ev - slot.exposure.ev, 0.0, 1.0))
    mono = progress.due_mono + 1200
    progress = after_hold(progress, Moment(NOON + mono, mono), mono)
    first = next_slot(plan, Adjust(), progress, None, Moment(NOON + mono, mono))
    assert isinstance(first, Slot)
    assert slot.target_ev - first.target_ev > 3
    assert abs(first.exposure.ev - first.target_ev) < THIRD


def test_a_clock_that_steps_takes_the_jump_with_it():
    light = follow.Light()
    for k in range(10):
        light = follow.measured(light, 1e9 + 10 * k, 5.0, 5.0, 0.0, 0.0)
    for k in range(10, 13):
        light = follow.measured(light, 1e9 + 10 * k, 5.0, 9.0, 0.0, 0.0)
    moved = follow.shifted(light, 3600.0)
    for utc_s, clocked in ((1e9 + 130, light), (1e9 + 3730, moved)):
        assert follow.at_once(clocked, 4.0, 0.0, utc_s, 10.0)
        assert not follow.at_once(clocked, 1.4, 0.0, utc_s, 10.0)
        assert not follow.at_once(clocked, 4.0, 0.0, utc_s + 60, 10.0)
    assert follow.at_once(moved, -0.4, -2.0, 1e9 + 5000, 10.0)  # light that runs away
    assert not follow.at_once(moved, 2.0, -2.0, 1e9 + 5000, 10.0)
    assert not follow.at_once(moved, -2.0, -0.5, 1e9 + 5000, 10.0)


@pytest.mark.parametrize("bias", [3.0, 4.0, 6.0])
def test_pictures_that_are_meant_to_come_out_white_do_not_move_the_exposure(bias: float):
    """What is clipped by a bias agrees with what is known of the light, and is no reason to look for more."""
    slots = shot(steady(EVENING, 5), lambda seq: Adjust(bias_ev=bias if seq > 30 else 0.0))[90:]
    assert all(b.exposure.ev <= a.exposure.ev for a, b in itertools.pairwise(slots))  # it only gets darker
    assert max(abs(s.target_ev - (s.sky_ev - bias)) for s in slots) < 0.4


@pytest.mark.parametrize("jump", [2.5, 4.0, -8.0])
def test_a_jump_that_clips_is_overshot_by_a_stop_and_a_half_at_most(jump: float):
    """A flat scene at 20 s, all white or black as soon as it is beyond the scale (2.46 EV above mid grey), until the
    jump is believed."""

    def flat(over_ev: float) -> Reading:
        return Reading(min(1.0, MID * 2**over_ev), float(over_ev > 2.46), float(over_ev < -7), 160, 120, MID)

    noon = changed(WIDE, when={"start": "noon-1h", "stop": "noon+1h"}, light={"aperture": [16, 16]})
    slots = shot(steady(noon, 20), offset=lambda seq: jump if seq > 30 else 0.0, count=80, seen=flat)
    over = [(s.exposure.ev - s.sky_ev - jump) * math.copysign(1.0, jump) for s in slots[30:]]
    assert max(over) <= 1.5 + THIRD / 2
    assert abs(over[-1]) < THIRD


def test_a_restart_while_a_bias_comes_in_does_not_bring_the_rest_at_once():
    plan, change = steady(EVENING, 5), Adjust(bias_ev=3.0)
    slots = shot(plan, lambda seq: change if seq > 30 else Adjust(), count=40)
    last = slots[-1]
    assert last.exposure.ev - last.target_ev > 1.5
    row = row_of(last, last.sky_ev, 0.0)
    now = Moment(last.due_utc + last.interval_s, last.due_mono + last.interval_s)
    progress = resume(plan, next(windows(plan, NOON)), now, last=row, frames_done=40, adjust=change)
    again = []
    for _ in range(20):
        at = Moment(now.utc + progress.due_mono - now.mono, progress.due_mono)
        slot = next_slot(plan, change, progress, None, at)
        assert isinstance(slot, Slot)
        again.append(slot)
        progress = used(progress, slot, True)
    assert largest_step([last, *again]) == pytest.approx(THIRD)
    assert fastest_ev_min([last, *again]) <= 1.5 + THIRD + 1e-6


def test_a_step_at_once_spends_all_that_was_saved():
    """Whatever passed before the light was known pays for nothing afterwards."""
    slots = shot(EVENING, offset=lambda seq: 3.0, count=3)
    first, second, _ = slots
    assert second.exposure.ev - first.exposure.ev > 2  # at once: past any limit
    assert (first.unspent_s, second.unspent_s) == (0.0, 0.0)


def test_seconds_pay_for_steps_as_the_plan_s_limit_says():
    """At 0.5 EV a minute a third of a stop costs 40 s; what is left over pays for a third at most (arithmetic)."""
    rule = changed(WIDE, light={"max_ev_per_min": 0.5}).light
    assert [ramp.most_ev(rule, seconds) for seconds in (-5.0, 39.0, 40.0, 100.0)] == pytest.approx(
        [0, 0, THIRD, 2 * THIRD]
    )
    left = [
        ramp.left_s(rule, seconds, step) for seconds, step in ((40.0, THIRD), (60.0, -THIRD), (10.0, THIRD), (99.0, 0))
    ]
    assert left == pytest.approx([0.0, 20.0, -30.0, 40.0])
