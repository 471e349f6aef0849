"""Cameras and processes that fail in the ways real ones do; nothing here is pretended but the camera itself."""

from __future__ import annotations

import asyncio
import os
import signal
import socket
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from controller.camera import ladder, messages
from controller.camera.link import CameraLink
from controller.camera.messages import Fetched, Gone, Missed, Opened, Preview, Released, Settled, Trouble, Written
from controller.words.errors import CameraError
from tests.camera.ear import Ear, connected, listed, order, shoot
from tests.support.simcam import start_simulated_camera

ROOT = Path(__file__).parent.parent.parent


def pid(link: CameraLink) -> int:
    assert link._process is not None
    return link._process.pid


def runs(number: int) -> bool:
    return Path(f"/proc/{number}").exists()


def descriptors(of: int | str = "self") -> int:
    return len(list(Path(f"/proc/{of}/fd").iterdir()))


def on_card(record: list[dict[str, Any]]) -> dict[int, str]:
    """The camera's own truth: which file belongs to which release."""
    return {n: shot["files"][0].rpartition("/")[2] for n, shot in enumerate(record, 1) if shot["written"]}


def names(written: Written) -> list[str]:
    return [path.rpartition("/")[2] for path in written.camera_files]


def free_ports() -> tuple[int, int]:
    with socket.create_server(("127.0.0.1", 0)) as one, socket.create_server(("127.0.0.1", 0)) as two:
        return one.getsockname()[1], two.getsockname()[1]


async def both_there(link: CameraLink, count: int = 2) -> None:
    """Wait until the card holds so many files: the session may be back before the last one is written."""
    async with asyncio.timeout(60):
        while len(await link.files()) != count:
            await asyncio.sleep(0.1)


# ---- the camera comes and goes


async def test_absent_then_there(tmp_path: Path) -> None:
    port, event_port = free_ports()
    link, ear = CameraLink(f"ptpip:127.0.0.1:{port}:{event_port}"), Ear()
    link.listen(ear.hear)
    await link.start()
    try:
        await ear.count(Trouble, 1)
        assert ear.all(Trouble)[0].code == "camera-absent"
        assert link.trouble is not None
        assert "does not answer" in link.trouble
        assert "Switch it on" in link.trouble
        with pytest.raises(CameraError, match="does not answer"):
            await link.release(order(1, time.monotonic() + 1, tmp_path))
        await asyncio.sleep(3)
        assert len(ear.all(Trouble)) == 1  # told once, though it was tried again
        with start_simulated_camera(tmp_path, port=port, event_port=event_port):
            await ear.count(Opened, 1)
            assert link.trouble is None
            await link.release(order(1, time.monotonic() + 0.5, tmp_path))
            await ear.count(Fetched, 1)
    finally:
        await link.stop()


async def test_connection_dropped_in_mid_shoot(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, faults="ok drop") as camera:
        async with connected(camera.address) as (link, ear):
            start = time.monotonic()
            await shoot(link, [order(n, start + 0.8 * n, tmp_path) for n in (1, 2)])
            await ear.count(Gone, 1)
            await ear.count(Opened, 2)
            assert ear.all(Gone)[0].seqs == []
            await both_there(link)  # the frame in hand is on the card all the same
            await link.release(order(3, time.monotonic() + 0.5, tmp_path))
            await ear.until(lambda: 3 in ear.of(Written))
            assert names(ear.of(Written)[3]) == ["DUSK0003.JPG"]


async def test_mute_while_releasing(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, faults="ok mute(6)") as camera:
        async with connected(camera.address) as (link, ear):
            start = time.monotonic()
            await shoot(link, [order(n, start + 0.8 * n, tmp_path) for n in (1, 2)])
            await ear.count(Gone, 1)
            assert ear.all(Gone)[0].seqs == [2]  # it may have been released or not: the card tells
            await ear.count(Opened, 2)
            await both_there(link)


async def test_mute_while_nothing_is_due(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, ear):
            camera.control("fault", word="mute(12)")
            await ear.count(Gone, 1)
            assert link.trouble is not None
            await ear.count(Opened, 2)


