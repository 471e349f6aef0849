"""Films that the rig makes by itself, before a camera that shoots: they take no frame, and outlast kills."""

from __future__ import annotations

import asyncio
import os
import signal
from pathlib import Path
from typing import Any

import av
import pytest

from controller.daemon import Rig
from controller.decide import clips as rules
from controller.words.clips import Clip, ClipKind, ClipState
from controller.words.documents import Frame, FrameState, Shoot
from controller.words.layout import clips_directory
from tests.support.rigs import Evening, camera_there, ended, plan, rows, until
from tests.whole.truth import compare


@pytest.fixture(autouse=True)
def _at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """As on a rig with long intervals, without the hours."""
    quick = {"SHORT_S": 0.1, "NEW_FRAMES": 4, "NEW_SHARE": 0.0, "LEAST_REST_S": 0.0, "REST": 0.0, "AGAIN_S": 0.2}
    for name, value in quick.items():
        monkeypatch.setattr(rules, name, value)


async def clip_of(rig: Rig, shoot: Shoot, kind: ClipKind) -> Clip | None:
    return next((clip for clip in await rig.clips.all(shoot.id) if clip.kind is kind), None)


async def seen(rig: Rig, shoot: Shoot, kind: ClipKind, what: Any, seconds: float = 300.0) -> Clip:
    """The film once `what` holds of it."""
    async with asyncio.timeout(seconds):
        while (clip := await clip_of(rig, shoot, kind)) is None or not what(clip):
            await asyncio.sleep(0.05)
    return clip


def making(rig: Rig) -> Any:
    """The process that makes a film now."""
    return rig.clips._maker._process  # type: ignore[attr-defined]


def shown(rig: Rig, clip: Clip) -> int:
    """Frames that the file holds, counted by decoding it."""
    with av.open(str(rig.directory / clips_directory(clip.shoot) / clip.name)) as film:
        return sum(1 for _ in film.decode(video=0))


def files(rig: Rig, shoot: Shoot) -> list[Path]:
    return list((rig.directory / clips_directory(shoot.id)).iterdir())


def pictured(log: list[Frame]) -> int:
    return sum(frame.preview for frame in log)


async def test_a_small_film_grows_and_a_whole_one_follows(tmp_path: Path) -> None:
    evening = Evening()
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            wanted = {"fps": 10, "daily": True, "preview": True}
            shoot = await rig.start_shoot(plan(0.8, when={"start": "now"}, clip=wanted))
            first = await seen(rig, shoot, ClipKind.PREVIEW, lambda clip: clip.made_utc is not None)
            assert first.state is ClipState.SHOOTING
            assert shown(rig, first) >= first.frames >= 1
            later = await seen(rig, shoot, ClipKind.PREVIEW, lambda clip: clip.frames > first.frames)
            assert later.made_utc is not None
            await rig.shoots.stop(shoot.id)
            shoot = await ended(rig, shoot)
            await seen(rig, shoot, ClipKind.DAY, lambda clip: clip.state is ClipState.MAKING)
            await until(lambda: making(rig) is not None)
            os.kill(making(rig).pid, signal.SIGKILL)  # as the kernel does where memory runs out
            failed = await seen(rig, shoot, ClipKind.DAY, lambda clip: clip.state is ClipState.WAITING)
            assert "ended in the middle of it. It is tried again by itself" in (failed.why or "")
            day = await seen(rig, shoot, ClipKind.DAY, lambda clip: clip.state is ClipState.READY)
            log = await rows(rig, shoot)
            async with asyncio.timeout(60):  # its note comes a moment after it
                while "clip-made" not in (notes := [note.kind for note in await rig.store.notes(shoot.id)]):
                    await asyncio.sleep(0.05)
        compare(log, camera)
    assert (day.frames, day.missing) == (pictured(log), len(log) - pictured(log))
    assert shown(rig, day) == day.frames
    assert day.date == "2026-10-20"
    assert [kind for kind in notes if kind.startswith("clip")] == ["clip-trouble", "clip-made"]
    assert not any(path.name.startswith(".") for path in files(rig, shoot))


async def test_a_restart_goes_on_with_the_window_and_with_its_film(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    evening = Evening()
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(plan(0.8, when={"start": "now", "duration": "1d"}, clip={"daily": True}))
            run = rig.shoots.runs[shoot.id]
            await until(lambda: run.book.counts.written >= 3)
            await seen(rig, shoot, ClipKind.DAY, lambda clip: clip.state is ClipState.SHOOTING)
        monkeypatch.setattr(rules, "ROOM", 1e9)
        async with evening.rig(tmp_path, camera.address) as rig:
            await until(lambda: shoot.id in rig.shoots.runs and rig.shoots.runs[shoot.id].book.counts.written >= 6)
            await rig.shoots.stop(shoot.id)
            shoot = await ended(rig, shoot)
            waits = await seen(rig, shoot, ClipKind.DAY, lambda clip: clip.why is not None and "free" in clip.why)
            assert waits.state is ClipState.WAITING
        monkeypatch.setattr(rules, "ROOM", 1.0)
        async with evening.rig(tmp_path, camera.address) as rig:
            await until(lambda: making(rig) is not None)
            os.kill(making(rig).pid, signal.SIGSTOP)  # so that it is still at it when the disk gets full
            monkeypatch.setattr(rules, "ROOM", 1e9)
            await seen(
                rig, shoot, ClipKind.DAY, lambda clip: clip.state is ClipState.WAITING and "free" in (clip.why or "")
            )
            assert not any(path.name.startswith(".") for path in files(rig, shoot))  # which would take room
            monkeypatch.setattr(rules, "ROOM", 1.0)
            day = await seen(rig, shoot, ClipKind.DAY, lambda clip: clip.state is ClipState.READY)
            assert len(await rig.clips.all(shoot.id)) == 1
            log = await rows(rig, shoot)
        compare(log, camera)
    assert day.frames == pictured(log)  # from before and after
    assert sum(frame.state is FrameState.WRITTEN for frame in log) >= 6


async def test_each_window_has_its_own(tmp_path: Path) -> None:
    evening = Evening(rate=80)
    windows = [{"start": "sunset+4min", "stop": "sunset+12min"}, {"start": "sunset+18min", "stop": "sunset+26min"}]
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(plan(80.0, when={"windows": windows}, clip={"daily": True}))
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
            async with asyncio.timeout(300):
                while len(found := await rig.clips.all(shoot.id)) < 2 or any(c.made_utc is None for c in found):
                    await asyncio.sleep(0.05)
        compare(log, camera)
    parted = max(range(1, len(log)), key=lambda place: log[place].due_utc - log[place - 1].due_utc)
    assert [clip.frames for clip in found] == [pictured(log[:parted]), pictured(log[parted:])]
    assert len({clip.name for clip in found}) == 2
