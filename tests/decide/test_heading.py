"""Where exposure and interval are heading: by hand, and against the slots that come half an hour later."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from controller.decide import exposure as dials
from controller.decide.follow import Light
from controller.decide.forecast import at
from controller.decide.heading import AHEAD_S, Towards, heading
from controller.decide.pace import PaceChange
from controller.decide.plan import Plan
from controller.decide.schedule import Window, windows
from controller.decide.step import Adjust, Moment, Progress, Slot, begin, next_slot, used
from tests.decide import changed, example, utc
from tests.decide.test_step import moment

NOON = utc("2026-12-03T10:00:00")
WINDOW = Window(NOON, NOON + 7200)
FIXED = {"kind": "fixed", "shutter_s": 1.0, "aperture": 5.6, "iso": 200}
STEADY = changed(example("quay_at_dusk"), pace={"kind": "steady", "interval_s": 10.0}, light=FIXED)


def towards(
    plan: Plan, progress: Progress, *, adjust: Adjust | None = None, end_utc: float | None = NOON + 7200
) -> Towards | None:
    now = Moment(progress.due_utc, progress.due_mono)
    return heading(plan, adjust or Adjust(), progress, progress.window, None, now, end_utc)


def in_force(interval_s: float | None = 10.0, **more: object) -> Progress:
    light = Light(utc=NOON, variance=0.01, settled_utc=NOON - 600)
    return replace(Progress(WINDOW, 5, 0.0, NOON, interval_s, None, 4, light), **more)  # type: ignore[arg-type]


def test_halfway_through_a_change_of_pace() -> None:
    """From 10 to 20 s over an hour: 15 s after half of it."""
    found = towards(STEADY, in_force(), adjust=Adjust(pace=PaceChange(10.0, 20.0, NOON, 3600.0)))
    assert found is not None
    assert (found.utc, found.interval_s) == (NOON + 1800, pytest.approx(15.0))
    assert found.exposure == dials.triple(1.0, 2**2.5, 200)


def test_no_further_than_the_end() -> None:
    found = towards(STEADY, in_force(), adjust=Adjust(pace=PaceChange(10.0, 20.0, NOON, 3600.0)), end_utc=NOON + 900)
    assert found is not None
    assert (found.utc, found.interval_s) == (NOON + 900, pytest.approx(12.5))
    open_end = towards(STEADY, in_force(), end_utc=None)
    assert open_end is not None
    assert open_end.utc == NOON + AHEAD_S


def test_nothing_before_the_first_slot_or_after_the_last() -> None:
    assert towards(STEADY, in_force(None)) is None
    assert towards(STEADY, in_force(), end_utc=NOON) is None


@pytest.mark.parametrize(("off_ev", "stays"), [(0.25, True), (-0.25, True), (0.29, False), (-0.29, False)])
def test_an_exposure_that_is_near_enough_stays(off_ev: float, stays: bool) -> None:
    """In steady light a step comes from 0.27 EV on (docs/follow.md), though the nearest third is another from 0.17."""
    plan = changed(STEADY, light={"kind": "follow", "aperture": 5.6, "brightness": [[0, 0], [1, 0]]})
    now = Moment(NOON, 0.0)
    wanted_ev = at(plan, Adjust(), in_force(), WINDOW, None, now, NOON + AHEAD_S).target_ev
    free = towards(plan, in_force())
    assert free is not None
    held = free.exposure
    light = Light(utc=NOON, offset_ev=held.ev + off_ev - wanted_ev, variance=0.01, settled_utc=NOON - 600)
    found = towards(plan, in_force(exposure=held, light=light))
    assert found is not None
    assert found.exposure.ev - held.ev == pytest.approx(0.0 if stays else math.copysign(1 / 3, off_ev))


def test_dusk_comes_as_it_was_foretold() -> None:
    plan = example("quay_at_dusk")
    window = next(windows(plan, NOON))
    slots, progresses = [], [begin(plan, window, Moment(NOON, 0.0), earliest_mono=0.0)]
    while isinstance(slot := next_slot(plan, Adjust(), progresses[-1], None, moment(progresses[-1])), Slot):
        slots.append(slot)
        progresses.append(used(progresses[-1], slot, True))
    assert window.stop_utc is not None
    late = [n for n, slot in enumerate(slots) if slot.due_utc + AHEAD_S < window.stop_utc]
    asked = late[5 :: len(late) // 12]
    moved = 0
    for n in asked:
        found = towards(plan, progresses[n], end_utc=window.stop_utc)
        assert found is not None
        utc = found.utc
        came = min(slots, key=lambda slot: abs(slot.due_utc - utc))
        assert found.interval_s == pytest.approx(came.interval_s, rel=0.01)
        assert abs(found.exposure.ev - came.exposure.ev) < 0.34
        moved += abs(came.exposure.ev - slots[n].exposure.ev) > 2
    assert moved > len(asked) / 2  # so what is ahead was told, not what is
