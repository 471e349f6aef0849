"""Slots that passed: after an outage the rig shoots again at once, however long it was."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.decide.exposure import ASSUMED
from controller.decide.step import Slot
from controller.engine.passed import MOST, NOT_RUNNING, why_passed
from controller.words.documents import FrameState
from tests.support.endless import BEGUN_UTC, Endless

YEARS_S, NIGHT_S = 2 * 365 * 86_400.0, 8 * 3600.0


class Outage(Endless):
    """The rig stands still for so many seconds after 50 frames, and after 50 more, as a machine that is asleep."""

    def __init__(self, directory: Path, *outages_s: float) -> None:
        super().__init__(directory, 50 + 50 * len(outages_s))
        self._outages_s = iter(outages_s)
        self.every(self._sleep, first=50, then=50)

    def _sleep(self, _: int) -> None:
        if (seconds := next(self._outages_s, None)) is not None:
            self.clock.call_at(self.clock.mono() + seconds, lambda: None)
            self.clock._now += seconds


def test_a_night_has_its_rows(tmp_path: Path):
    rig = Outage(tmp_path, NIGHT_S)
    rig.shoot()
    rows = [row for start in range(0, 20_000, 500) for row in rig.page(start)]
    missed = [row for row in rows if row.state is FrameState.MISSED]
    assert NIGHT_S / 25 < len(missed) < NIGHT_S / 5
    assert [row.seq for row in rows] == list(range(1, len(rows) + 1))
    assert not [note for note in rig.notes() if note.kind == "slots-passed"]


def test_years_are_told_by_a_note_and_the_next_frame_is_at_once(tmp_path: Path):
    """A clock that came back two years ahead, or a rig that was in a cupboard for so long."""
    rig = Outage(tmp_path, YEARS_S)
    rig.shoot()
    rows = rig.page(0)
    (told,) = [note for note in rig.notes() if note.kind == "slots-passed"]
    assert told.facts["slots"] > MOST
    assert len(rows) <= 110
    assert [row.seq for row in rows] == list(range(1, len(rows) + 1))
    later = [row for row in rows if row.due_utc > told.utc - 60.0 and row.state is not FrameState.MISSED]
    assert later[0].due_utc - told.utc < 10.0
    assert len(later) >= 48


def test_of_each_outage_its_own_length_is_told(tmp_path: Path):
    rig = Outage(tmp_path, YEARS_S, YEARS_S)
    rig.shoot()
    first, second = [note for note in rig.notes() if note.kind == "slots-passed"]
    assert first.text.partition(" passed in ")[2] == second.text.partition(" passed in ")[2]
    for note in (first, second):
        assert note.utc - note.facts["from_utc"] == pytest.approx(YEARS_S, abs=60.0)
        assert YEARS_S / 25 < note.facts["slots"] < YEARS_S / 5


def test_a_night_has_its_rows_on_a_machine_that_has_been_up_for_years(tmp_path: Path):
    rig = Outage(tmp_path, YEARS_S, NIGHT_S)
    rig.shoot()
    assert len([note for note in rig.notes() if note.kind == "slots-passed"]) == 1
    rows = [row for start in range(0, 20_000, 500) for row in rig.page(start)]
    assert NIGHT_S / 25 < len([row for row in rows if row.state is FrameState.MISSED]) < NIGHT_S / 5


def test_the_cause_is_what_was_in_the_way_when_the_slot_was_due(tmp_path: Path):
    """Of several the first in time: a rig that was not running had no clock and no camera either."""
    rig = Endless(tmp_path, 3)
    rig.shoot()
    run = rig.run
    run.up_mono, run.clock_set_mono, run.reports.opened_mono = 100.0, 200.0, 300.0

    def cause(due_mono: float) -> str:
        slot = Slot(9, due_mono, BEGUN_UTC, 5.0, ASSUMED, 8.0, 8.0, 8.0, 20.0, 220.0, -10.0)
        return why_passed(run, slot)

    assert [cause(due) for due in (99.0, 100.0, 199.0)] == [NOT_RUNNING, *["the rig's clock was not set"] * 2]
    assert cause(299.0) == "the camera was not there"
    run.reports.gone_cause = "USB was unplugged"
    assert cause(299.0) == "USB was unplugged"
    assert cause(300.0) == "the camera was still busy with the frame before"
