"""As much of a rig as copies and deletions need: a log on disk, files on disk, and real servers far away."""

from __future__ import annotations

import asyncio
import hashlib
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager
from pathlib import Path
from typing import Any

import pytest

from controller.engine import copying as module
from controller.engine.copying import Copying
from controller.engine.freeing import Freeing
from controller.engine.hub import Hub
from controller.store import Store
from controller.words.clock import VirtualClock
from controller.words.documents import Frame, FrameState, Shoot, ShootState
from tests.support.far_sides import Sftp, sftp_server

SHOOT = "2026-12-01-quay"
START, DAY_S = 1_796_140_800.0, 86_400.0


class Rig:
    """As much of one as copies and deletions need. Deletions and their proofs run on the virtual clock's days."""

    def __init__(self, directory: Path, store: Store, utc: float) -> None:
        self.directory, self.store, self.hub = directory, store, Hub("test")
        self.clock = VirtualClock(utc)
        self.copying = Copying(self)
        self.links: list[Any] = []
        self.clock_right = True
        self.freeing = Freeing(self, self.copying, self.links, lambda: self.clock_right)

    async def notes(self, kind: str) -> list[str]:
        return [note.text for note in await self.store.notes(kind=kind)]

    async def frame(self, seq: int) -> Frame:
        return (await self.store.frames(SHOOT, seq - 1, 1))[0]

    async def copied(self, *places: str, frames: int, seconds: float = 60.0) -> None:
        """Wait until so many frames are verified in each of these places."""
        async with asyncio.timeout(seconds):
            for place in places:
                while (await self.store.copies.counts(place)).copied < frames:
                    await asyncio.sleep(0.05)


@asynccontextmanager
async def rig_in(directory: Path, utc: float = START) -> AsyncIterator[Rig]:
    async with await Store.open(directory / "frames.sqlite3") as store:
        rig = Rig(directory, store, utc)
        await rig.copying.open()
        try:
            yield rig
        finally:
            await rig.copying.close()


def name_places(rig: Path, **places: dict[str, Any]) -> None:
    rig.mkdir(parents=True, exist_ok=True)
    path = rig / "places.toml"
    path.touch(mode=0o600)
    tables = [
        f"[{name}]\n" + "\n".join(f"{key} = {json_like(value)}" for key, value in table.items())
        for name, table in places.items()
    ]
    path.write_text("\n".join(tables) + "\n")


def json_like(value: object) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value).lower()


async def shot(rig: Rig, count: int, *, pair: bool = False, first: int = 1, **files: str) -> None:
    """Frames that were fetched, with their files, and the shoot with its rules."""
    if first == 1:
        plan = {"name": "quay", "files": {"fetch": "all", **files}}
        await rig.store.add_shoot(
            Shoot(id=SHOOT, plan_name="quay", plan=plan, state=ShootState.SHOOTING, created_utc=START)
        )
    for seq in range(first, first + count):
        local = f"shoots/{SHOOT}/2026-12-01/{seq:06d}.jpg"
        contents = [f"frame {seq}".encode() * 1000, f"raw of {seq}".encode() * 3000][: 2 if pair else 1]
        for suffix, content in zip(("jpg", "dng"), contents, strict=False):
            path = (rig.directory / local).with_suffix(f".{suffix}")
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        frame = Frame(
            shoot=SHOOT,
            seq=seq,
            camera="camera-1",
            due_utc=START + seq,
            released_utc=START + seq,
            interval_s=1.0,
            camera_file=f"/store/DCIM/100DUSKH/DUSK{seq:04d}.JPG",
            companion_file=f"/store/DCIM/100DUSKH/DUSK{seq:04d}.dng" if pair else None,
        )
        await rig.store.intend(frame)
        await rig.store.change_frame(
            SHOOT,
            seq,
            "camera-1",
            state=FrameState.FETCHED,
            local_file=local,
            bytes=sum(map(len, contents)),
            sha256=hashlib.sha256(contents[0]).hexdigest(),
            companion_sha256=hashlib.sha256(contents[1]).hexdigest() if pair else None,
        )


def jpegs(directory: Path) -> list[str]:
    return sorted(path.name for path in directory.rglob("*.jpg"))


def hasten(monkeypatch: pytest.MonkeyPatch) -> None:
    """What takes minutes on a rig takes moments here."""
    monkeypatch.setattr(module, "LOOK_EVERY_S", 0.05)
    monkeypatch.setattr(module, "FIRST_AGAIN_S", 0.1)
    monkeypatch.setattr(module, "LONGEST_AGAIN_S", 0.2)


@asynccontextmanager
async def two_places(tmp_path: Path) -> AsyncIterator[tuple[Sftp, Sftp]]:
    async with sftp_server(tmp_path / "a") as a, sftp_server(tmp_path / "b") as b:
        name_places(tmp_path / "rig", a=a.settings(), b=b.settings())
        yield a, b


@contextmanager
def spoilt(path: Path) -> Iterator[None]:
    whole = path.read_bytes()
    path.write_bytes(b"!" + whole[1:])
    yield
    path.write_bytes(whole)


def files_in(directory: Path) -> list[Path]:
    """Frames' files; beside them the log keeps words of its own."""
    return [path for path in directory.rglob("*") if path.suffix in (".jpg", ".dng")]


async def until_noted(rig: Rig, kind: str, times: int = 1) -> None:
    async with asyncio.timeout(60):
        while len(await rig.notes(kind)) < times:
            await asyncio.sleep(0.02)
