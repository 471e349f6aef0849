"""What cameras share of a slot. The rule is our own: no source."""

from __future__ import annotations

from dataclasses import replace

import pytest

from controller.decide.beat import Beat, beat_of
from controller.decide.exposure import ANY_BODY, triple
from controller.decide.plan import plan_from
from controller.decide.schedule import Window
from controller.decide.step import Adjust, Moment, Progress, Slot, begin, next_slot, used
from tests.support.rigs import EVENING_UTC, plan

PACE = {"kind": "light", "points": [[0, 20.0], [14, 4.0]], "min_gap_s": 0.5}
FOLLOW = {"kind": "follow", "shutter_s": [0.001, 8], "aperture": 2.8, "iso": [100, 3200], "order": ["shutter", "iso"]}
NOW = Moment(EVENING_UTC, 100.0)


def begun(**tables: object) -> tuple[object, Progress]:
    made = plan_from(plan(**{"pace": PACE, "light": FOLLOW, **tables}))  # type: ignore[arg-type]
    return made, begin(made, Window(EVENING_UTC, EVENING_UTC + 3600), NOW, earliest_mono=101.0)


def next_of(made, progress, beat=None) -> Slot:
    slot = next_slot(made, Adjust(), progress, ANY_BODY, NOW, beat)
    assert isinstance(slot, Slot)
    return slot


def test_moment_and_interval_are_those_of_the_camera_that_went_ahead():
    made, progress = begun()
    alone = next_of(made, progress)
    beat = Beat(due_mono=103.25, cycle_s=alone.interval_s + 1.5, exposure=None)
    shared = next_of(made, progress, beat)
    assert (shared.due_mono, shared.interval_s) == (103.25, beat.cycle_s)
    assert shared.due_utc == pytest.approx(EVENING_UTC + 3.25, abs=1e-3)
    assert used(progress, shared, True).due_mono == pytest.approx(103.25 + beat.cycle_s)


def test_the_exposure_is_the_leading_camera_s_where_there_is_one():
    made, progress = begun()
    other = triple(1 / 32, 2.8, 400.0)
    slot = next_of(made, progress, Beat(101.0, 10.0, other))
    assert slot.exposure == other
    assert slot.gap_s == pytest.approx(10.0 - 1 / 32)
    assert next_of(made, progress, Beat(101.0, 10.0, None)).exposure == next_of(made, progress).exposure


def test_of_a_bracket_the_first_moment_and_the_whole_interval_are_shared():
    """The moments within follow each camera's own exposures."""
    made, progress = begun(light={**FOLLOW, "bracket_ev": [0, 2, -2]}, pace={**PACE, "points": [[0, 40.0], [14, 30.0]]})
    slot = next_of(made, progress)
    beat = beat_of(slot, leads=False)
    assert beat == Beat(slot.due_mono, slot.bracket.interval_s, None)
    later = replace(progress, due_mono=progress.due_mono + 0.4)
    second = used(later, next_of(made, later, beat), True)
    own = next_of(made, second, Beat(second.due_mono + 5, 99.0, None))
    assert own.due_mono == second.due_mono
    whole = [next_of(made, second)]
    whole.append(next_of(made, used(second, whole[0], True)))
    assert whole[-1].due_mono + whole[-1].interval_s == pytest.approx(slot.due_mono + slot.bracket.interval_s)
