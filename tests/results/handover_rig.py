"""A rig's directory with a short shoot: pictures, pairs, and everything that may be wrong with them. Invented."""

from __future__ import annotations

import asyncio
import hashlib
import random
from pathlib import Path
from typing import Any

from controller.store import Store
from controller.store.files import database_path
from controller.words.documents import Frame, FrameState
from controller.words.layout import frame_directory, frame_stem
from tests.results.dusk import CAMERA, PLAN, SHOOT, START, shoot

SIZE = 20_000


def content(seq: int, suffix: str) -> bytes:
    return random.Random(f"{seq}{suffix}").randbytes(SIZE)


def frame(seq: int, camera: str = CAMERA, **fields: Any) -> Frame:
    """One that the camera has."""
    due_utc = START + 6.0 * seq
    given = {
        "due_utc": due_utc,
        "released_utc": due_utc + 0.0012,
        "late_ms": 1.2,
        "interval_s": 6.0,
        "shutter_s": 1 / 64,
        "aperture": 2.8284271247461903,
        "iso": 100.0,
        "state": FrameState.WRITTEN,
        "camera_file": f"/store_00010001/DCIM/100QUAY/DSC_{seq:04d}.JPG",
    }
    return Frame.model_validate({"shoot": SHOOT, "seq": seq, "camera": camera, **given, **fields})


def fetched(rig: Path, seq: int, *suffixes: str, camera: str = CAMERA, **fields: Any) -> Frame:
    """One whose files, of these endings, are on the rig."""
    local = frame_directory(SHOOT, START + 6.0 * seq, camera) / frame_stem(seq)
    contents = {suffix: content(seq, suffix + camera) for suffix in suffixes or (".JPG",)}
    for suffix, data in contents.items():
        path = (rig / local).with_suffix(suffix)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    sums = [hashlib.sha256(data).hexdigest() for data in contents.values()]
    first, *second = contents
    known: dict[str, Any] = {
        "state": FrameState.FETCHED,
        "local_file": str(local.with_suffix(first)),
        "bytes": SIZE * len(contents),
        "sha256": sums[0],
    }
    if second:
        known |= {
            "companion_file": f"/store_00010001/DCIM/100QUAY/DSC_{seq:04d}{second[0]}",
            "companion_sha256": sums[1],
        }
    return frame(seq, camera, **{**known, **fields})


def fill(rig: Path, frames: list[Frame], **fields: Any) -> None:
    async def log() -> None:
        async with await Store.open(database_path(rig)) as store:
            await store.add_shoot(shoot(frames, plan=PLAN, **fields))
            await store.add_missed(frames)

    rig.mkdir(exist_ok=True)
    asyncio.run(log())


def originals(rig: Path) -> dict[str, tuple[bytes, int, int]]:
    """Every file of the rig that is no part of its log: bytes, time of change, links."""
    return {
        str(path.relative_to(rig)): (path.read_bytes(), path.stat().st_mtime_ns, path.stat().st_nlink)
        for path in sorted((rig / "shoots").rglob("*"))
        if path.is_file()
    }
