"""Test frames before windows, by the engine in a rehearsal: when they are taken, and that no slot is lost by them."""

from __future__ import annotations

from typing import Any

import pytest

from controller.decide.follow import target_ev
from controller.decide.plan import FollowLight, plan_from
from controller.rehearsal import CameraModel, rehearse_now
from controller.rehearsal.sky import flat
from controller.words.documents import Frame, FrameState, Note
from tests.decide import utc
from tests.support.rigs import plan

NOON = utc("2026-11-25T12:00:00")
LIGHT = {"kind": "follow", "shutter_s": [0.0001, 4], "aperture": 2.8, "iso": [100, 3200]}
OFF_EV = 6.0


def rehearsed(
    when: dict[str, Any],
    settings: CameraModel | None = None,
    now_utc: float = NOON,
    interval_s: float = 10.0,
    windows: int = 1,
    **more: Any,
) -> tuple[list[Frame], list[Note]]:
    """Rows, and notes of test frames, of a plan before a view that is OFF_EV brighter than the sky model."""
    tables = {"light": LIGHT, "when": when, **more}
    rows: list[Frame] = []
    came = rehearse_now(
        plan_from(plan(interval_s, **tables)),
        now_utc=now_utc,
        settings=settings,
        windows=windows,
        view=flat(OFF_EV),
        on_frame=rows.append,
    )
    return rows, [note for note in came.notes if note.kind == "test-frame"]


def off_target_ev(frame: Frame) -> float:
    rule = plan_from(plan(light=LIGHT)).light
    assert isinstance(rule, FollowLight)
    assert frame.scene_ev is not None
    assert frame.exposure_ev is not None
    return target_ev(rule, frame.scene_ev, frame.sun_altitude_deg or 0.0) - frame.exposure_ev


def begins(rows: list[Frame]) -> list[Frame]:
    """The first frame of each window."""
    return [b for a, b in zip([None, *rows], rows, strict=False) if a is None or b.due_utc - a.due_utc > 60]


def test_each_day_s_window_is_tested_anew():
    rows, notes = rehearsed({"every": "day", "start": "15:00", "stop": "15:30"}, windows=3)
    first = begins(rows)
    assert len(first) == 3
    assert len(notes) == 3
    assert all(frame.state is FrameState.WRITTEN for frame in rows)
    assert len(rows) == 3 * 180
    for frame, note in zip(first, notes, strict=True):
        assert abs(off_target_ev(frame)) <= 0.3
        assert note.facts["offset_ev"] == pytest.approx(OFF_EV, abs=0.3)
        assert 10 < frame.due_utc - note.utc < 60


def test_a_window_within_half_an_hour_of_the_last_frame_goes_on_with_its_light():
    spans = [{"start": "15:00", "duration": "10min"}, {"start": "15:30", "duration": "10min"}]
    rows, notes = rehearsed({"windows": [*spans, {"start": "16:20", "duration": "10min"}]}, windows=3)
    assert len(begins(rows)) == 3
    assert len(notes) == 2
    assert all(abs(off_target_ev(frame)) <= 0.3 for frame in begins(rows))


def test_a_start_by_hand_is_delayed_by_seconds_and_loses_no_frame_of_its_length():
    dusk = utc("2026-11-25T15:00:00")
    rows, notes = rehearsed({"start": "now", "duration": "20s"}, now_utc=dusk, interval_s=2.0)
    assert len(rows) == 10
    assert 0 < rows[0].due_utc - dusk < 10
    assert abs(off_target_ev(rows[0])) <= 0.3
    assert len(notes) == 1


@pytest.mark.parametrize(
    ("light", "files"),
    [({"test_frame": False}, "preview"), ({}, "none"), ({"kind": "fixed", "shutter_s": 1, "iso": 100}, "preview")],
)
def test_who_does_not_want_them_gets_none(light: dict[str, Any], files: str):
    kept = LIGHT if light.get("kind") != "fixed" else {"aperture": 2.8}
    rows, notes = rehearsed({"start": "15:00", "frames": 5}, light={**kept, **light}, files={"fetch": files})
    assert (len(rows), notes) == (5, [])


def test_a_camera_that_has_to_be_woken_is_awake_by_the_first_slot():
    settings = CameraModel(sleeps_after_s=60.0, wakes_in_s=8.0)
    rows, _ = rehearsed({"start": "15:00", "frames": 5}, settings)
    assert [frame.state for frame in rows] == [FrameState.WRITTEN] * 5
    assert rows[0].late_ms == 0
