"""The short form of `python -m tests.soak`: two evenings and the night between."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

import pytest

from controller.words.clock import ScaledClock
from controller.words.documents import Frame, FrameState, Note
from tests.soak.base_time import BaseTime
from tests.soak.days import KINDS, Day, Event, draw
from tests.soak.fortnight import Fortnight


def test_two_evenings_and_what_befalls_them(tmp_path: Path):
    events = (
        (Event(0.15, "clock put", step_s=-90), Event(0.5, "rig killed", lasts_s=1.5)),
        (Event(0.15, "drop", "drop+noevent"), Event(0.5, "clock put", step_s=120)),
    )
    nights = ("killed", "stopped")
    days = [Day(each, night) for each, night in zip(events, nights, strict=True)]
    soak = Fortnight(1, days, 7.0, tmp_path, tmp_path / "rig").run()
    assert soak.well, json.dumps(asdict(soak), indent=1)
    assert soak.kinds == {"clock put": 2, "rig killed": 1, "drop": 1}
    assert soak.outcome.done > 10


def test_every_kind_comes_before_any_comes_again():
    days = draw(7, 14)
    kinds = [event.kind for day in days for event in day.events]
    assert len(kinds) == 42
    for begin in range(0, len(kinds) - len(KINDS) + 1, len(KINDS)):
        assert set(kinds[begin : begin + len(KINDS)]) == set(KINDS)
    assert days == draw(7, 14)
    assert days != draw(8, 14)
    assert all(0 < event.share < 0.95 for day in days for event in day.events)


def test_rows_of_a_clock_that_was_put_come_back_to_one_that_never_steps():
    """Put twice while the rig ran, and once while it was off."""
    offs = (0.0, -90.0, 150.0, 86_400.0)
    base = BaseTime(ScaledClock(1000.0, 0.0, 1.0), list(zip((1000.0, 1100.0, 1300.0, 4000.0), offs, strict=True)))
    truth = [*(1000.0 + 30 * i for i in range(20)), *(4000.0 + 30 * i for i in range(10))]
    until = (1110.0, 1330.0, 3000.0)  # the first row after each goes by the clock before
    put = [offs[sum(at >= end for end in until)] for at in truth]
    one = Frame(shoot="s", seq=1, camera="c", due_utc=0.0, interval_s=30.0, state=FrameState.WRITTEN)
    log = [
        one.model_copy(update={"seq": i + 1, "due_utc": at + off})
        for i, (at, off) in enumerate(zip(truth, put, strict=True))
    ]
    notes = [
        Note(shoot="s", utc=0.0, kind="clock-step", text="", facts={"step_s": step_s, "last_seq": last})
        for step_s, last in ((-90.0, 4), (240.0, 11))
    ]
    assert [frame.due_utc for frame in base.frames(log, notes)] == truth
    assert [frame.due_utc for frame in base.frames(log, notes[:1])] != truth
    with pytest.raises(ValueError, match="slot 30"):
        base.frames([*log[:29], log[29].model_copy(update={"due_utc": 0.0})], notes)