async def test_asleep_at_a_release_wakes_by_a_new_session(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, faults="ok sleep(1.5,2)") as camera:
        async with connected(camera.address) as (link, ear):
            start = time.monotonic()
            await shoot(link, [order(n, start + t, tmp_path) for n, t in ((1, 0.4), (2, 1.2))])
            await ear.until(lambda: 2 in ear.of(Written))
            await ear.count(Gone, 1)
            await ear.count(Opened, 2)


async def test_a_fresh_listing_knows_of_files_that_nobody_told_of(tmp_path: Path) -> None:
    """Written after the new session began, and without an event: libgphoto2 lists a folder once in a session."""
    with start_simulated_camera(tmp_path, faults="ok drop+noevent ok", write=0.6) as camera:
        async with connected(camera.address) as (link, ear):
            start = time.monotonic()
            await shoot(link, [order(n, start + n, tmp_path, fetch="none") for n in (1, 2)])
            await ear.count(Opened, 2)
            async with asyncio.timeout(60):
                while len(await listed(link)) != 2:
                    await asyncio.sleep(0.1)
            await link.release(order(3, time.monotonic() + 0.5, tmp_path, fetch="none"))
            await ear.until(lambda: 3 in ear.of(Written))
            assert names(ear.of(Written)[3]) == ["DUSK0003.JPG"]
            assert len(await listed(link)) == 3
    assert len(ear.all(Gone)) == 1


# ---- the process


async def test_worker_killed_in_mid_exposure(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, ear):
            now = time.monotonic()
            await link.release(order(1, now + 0.5, tmp_path, shutter_s=1.0, exposure_s=1.0))
            await link.release(order(2, now + 2.5, tmp_path))
            await ear.count(Released, 1)
            os.kill(pid(link), signal.SIGKILL)
            await ear.count(Gone, 1)
            gone = ear.all(Gone)[0]
            assert (gone.code, gone.seqs) == ("camera-process-ended", [2])
            assert "signal 9" in gone.what
            await ear.count(Opened, 2)
            await ear.until(lambda: time.monotonic() > now + 2.0)
            assert [file.path.rpartition("/")[2] for file in await link.files()] in ([], ["DUSK0001.JPG"])
            await link.release(order(3, time.monotonic() + 1.0, tmp_path))
            await ear.until(lambda: 3 in ear.of(Fetched))
            assert names(ear.of(Written)[3]) == ["DUSK0002.JPG"]


async def test_worker_that_hangs_is_killed(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, ear):
            os.kill(pid(link), signal.SIGSTOP)
            await ear.count(Gone, 1)
            assert ear.all(Gone)[0].code == "camera-mute"
            await ear.count(Opened, 2)


async def test_stop_ends_a_worker_that_hangs(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, _):
            number = pid(link)
            os.kill(number, signal.SIGSTOP)
            await link.stop()
            assert not runs(number)


@pytest.mark.parametrize("stuck", [False, True], ids=["listening", "stuck in a call"])
async def test_worker_dies_with_the_daemon(tmp_path: Path, stuck: bool) -> None:
    script = (
        "import asyncio, sys\n"
        "from controller.camera.link import CameraLink\n"
        "async def main():\n"
        "    link = CameraLink(sys.argv[1])\n"
        "    await link.start()\n"
        "    while link.opened is None: await asyncio.sleep(0.05)\n"
        "    print(link._process.pid, flush=True)\n"
        "    await asyncio.sleep(60)\n"
        "asyncio.run(main())\n"
    )
    with start_simulated_camera(tmp_path) as camera:
        daemon = await asyncio.create_subprocess_exec(
            sys.executable, "-c", script, camera.address, stdout=asyncio.subprocess.PIPE, cwd=ROOT
        )
        assert daemon.stdout is not None
        number = int(await daemon.stdout.readline())
        assert runs(number)
        if stuck:
            os.kill(number, signal.SIGSTOP)
        daemon.kill()
        await daemon.communicate()
        for _ in range(600):
            if not runs(number):
                break
            await asyncio.sleep(0.05)
        assert not runs(number)


async def test_no_descriptor_is_left_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ladder, "AGAIN_S", 0.05)
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, ear):
            before = descriptors()
            for n in range(20):
                if n % 2:
                    camera.control("fault", word="drop")
                else:
                    os.kill(pid(link), signal.SIGKILL)
                await ear.count(Gone, n + 1)
                await ear.count(Opened, n + 2)
            assert descriptors() == before


