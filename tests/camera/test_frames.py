"""Frames from release to verified copy, by the real libgphoto2 from the simulated camera."""

from __future__ import annotations

import hashlib
import io
import time
from pathlib import Path

from PIL import Image

from controller.camera.messages import Fetched, Missed, Preview, Released, Settled, Trouble, Written
from controller.camera.worker.fetch import LARGEST_PIECE
from controller.words.stops import true_iso
from tests.camera.ear import connected, order, shoot
from tests.camera.line import slow_line
from tests.support.simcam import start_simulated_camera


def content(path: Path | str) -> bytes:
    return Path(path).read_bytes()


async def test_fifty_frames_at_half_a_second(tmp_path: Path) -> None:
    isos = [true_iso(n) for n in (100, 200, 400, 800, 1600)]
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, ear):
            start = time.monotonic() + 0.5
            orders = [order(n, start + n / 2, tmp_path / "rig", iso=isos[n % 5]) for n in range(1, 51)]
            await shoot(link, orders)
            await ear.count(Fetched, 50)
        record = camera.record()
    assert not ear.all(Missed)
    assert not ear.all(Trouble)
    for kind in (Settled, Released, Written, Preview, Fetched):
        assert [report.seq for report in ear.all(kind)] == list(range(1, 51)), kind
    # what the body says of its own exposures
    assert [shot["iso"] for shot in record] == [isos[n % 5] for n in range(1, 51)]
    assert [ear.of(Settled)[n].iso for n in range(1, 51)] == [isos[n % 5] for n in range(1, 51)]
    for shot, each in zip(record, orders, strict=True):
        written, fetched = ear.of(Written)[each.seq], ear.of(Fetched)[each.seq]
        assert [name.rpartition("/")[2] for name in shot["files"]] == [
            name.rpartition("/")[2] for name in written.camera_files
        ]
        on_card, on_rig = content(camera.card / shot["files"][0]), content(fetched.path)
        assert on_rig == on_card
        assert fetched.sha256 == hashlib.sha256(on_card).hexdigest()
        assert fetched.size == len(on_card)
        assert Path(fetched.path) == tmp_path / "rig" / f"{each.seq:06d}.JPG"
        told = ear.of(Released)[each.seq]
        assert told.at_mono <= shot["released_mono"] <= told.at_mono + told.call_s
        with Image.open(io.BytesIO(ear.of(Preview)[each.seq].jpeg)) as small:
            assert small.format == "JPEG"
    assert not list((tmp_path / "rig").glob(".*"))


async def test_pairs_arrive_as_one_frame_with_the_jpeg_first(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, files="raw+jpeg") as camera:
        async with connected(camera.address) as (link, ear):
            start = time.monotonic() + 0.3
            await shoot(link, [order(n, start + 0.8 * n, tmp_path / "rig") for n in range(1, 6)])
            await ear.count(Fetched, 10)
        record = camera.record()
    assert not ear.all(Trouble)
    assert len(ear.all(Written)) == 5
    for shot, written in zip(record, ear.all(Written), strict=True):
        assert [name.rpartition(".")[2] for name in written.camera_files] == ["JPG", "DNG"]
        assert {name.rpartition("/")[2] for name in shot["files"]} == {
            name.rpartition("/")[2] for name in written.camera_files
        }
    for fetched in ear.all(Fetched):
        assert Path(fetched.path).name == f"{fetched.seq:06d}.{fetched.camera_file.rpartition('.')[2]}"
        assert hashlib.sha256(content(fetched.path)).hexdigest() == fetched.sha256


async def test_only_what_is_asked_is_fetched(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, ear):
            start = time.monotonic() + 0.3
            wishes = ["preview", "none", "all"]
            await shoot(link, [order(n, start + n, tmp_path, fetch=wishes[n - 1]) for n in (1, 2, 3)])
            await ear.count(Fetched, 1)
            assert [report.seq for report in ear.all(Preview)] == [1, 3]
            assert [report.seq for report in ear.all(Fetched)] == [3]
            await link.fetch(2, ear.of(Written)[2].camera_files[0], str(tmp_path / "asked"), "two")
            await ear.count(Fetched, 2)
    assert (tmp_path / "asked" / "two.JPG").stat().st_size == ear.of(Fetched)[2].size


async def test_large_files_come_between_releases(tmp_path: Path) -> None:
    """6 MB over a line of 3 MB/s while frames go on every 0.6 s: whole, verified, and no release waits for a piece."""
    big = tmp_path / "card" / "DCIM" / "100DUSKH" / "DUSK0001.JPG"
    big.parent.mkdir(parents=True)
    big.write_bytes(bytes(range(256)) * (24 << 10))
    with start_simulated_camera(tmp_path) as camera:
        async with slow_line(camera.port, camera.event_port, 3e6) as address, connected(address) as (link, ear):
            (path,) = [file.path for file in await link.files()]
            await link.fetch(900, path, str(tmp_path / "rig"), "big")
            start = time.monotonic() + 0.3
            short = {"shutter_s": 2**-4, "latest_mono": start + 100, "fetch": "preview"}
            await shoot(link, [order(n, start + 0.6 * n, tmp_path, **short) for n in range(1, 11)])
            await ear.until(lambda: 900 in ear.of(Fetched))
            await ear.count(Preview, 10)
    assert (tmp_path / "rig" / "big.JPG").read_bytes() == big.read_bytes()
    assert [report.seq for report in ear.all(Released)] == list(range(1, 11))
    late = [report.at_mono - (start + 0.6 * report.seq) for report in ear.all(Released)]
    assert sum(seconds > LARGEST_PIECE / 3e6 / 3 for seconds in late) == 0  # a third of what the largest piece takes


async def test_an_order_can_be_taken_back_or_replaced(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, ear):
            await link.release(order(1, time.monotonic() + 5.0, tmp_path))
            await link.cancel(1)
            await ear.count(Missed, 1)
            due = time.monotonic() + 2.0
            await link.release(order(2, due, tmp_path, iso=100.0))
            await link.release(order(2, due, tmp_path, iso=800.0))
            await ear.count(Written, 1)
        record = camera.record()
    assert ear.all(Missed) == [Missed(1, "cancelled")]
    assert [shot["iso"] for shot in record] == [800.0]
