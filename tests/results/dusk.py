"""A dusk as the log would hold it: 240 slots, a camera that fell silent twice, one lost frame."""

from __future__ import annotations

import math
from typing import Any

from controller.words.documents import Frame, FrameCounts, FrameState, Note, Shoot, ShootState

SHOOT = "2026-12-01-quay-at-dusk"
CAMERA = "camera-1"
START = 1_796_137_200.0  # 2026-12-01T15:00:00Z
SLOTS = 240
SILENT = dict.fromkeys((61, 62, 64, 150), "the camera did not answer")
LOST = 200

PLAN: dict[str, Any] = {
    "name": "quay-at-dusk",
    "site": {"latitude": 57.7, "longitude": 11.95, "timezone": "Europe/Stockholm"},
    "when": {"start": "sunset-45min", "stop": "nautical_dusk+30min"},
    "files": {"fetch": "all"},
    "clip": {"fps": 25.0},
}


def slots() -> list[Frame]:
    frames = []
    due_utc = START
    for seq in range(1, SLOTS + 1):
        interval_s = 5.0 + seq / 60
        altitude = 3.0 - 15.0 * seq / SLOTS
        thirds = seq // 6  # a third of a stop darker every six frames
        shutter_s = min(2.0 ** (thirds / 3 - 7), 2.0)
        iso = 100 * 2.0 ** max(0, (thirds - 24) / 3)
        exposure_ev = math.log2(2.0**3 / shutter_s) - math.log2(iso / 100)
        frame = Frame(
            shoot=SHOOT,
            seq=seq,
            camera=CAMERA,
            due_utc=due_utc,
            interval_s=interval_s,
            shutter_s=shutter_s,
            aperture=2.0**1.5,
            iso=iso,
            exposure_ev=exposure_ev,
            scene_ev=10.0 - seq / 18,
            sun_altitude_deg=altitude,
            sun_azimuth_deg=220 + seq / 20,
            state=FrameState.MISSED if seq in SILENT else FrameState.LOST if seq == LOST else FrameState.WRITTEN,
            cause=SILENT.get(seq) or ("the card has no such file" if seq == LOST else None),
        )
        if seq not in SILENT:
            late_ms = 0.4 + (37 * seq % 101) / 100 + (7.5 if seq == 99 else 0)
            frame = frame.model_copy(update={"released_utc": due_utc + late_ms / 1000, "late_ms": late_ms})
        frames.append(frame)
        due_utc += interval_s
    return frames


def shoot(frames: list[Frame], **fields: Any) -> Shoot:
    states = [frame.state.value for frame in frames]
    counts = {name: states.count(name) for name in FrameCounts.model_fields}
    return Shoot.model_validate(
        {
            "id": SHOOT,
            "plan_name": "quay-at-dusk",
            "plan": PLAN,
            "state": ShootState.DONE,
            "cause": "the plan's stop was reached",
            "created_utc": START - 60,
            "started_utc": START,
            "ended_utc": frames[-1].due_utc if frames else None,
            "counts": counts,
            **fields,
        }
    )


NOTES = [
    Note(utc=START + 369, shoot=SHOOT, kind="camera-lost", text="sim-00000001: the camera did not answer within 15 s"),
    Note(utc=START + 374, shoot=SHOOT, kind="camera-back", text="sim-00000001: connected again"),
]
