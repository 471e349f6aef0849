"""The engine itself under a wall clock that is put forward and back: no slot is late, no window lost or shot twice."""

from __future__ import annotations

from itertools import pairwise

import pytest

from controller.decide.plan import plan_from
from controller.rehearsal import CameraModel, clear
from controller.rehearsal.loop import VirtualLoop
from controller.rehearsal.rehearse import _Stage
from controller.rehearsal.sky import flat
from controller.words.documents import Frame, FrameState
from tests.decide import utc

NOON = utc("2026-11-25T12:00:00")
HOUR_S, DAY_S, YEARS_S = 3600.0, 86_400.0, 10 * 365.25 * 86_400.0
FRAMES = 180  # an hour at 20 s


def shoot(
    steps: list[tuple[float, float]], windows: int = 3, held: tuple[float, float] | None = None, **when: object
) -> tuple[list[Frame], list[str]]:
    """Rows and notes of a daily hour from 18:00; `steps` are hours after noon of the first day, and seconds; `held`
    is the same of a hold that ends by itself."""
    plan = plan_from(
        {
            "name": "daily",
            "site": {"latitude": 46.5, "longitude": 8.0},
            "when": {"every": "day", "start": "18:00", "stop": "19:00", **when},
            "pace": {"kind": "steady", "interval_s": 20.0},
            "light": {"kind": "fixed", "shutter_s": 1.0, "aperture": 2.8, "iso": 800},
        }
    )
    rows: list[Frame] = []
    stage = _Stage(plan, NOON, clear(), CameraModel(), 0, None, windows, flat(0.0), rows.append)
    clock, begun = stage.clock, stage.clock.utc()

    def step(seconds: float) -> None:
        clock.epoch_utc += seconds

    for hours, seconds in steps:
        clock.call_at(NOON + hours * HOUR_S - begun, lambda seconds=seconds: step(seconds))
    loop = VirtualLoop(clock)  # type: ignore[abstract]
    if held is not None:
        hours, for_s = held
        clock.call_at(NOON + hours * HOUR_S - begun, lambda: loop.create_task(stage._run.hold(for_s)))  # type: ignore[union-attr]
    came = loop.run_until_complete(stage.play())
    return rows, [note.text for note in came.notes if note.kind in ("clock-step", "windows-passed")]


def jumps(rows: list[Frame]) -> list[float]:
    """By how much due times are off the cadence, where they are, windows apart left out."""
    off = [b.due_utc - a.due_utc - a.interval_s for a, b in pairwise(rows)]
    return [round(seconds, 3) for seconds in off if abs(seconds) > 1e-3]


@pytest.mark.parametrize("seconds", [-1.0, 1.0, -HOUR_S, HOUR_S, -YEARS_S, YEARS_S])
def test_a_step_in_mid_window_leaves_the_cadence_as_it_is(seconds: float):
    rows, notes = shoot([(6.5, seconds)], windows=1)
    assert len(rows) == FRAMES
    assert {row.state for row in rows} == {FrameState.WRITTEN}
    assert {row.interval_s for row in rows} == {20.0}
    assert max(row.late_ms or 0.0 for row in rows) == 0.0
    assert jumps(rows) == [pytest.approx(seconds, abs=2e-3)]
    assert len(notes) == 1
    assert ("forward" if seconds > 0 else "back") in notes[0]


@pytest.mark.parametrize("seconds", [-HOUR_S, HOUR_S, YEARS_S])
@pytest.mark.parametrize("held_at", [6.4, 5.98])
def test_a_step_while_it_is_held_neither_ends_the_window_nor_the_hold(held_at: float, seconds: float):
    """Half an hour is held, all of it in the window or 72 s of it before: of 180 slots 90 are left, or 94."""
    rows, _ = shoot([(6.5, seconds)], windows=1, held=(held_at, 1800.0))
    assert len(rows) == pytest.approx(90 if held_at > 6 else 94, abs=1)
    assert {row.state for row in rows} == {FrameState.WRITTEN}


@pytest.mark.parametrize("seconds", [-1.0, 1.0, -HOUR_S, HOUR_S])
@pytest.mark.parametrize("hours", [5.9, 6.1, 6.9, 7.5, 20.0, 29.9])
def test_every_day_has_its_window_once_whenever_the_clock_steps(hours: float, seconds: float):
    rows, _ = shoot([(hours, seconds)])
    assert {row.state for row in rows} == {FrameState.WRITTEN}
    breaks = [off for off in jumps(rows) if abs(off) > 2 * HOUR_S]
    assert len(breaks) == 2  # three windows
    assert FRAMES * 3 - FRAMES / 60 * 60 <= len(rows) <= FRAMES * 3 + 1


@pytest.mark.parametrize("seconds", [-YEARS_S, YEARS_S])
def test_a_clock_that_is_in_another_decade_for_a_day(seconds: float):
    """Wrong from noon of the second day to noon of the third; then every evening is shot again."""
    rows, notes = shoot([(24.0, seconds), (48.0, -seconds)], windows=9)
    right = [row.due_utc for row in rows if NOON <= row.due_utc < NOON + 9 * DAY_S]
    evenings = sorted({int((due - NOON) // DAY_S) for due in right})
    assert evenings[:4] == [0, 2, 3, 4]
    assert {row.state for row in rows} == {FrameState.WRITTEN}
    assert sum("clock was put" in note for note in notes) == 2


def test_a_plan_is_not_over_by_a_wrong_clock():
    rows, notes = shoot([(24.0, YEARS_S), (48.0, -YEARS_S)], windows=9, until="2026-11-29")
    evenings = sorted({int((row.due_utc - NOON) // DAY_S) for row in rows})
    assert evenings == [0, 2, 3, 4]
    assert any("passed unshot" in note for note in notes)


def test_hours_that_are_counted_from_now_are_not_cut_short():
    rows, _ = shoot([(1.0, HOUR_S)], windows=1, every=None, start="now", stop=None, duration="2h")
    assert len(rows) == 360