# ---- files and their frames


async def test_events_that_come_twice_or_not_at_all_shift_nothing(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, faults="ok twice ok noevent ok twice ok*3") as camera:
        async with connected(camera.address) as (link, ear):
            start = time.monotonic() + 0.3
            await shoot(link, [order(n, start + 0.6 * n, tmp_path / "rig") for n in range(1, 10)])
            await ear.count(Fetched, 9)
        record = camera.record()
    assert not ear.all(Trouble)
    assert sorted(ear.of(Written)) == list(range(1, 10))
    assert {n: names(w) for n, w in ear.of(Written).items()} == {n: [f"DUSK{n:04d}.JPG"] for n in range(1, 10)}
    for n, shot in enumerate(record, 1):
        assert (tmp_path / "rig" / f"{n:06d}.JPG").read_bytes() == (camera.card / shot["files"][0]).read_bytes()


async def test_first_frame_without_an_event(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, faults="noevent ok*3", files="raw+jpeg") as camera:
        async with connected(camera.address) as (link, ear):
            start = time.monotonic() + 0.3
            await shoot(link, [order(n, start + 0.6 * n, tmp_path, fetch="preview") for n in range(1, 5)])
            await ear.count(Preview, 4)
    assert {n: names(w) for n, w in ear.of(Written).items()} == {
        n: [f"DUSK{n:04d}.JPG", f"DUSK{n:04d}.DNG"] for n in range(1, 5)
    }


async def test_a_frame_that_the_camera_never_writes(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, faults="ok*2 unwritten ok*3") as camera:
        async with connected(camera.address) as (link, ear):
            start = time.monotonic() + 0.3
            await shoot(link, [order(n, start + 0.6 * n, tmp_path, fetch="preview") for n in range(1, 7)])
            await ear.count(Preview, 5)
            await ear.count(Trouble, 1)
        written = on_card(camera.record())
    assert [(t.code, t.seq) for t in ear.all(Trouble)] == [("no-file", 3)]
    assert {n: names(w)[0] for n, w in ear.of(Written).items()} == written


async def test_a_frame_without_a_small_picture(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, faults="nothumb ok") as camera:
        async with connected(camera.address) as (link, ear):
            start = time.monotonic() + 0.3
            await shoot(link, [order(n, start + 0.8 * n, tmp_path, fetch="preview") for n in (1, 2)])
            await ear.count(Preview, 1)
    assert [(t.code, t.seq) for t in ear.all(Trouble)] == [("no-preview", 1)]


# ---- refusals


async def test_a_busy_camera_is_asked_again(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, faults="refuse(device_busy)*5") as camera:
        async with connected(camera.address) as (link, ear):
            due = time.monotonic() + 0.5
            await link.release(order(1, due, tmp_path, latest_mono=due + 20.0))
            await ear.count(Fetched, 1)
            assert ear.all(Released)[0].at_mono > due
            camera.control("fault", word="busy(6)")
            due = time.monotonic() + 0.3
            await link.release(order(2, due, tmp_path, latest_mono=due + 3.0))
            await ear.count(Missed, 1)
            assert ear.all(Missed) == [Missed(2, "the camera was still writing")]
            await link.release(order(3, time.monotonic() + 0.5, tmp_path))
            await ear.until(lambda: 3 in ear.of(Fetched))
        assert len(camera.record()) == 2
    assert [(t.step, t.worked) for t in ear.all(messages.Tried)] == [(ladder.Rung.DRAIN.value, True)]


async def test_a_full_card_costs_slots_until_there_is_room(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, ear):
            await link.release(order(1, time.monotonic() + 0.4, tmp_path))
            await ear.count(Fetched, 1)
            camera.control("fault", word="full")
            for n in (2, 3):
                due = time.monotonic() + 0.4
                await link.release(order(n, due, tmp_path, latest_mono=due + 1.5))
                await ear.count(Missed, n - 1)
            camera.control("fault", word="free")
            await link.release(order(4, time.monotonic() + 0.4, tmp_path))
            await ear.count(Fetched, 2)
    assert ear.all(Missed) == [Missed(n, "the card was full") for n in (2, 3)]
    assert sorted(ear.of(Released)) == [1, 4]
    assert [trouble.code for trouble in ear.all(Trouble)] == ["card-full"]


