"""What may be deleted is looked for in the log of a season, each minute, beside a shoot."""

from __future__ import annotations

import math
from collections import Counter
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from controller.engine import freeing as freeing_module
from controller.engine.freeing import MOST_LOOKED
from controller.store.copies import mark_freed
from controller.words.documents import Frame, FrameState, Shoot, ShootState
from controller.words.errors import CopyError
from tests.support.copy_rig import DAY_S, SHOOT, START, Rig, name_places, rig_in

CAMERAS = ("camera-1", "camera-2", "camera-3")
SLOTS = 400


def fetched(seq: int, camera: str) -> Frame:
    at: dict[str, Any] = {"due_utc": START + seq, "released_utc": START + seq, "interval_s": 1.0}
    at |= {"state": FrameState.FETCHED, "local_file": f"{camera}/{seq}.jpg", "sha256": "ab" * 32, "bytes": 1}
    return Frame(shoot=SHOOT, seq=seq, camera=camera, camera_file=f"/DCIM/DUSK{seq:04d}.JPG", **at)


async def season(rig: Rig) -> Counter[tuple[int, str]]:
    """Every frame has a copy in one place, and the plan wants two; what is looked at from now on."""
    plan = {"name": "quay", "files": {"fetch": "all", "keep": "30 days", "free_card": "after two copies"}}
    await rig.store.add_shoot(
        Shoot(id=SHOOT, plan_name="quay", plan=plan, state=ShootState.SHOOTING, created_utc=START)
    )
    await rig.store.add_missed([fetched(seq, camera) for seq in range(1, SLOTS + 1) for camera in CAMERAS])
    await rig.store._database.write(lambda c: c.execute("UPDATE copies SET verified_utc = 1.0").rowcount)
    seen: Counter[tuple[int, str]] = Counter()
    real = rig.freeing._held

    async def held(frame: Frame) -> Any:
        seen[frame.seq, frame.camera] += 1
        return await real(frame)

    rig.freeing._held = held  # type: ignore[method-assign]
    return seen


def rigs(tmp_path: Path) -> Any:
    (tmp_path / "a").mkdir()
    name_places(tmp_path / "rig", a={"kind": "directory", "path": str(tmp_path / "a"), "own_disk": True})
    return rig_in(tmp_path / "rig", START + 31 * DAY_S)


@pytest.fixture(autouse=True)
def never_long(monkeypatch: pytest.MonkeyPatch) -> None:
    """However slow the machine is that runs these tests."""
    monkeypatch.setattr(freeing_module, "LONG_S", math.inf)


async def test_one_look_goes_through_so_many_and_the_next_goes_on_from_there(tmp_path: Path) -> None:
    async with rigs(tmp_path) as rig:
        seen = await season(rig)
        await rig.freeing.look()
        assert MOST_LOOKED <= seen.total() <= MOST_LOOKED + 20
        for _ in range(2):
            await rig.freeing.look()
        assert len(seen) == SLOTS * len(CAMERAS)  # each of them, of every camera
        await rig.freeing.look()
        assert set(seen.values()) == {1, 2}  # once through, and again


async def test_a_long_way_is_followed_by_a_rest(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Though all was deleted long ago: to see that takes a look at each row."""
    monkeypatch.setattr(freeing_module, "LONG_S", 0.0)
    monkeypatch.setattr(freeing_module, "SHARE", 1e-9)
    async with rigs(tmp_path) as rig:
        await season(rig)
        ids = [frame.id for frame in await rig.store.frames(SHOOT, 0, 10_000)]
        await rig.store._database.write(lambda c: mark_freed(c, ids, "rig", 1.0))
        asked = Counter[str]()
        real = rig.store.copies.fetched_frames

        async def fetched_frames(shoot: str, where: Any, **more: Any) -> list[Frame]:
            asked[where] += 1
            return await real(shoot, where, **more)

        rig.store.copies.fetched_frames = fetched_frames  # type: ignore[method-assign]
        for _ in range(5):
            await rig.freeing.look()
        assert asked["rig"] == 1


async def test_a_slow_place_is_no_reason_to_rest(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A way with a hundred hours of reading back was followed by a year without another, and the card filled up."""
    now = SimpleNamespace(mono=0.0)
    monkeypatch.setattr(freeing_module, "LONG_S", 1.0)
    monkeypatch.setattr(freeing_module, "time", SimpleNamespace(monotonic=lambda: now.mono))
    async with rigs(tmp_path) as rig:
        await season(rig)
        asked = Counter[tuple[int, str]]()

        async def slow(frame: Frame, needed: int) -> Any:
            asked[frame.seq, frame.camera] += 1
            now.mono += 300.0
            return []

        rig.freeing._read_back = slow  # type: ignore[method-assign]
        for _ in range(6):
            await rig.freeing.look()
    assert set(asked.values()) == {2}
    assert len(asked) == SLOTS * len(CAMERAS)


async def test_a_place_that_is_away_is_asked_for_the_same_frame_again(tmp_path: Path) -> None:
    async with rigs(tmp_path) as rig:
        await season(rig)
        asked = []

        async def away(frame: Frame, needed: int) -> Any:
            if (frame.seq, frame.camera) < (3, "camera-3"):
                return []
            asked.append((frame.seq, frame.camera))
            raise CopyError("place-away", "nobody answers")

        rig.freeing._read_back = away  # type: ignore[method-assign]
        for _ in range(3):
            await rig.freeing.look()
        assert asked == [(3, "camera-3")] * 3
