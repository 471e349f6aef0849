"""Copies on the rig's disk when that disk is full, or the copying process dies: real limits, a real file system."""

from __future__ import annotations

import asyncio
import os
import resource
import signal
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from controller.camera.link import CameraLink
from controller.camera.messages import Fetched, Opened, Preview, Released, Trouble
from controller.camera.worker.disk import RESERVE
from tests.camera.ear import connected, order, shoot
from tests.support.simcam import start_simulated_camera


def pid(link: CameraLink) -> int:
    assert link._process is not None
    return link._process.pid


def limit_file_size(link: CameraLink, size: int) -> None:
    """The kernel refuses to let any file of the camera process grow beyond this: EFBIG, as a quota does."""
    resource.prlimit(pid(link), resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))


def names(directory: Path) -> set[str]:
    return {path.name for path in directory.iterdir()} if directory.exists() else set()


def same(one: Path, other: Path) -> bool:
    return one.read_bytes() == other.read_bytes()


async def test_a_full_disk_stops_fetching_and_not_releasing(tmp_path: Path) -> None:
    rig = tmp_path / "rig"
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, ear):
            start = time.monotonic() + 0.3
            orders = [order(n, start + 0.6 * n, rig) for n in range(1, 7)]
            await shoot(link, orders[:2])
            await ear.count(Fetched, 2)
            limit_file_size(link, 1000)
            await shoot(link, orders[2:])
            await ear.count(Preview, 6)
            assert len(ear.all(Released)) == 6
            assert [(trouble.code, trouble.seq) for trouble in ear.all(Trouble)] == [("disk-full", 3)]
            assert "Make room" in ear.all(Trouble)[0].remedy
            assert names(rig) == {"000001.JPG", "000002.JPG"}  # and nothing half written
            limit_file_size(link, resource.RLIM_INFINITY)
            await link.pause_fetching(False)
            await ear.count(Fetched, 6)
        assert names(rig) == {f"{n:06d}.JPG" for n in range(1, 7)}
        for n, shot in enumerate(camera.record(), 1):
            assert same(camera.card / shot["files"][0], rig / f"{n:06d}.JPG")


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of its own that has 200 kB beyond the reserve."""
    if os.geteuid() != 0:
        pytest.skip("mounting a small file system takes root; the limit above stands in for it")
    path = tmp_path / "small"
    path.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={RESERVE + (200 << 10)}", "tmpfs", path], check=True)
    yield path
    subprocess.run(["umount", path], check=True)


def remount(path: Path, how: str) -> None:
    subprocess.run(["mount", "-o", f"remount,{how}", path], check=True)


async def test_a_small_disk_keeps_its_reserve_and_fetching_goes_on_by_itself(tmp_path: Path, small_disk: Path) -> None:
    filler = small_disk / "filler"
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, ear):
            filler.write_bytes(bytes(190 << 10))
            start = time.monotonic() + 0.3
            await shoot(link, [order(n, start + 0.6 * n, small_disk / "rig") for n in range(1, 9)])
            await ear.count(Preview, 8)
            assert len(ear.all(Released)) == 8
            assert [trouble.code for trouble in ear.all(Trouble)] == ["disk-full"]
            assert len(ear.all(Fetched)) < 8
            filler.unlink()
            await ear.count(Fetched, 8)
    assert names(small_disk / "rig") == {f"{n:06d}.JPG" for n in range(1, 9)}


async def test_a_disk_that_becomes_read_only_is_told_once_and_tried_until_it_takes_files(
    tmp_path: Path, small_disk: Path
) -> None:
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, ear):
            (small_disk / "rig").mkdir()
            remount(small_disk, "ro")
            start = time.monotonic() + 0.3
            await shoot(link, [order(n, start + 0.6 * n, small_disk / "rig") for n in range(1, 4)])
            await ear.count(Preview, 3)
            assert [trouble.code for trouble in ear.all(Trouble)] == ["disk-broken"]
            assert len(ear.all(Released)) == 3
            assert not ear.all(Fetched)
            remount(small_disk, "rw")
            await ear.count(Fetched, 3)
    assert names(small_disk / "rig") == {f"{n:06d}.JPG" for n in range(1, 4)}


async def test_fetching_is_paused_and_goes_on_by_word(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, ear):
            await link.pause_fetching(True)
            await link.release(order(1, time.monotonic() + 0.4, tmp_path / "rig"))
            await ear.count(Preview, 1)
            os.kill(pid(link), signal.SIGKILL)  # a new process is told so too
            await ear.count(Opened, 2)
            await link.release(order(2, time.monotonic() + 0.4, tmp_path / "rig"))
            await ear.count(Preview, 2)
            await asyncio.sleep(0.3)
            assert not ear.all(Fetched)
            await link.pause_fetching(False)
            await ear.until(lambda: 2 in ear.of(Fetched))


async def test_killed_in_mid_copy_leaves_no_half_file(tmp_path: Path) -> None:
    big = tmp_path / "card" / "DCIM" / "100DUSKH" / "DUSK0001.JPG"
    big.parent.mkdir(parents=True)
    big.write_bytes(os.urandom(64 << 20))
    rig = tmp_path / "rig"
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, ear):
            (file,) = await link.files()
            await link.fetch(1, file.path, str(rig), "000001")
            while not names(rig):
                await asyncio.sleep(0.005)
            os.kill(pid(link), signal.SIGKILL)
            await ear.count(Opened, 2)
            assert names(rig) == {".000001.JPG.part"}
            await link.fetch(1, file.path, str(rig), "000001")
            await ear.count(Fetched, 1)
    assert names(rig) == {"000001.JPG"}
    assert same(rig / "000001.JPG", big)


async def test_a_directory_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, ear):
            await link.release(order(1, time.monotonic() + 0.4, tmp_path / "file" / "rig"))
            await ear.count(Trouble, 1)
            assert [(trouble.code, trouble.seq) for trouble in ear.all(Trouble)] == [("not-fetched", 1)]
            await link.release(order(2, time.monotonic() + 0.4, tmp_path / "rig"))
            await ear.count(Fetched, 1)