async def test_a_card_that_is_full_when_the_frame_is_to_be_written(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, faults="ok nospace free") as camera:
        async with connected(camera.address) as (link, ear):
            start = time.monotonic() + 0.3
            await shoot(link, [order(n, start + 0.7 * n, tmp_path, fetch="preview") for n in (1, 2, 3)])
            await ear.count(Preview, 2)
            await ear.count(Trouble, 1)
        written = on_card(camera.record())
    assert [(t.code, t.seq) for t in ear.all(Trouble)] == [("card-full", 2)]
    assert {n: names(w)[0] for n, w in ear.of(Written).items()} == written


async def test_a_setting_that_is_refused_does_not_cost_the_frame(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, ear):
            camera.control("refuse", operation="set", code="access_denied", times=10)
            start = time.monotonic() + 0.3
            await shoot(link, [order(n, start + 0.6 * n, tmp_path, iso=800.0) for n in (1, 2)])
            await ear.count(Fetched, 2)
        record = camera.record()
    assert [(t.code, t.seq) for t in ear.all(Trouble)] == [("setting-refused", 1)]  # once, not for each frame
    assert "access denied" in ear.all(Trouble)[0].what.lower()
    assert [shot["iso"] for shot in record] == [100.0, 100.0]


async def test_nothing_shifts_when_the_camera_s_clock_runs_faster(tmp_path: Path) -> None:
    """As in the demo: 30 times faster, 4 s exposures every 12 s by the camera's clock."""
    with start_simulated_camera(tmp_path, faults="ok noevent ok*2 noevent twice ok*3", rate=30) as camera:
        async with connected(camera.address) as (link, ear):
            start = time.monotonic() + 0.3
            orders = [
                order(n, start + 0.4 * n, tmp_path, shutter_s=4.0, exposure_s=4.0 / 30, fetch="preview")
                for n in range(1, 10)
            ]
            await shoot(link, orders)
            await ear.count(Preview, 9)
        truth = on_card(camera.record())
    assert {n: names(w)[0] for n, w in ear.of(Written).items()} == truth
    assert not ear.all(Trouble)


async def test_looking_at_the_card_again_and_again_leaks_nothing(tmp_path: Path) -> None:
    """Each look is a new session in the same process; closing one closes descriptor 0 inside libgphoto2."""
    with start_simulated_camera(tmp_path, faults="ok noevent again") as camera:
        async with connected(camera.address) as (link, ear):
            before = descriptors(pid(link))
            start = time.monotonic() + 0.3
            await shoot(link, [order(n, start + 0.6 * n, tmp_path / "rig") for n in range(1, 13)])
            await ear.count(Fetched, 12)
            assert len(await link.files()) == 12
            assert descriptors(pid(link)) == before
            assert Path(f"/proc/{pid(link)}/fd/0").resolve() == Path(os.devnull)  # noqa: ASYNC240
        truth = on_card(camera.record())
    assert {n: names(w)[0] for n, w in ear.of(Written).items()} == truth
    assert not ear.all(Gone)


async def test_a_time_that_the_body_refuses_makes_no_lost_frame(tmp_path: Path) -> None:
    """Eight seconds are asked for and 1/5 s stays on the dial: the file comes long before it is looked for."""
    with start_simulated_camera(tmp_path, epoch_utc="2026-10-20T16:00:00Z") as camera:
        async with connected(camera.address) as (link, ear):
            await shoot(link, [order(1, time.monotonic() + 0.5, tmp_path / "rig")])
            await ear.count(Written, 1)
            camera.control("refuse", operation="set", code="access_denied", times=10)
            await shoot(link, [order(2, time.monotonic() + 0.5, tmp_path / "rig", shutter_s=8.0)])
            await ear.count(Written, 2)
        on_card = [shot["files"][0].rpartition("/")[2] for shot in camera.record()]
    assert [trouble.code for trouble in ear.all(Trouble)] == ["setting-refused"]
    assert ear.of(Settled)[2].shutter_s == pytest.approx(0.2, rel=0.02)
    assert [w.camera_files[0].rpartition("/")[2] for w in ear.all(Written)] == on_card
