"""Shoots and frames as a rig would log them."""

from __future__ import annotations

from typing import Any

from controller.words.documents import Frame, FrameState, Shoot, ShootState

SHOOT = "2026-12-01-quay-at-dusk"
CAMERA = "sim-00000001"
START = 1_796_140_800.0  # 2026-12-01T16:00:00Z


def shoot(name: str = SHOOT, **fields: Any) -> Shoot:
    given = {"plan_name": "quay-at-dusk", "plan": {"name": "quay-at-dusk"}, "state": ShootState.SHOOTING}
    return Shoot.model_validate({"id": name, "created_utc": START, **given, **fields})


def due(seq: int, **fields: Any) -> Frame:
    """The intent for a slot, filled as the engine fills it."""
    given = {
        "shoot": SHOOT,
        "camera": CAMERA,
        "due_utc": START + 5.1 * seq,
        "interval_s": 5.1,
        "shutter_s": 2 ** (-seq % 7 / 3),
        "aperture": 2.8284,
        "iso": 100.0 * 2 ** (seq % 5 / 3),
        "exposure_ev": 8.1 - seq / 900,
        "target_ev": 8.0 - seq / 900,
        "sun_altitude_deg": 3.1 - seq / 300,
        "sun_azimuth_deg": 221.3 + seq / 300,
        "moon_altitude_deg": -11.7 + seq / 500,
        "gap_s": 3.3,
    }
    return Frame.model_validate({"seq": seq, **given, **fields})


def outcome(seq: int) -> dict[str, Any]:
    """What is known of a frame once a verified copy is on the rig."""
    return {
        "state": FrameState.FETCHED,
        "released_utc": START + 5.1 * seq + 0.0007,
        "late_ms": 0.7,
        "scene_ev": 8.05 - seq / 900,
        "clipped": 0.0012,
        "black": 0.0034,
        "camera_file": f"/store_00010001/DCIM/100DUSKH/DSC_{seq:04d}.JPG",
        "companion_file": f"/store_00010001/DCIM/100DUSKH/DSC_{seq:04d}.NEF",
        "local_file": f"shoots/{SHOOT}/2026-12-01/{seq:06d}.jpg",
        "bytes": 8_123_456 + seq,
        "sha256": f"{seq:064x}",
        "companion_sha256": f"{seq + 1:064x}",
        "preview": True,
    }
