"""A shoot of an evening before, told into a rig's log without shooting it: missed slots, lost and doubtful frames where
a test wants them. Invented throughout."""

from __future__ import annotations

import asyncio
import math
from collections.abc import Collection
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from PIL import Image

from controller.store import Store
from controller.words.documents import Frame, FrameState, Shoot, ShootState
from controller.words.layout import FIRST_CAMERA, preview_path

INTERVAL_S = 20.0


@dataclass(frozen=True)
class ToldShoot:
    """`slots` of them; each seq in `missed` or `lost` has no frame, each in `doubted` a cause, `blind` no picture."""

    id: str
    start_utc: float
    slots: int
    missed: Collection[int] = ()
    lost: Collection[int] = ()
    doubted: Collection[int] = ()
    blind: Collection[int] = ()
    cameras: Collection[str] = (FIRST_CAMERA,)
    plan: dict[str, Any] = field(default_factory=dict)

    def frame(self, seq: int, camera: str) -> Frame:
        due = self.start_utc + (seq - 1) * INTERVAL_S
        gone = seq / self.slots
        common: dict[str, Any] = {
            "shoot": self.id, "seq": seq, "camera": camera, "due_utc": due, "interval_s": INTERVAL_S,
            "sun_altitude_deg": 2 - 14 * gone, "sun_azimuth_deg": 240 + 20 * gone, "moon_altitude_deg": 12.0,
        }  # fmt: skip
        if seq in self.missed:
            return Frame(**common, state=FrameState.MISSED, cause="the camera did not answer")
        shutter = 2.0 ** round(-7 + 9 * gone)
        ev = math.log2(2.8**2 / shutter)
        common |= {
            "released_utc": due, "late_ms": 3.0, "shutter_s": shutter, "aperture": 2.8, "iso": 100.0, "exposure_ev": ev,
            "scene_ev": ev + 0.2, "target_ev": ev + 0.1, "gap_s": INTERVAL_S - shutter,
            "camera_file": f"/DCIM/{seq:04}.JPG",
        }  # fmt: skip
        if seq in self.lost:
            return Frame(**common, state=FrameState.LOST, cause="the card was full")
        cause = "found on the card after its release was taken for failed" if seq in self.doubted else None
        return Frame(**common, state=FrameState.WRITTEN, cause=cause, preview=seq not in self.blind, clipped=0.01)

    def tell(self, directory: Path) -> None:
        """Write it into the log of the rig at `directory`, with small pictures that grow darker."""
        directory.mkdir(parents=True, exist_ok=True)
        frames = [self.frame(seq, camera) for seq in range(1, self.slots + 1) for camera in self.cameras]
        asyncio.run(self._log(directory / "frames.sqlite3", frames))
        for frame in frames:
            if frame.preview:
                path = directory / preview_path(self.id, frame.seq, frame.camera)
                path.parent.mkdir(parents=True, exist_ok=True)
                level = round(200 - 190 * frame.seq / self.slots)
                Image.new("RGB", (96, 64), (level, level // 2, 40)).save(path)

    async def _log(self, path: Path, frames: list[Frame]) -> None:
        async with await Store.open(path) as store:
            await store.add_shoot(
                Shoot(
                    id=self.id,
                    plan_name=self.id,
                    plan={"name": self.id, "clip": {"fps": 25}} | self.plan,
                    state=ShootState.DONE,
                    created_utc=self.start_utc,
                    started_utc=self.start_utc,
                    ended_utc=self.start_utc + self.slots * INTERVAL_S,
                )
            )
            await store.add_missed(frames)
