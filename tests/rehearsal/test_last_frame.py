"""How windows end: the last frame is waited for, counted frames that cannot be had are not waited for without end."""

from __future__ import annotations

import pytest

from controller.decide.plan import Plan, plan_from
from controller.rehearsal import CameraModel, Spread, rehearse_now
from controller.words.documents import Frame, FrameState


@pytest.mark.parametrize("dark_frame", [False, True])
def test_a_last_exposure_longer_than_the_engine_s_patience(dark_frame: bool):
    """Bodies may take a dark frame as long as the exposure before they write: common practice, no source."""
    shutter_s = 60.0
    plan = plan_from(
        {
            "name": "long-stars",
            "site": {"latitude": 46.5, "longitude": 8.0},
            "when": {"start": "2026-12-10T22:00", "frames": 3},
            "pace": {"kind": "steady", "interval_s": 150.0},
            "light": {"kind": "fixed", "shutter_s": shutter_s, "aperture": 2.8, "iso": 800},
        }
    )
    rows: list[Frame] = []
    camera = CameraModel(readout_s=shutter_s * dark_frame, write_s=Spread(0.5))
    rehearse_now(plan, now_utc=1_796_932_800.0, settings=camera, on_frame=rows.append)
    assert [row.state for row in rows] == [FrameState.WRITTEN] * 3


def counted(frames: int, interval_s: float) -> Plan:
    return plan_from(
        {
            "name": "counted",
            "site": {"latitude": 46.5, "longitude": 8.0},
            "when": {"start": "2026-12-10T22:00", "frames": frames},
            "pace": {"kind": "steady", "interval_s": interval_s},
            "light": {"kind": "fixed", "shutter_s": 1.0, "aperture": 2.8, "iso": 800},
        }
    )


def test_counted_frames_that_the_card_has_no_room_for():
    came = rehearse_now(counted(40, 3600.0), now_utc=1_796_932_800.0, settings=CameraModel(card_bytes=300_000_000))
    assert came.summary.frames == 10
    assert 20 <= sum(came.summary.missed.values()) <= 48  # a day without a frame, or nearly two


def test_counted_frames_over_days():
    came = rehearse_now(counted(80, 3600.0), now_utc=1_796_932_800.0)
    assert (came.summary.frames, came.summary.missed) == (80, {})
