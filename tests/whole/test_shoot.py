"""A whole shoot on real parts: engine, camera process, libgphoto2, simulated camera, log, files."""

import asyncio
import csv
import hashlib
import io
import itertools
from pathlib import Path

import pytest
from PIL import Image

from controller.store.export import csv_lines
from controller.words.documents import FrameState, ShootState
from controller.words.errors import BadInput, Conflict
from tests.support.rigs import LATITUDE, LONGITUDE, Evening, camera_there, ended, plan, rows, until
from tests.whole.truth import compare, missed, taken


async def test_every_frame_is_released_written_fetched_and_logged(tmp_path: Path):
    evening = Evening(rate=4)
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(plan(4.0, 0.5, when={"start": "now", "frames": 12}, files={"fetch": "all"}))
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
            text = "".join(csv_lines(log))
        compare(log, camera)
        record = camera.record()
    assert (shoot.state, shoot.cause) == (ShootState.DONE, "the plan's 12 frames are done")
    frames = taken(log)
    assert [frame.state for frame in frames] == [FrameState.FETCHED] * 12
    for frame, shot in zip(frames, record, strict=True):
        file = tmp_path / "rig" / str(frame.local_file)
        assert (file.stat().st_size, hashlib.sha256(file.read_bytes()).hexdigest()) == (frame.bytes, frame.sha256)
        with Image.open(file) as image:
            exif = image.getexif().get_ifd(0x8769)
        assert exif[0x829A] == pytest.approx(frame.shutter_s, rel=1e-3)  # ExposureTime, CIPA DC-008
        assert shot["shutter_s"] == pytest.approx(frame.shutter_s, rel=1e-6)
    steps = {round(b.due_utc - a.due_utc, 3) for a, b in itertools.pairwise(log)}
    assert steps == {4.0}  # deadlines do not drift
    table = list(csv.DictReader(io.StringIO(text)))
    assert (
        list(table[0])[:21]
        == (
            "shoot seq camera due_utc released_utc late_ms interval_s shutter_s aperture iso exposure_ev scene_ev "
            "target_ev sun_altitude_deg sun_azimuth_deg moon_altitude_deg state camera_file local_file bytes sha256"
        ).split()
    )
    assert len(table) == len(log)


async def test_follow_goes_down_a_dusk_without_turning_back(tmp_path: Path):
    evening = Evening(rate=45)
    follow = {
        "kind": "follow",
        "shutter_s": [0.001, 15],
        "aperture": 2.8,
        "iso": [100, 3200],
        "order": ["shutter", "iso"],
    }
    pace = {"kind": "sun", "points": [[0, 20.0], [-6, 30.0]], "min_gap_s": 8.0}
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(plan(pace=pace, light=follow, when={"start": "now", "duration": "50min"}))
            shoot = await ended(rig, shoot, 150)
            log, notes = await rows(rig, shoot), await rig.store.notes(shoot.id)
        compare(log, camera, notes)
    assert shoot.state is ShootState.DONE
    frames = taken(log)
    assert len(log) >= 90
    evs = [frame.exposure_ev for frame in frames[5:]]
    assert evs[0] - evs[-1] > 4  # the Explanatory Supplement's clear sky darkens by 7 EV from 0° to −6°
    turns = sum(b > a + 0.1 for a, b in itertools.pairwise(evs))
    assert turns <= 1
    settled = [frame for frame in frames[8:] if frame.scene_ev is not None]
    off = sorted(abs(frame.target_ev - frame.exposure_ev) for frame in settled)
    assert off[int(0.95 * len(off))] <= 0.4  # a third of a stop, and the hysteresis
    intervals = [frame.interval_s for frame in log]
    assert intervals[-1] > intervals[0] * 1.2
    assert all(frame.shutter_s + 8.0 <= frame.interval_s + 1e-6 for frame in log)


async def test_hold_resume_pace_bias_and_stop(tmp_path: Path):
    evening = Evening(rate=4)
    follow = {"kind": "follow", "shutter_s": [0.001, 0.5], "aperture": 2.8, "iso": [100, 3200]}
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(plan(2.0, light=follow))
            run = rig.shoots.runs[shoot.id]
            await until(lambda: run.book.counts.written >= 4)
            held = await rig.shoots.hold(shoot.id)
            assert held.state is ShootState.HELD
            await until(lambda: not run.reports.waiting_for())
            before = len(camera.record())
            await until(lambda: rig.clock.utc() > held.created_utc + 40)
            assert len(camera.record()) == before  # nothing is released while held
            assert (await rig.now()).next_release_in_s is None
            await rig.shoots.resume(shoot.id)
            await until(lambda: run.book.counts.written >= before + 3)
            target_ev = (await rig.now()).target_ev
            await rig.shoots.change_light(shoot.id, bias_ev=-1.0)
            await rig.shoots.change_pace(shoot.id, to_s=4.0, over_s=10)
            await until(lambda: run.slots.progress.interval_s == 4.0)
            assert (await rig.now()).target_ev == pytest.approx(target_ev + 1.0, abs=0.3)
            with pytest.raises(BadInput, match="to_s"):
                await rig.shoots.change_pace(shoot.id, to_s=-1, over_s=0)
            with pytest.raises(Conflict, match="belongs to shoot"):
                await rig.start_shoot(plan(2.0, name="another"))
            await rig.shoots.stop(shoot.id)
            shoot = await ended(rig, shoot)
            log, notes = await rows(rig, shoot), await rig.store.notes(shoot.id)
            with pytest.raises(Conflict, match="ended"):
                await rig.shoots.hold(shoot.id)
        compare(log, camera, notes)
    assert (shoot.state, shoot.cause) == (ShootState.STOPPED, "stopped by hand")
    assert not missed(log)


async def test_of_two_starts_at_once_one_is_refused(tmp_path: Path):
    evening = Evening(rate=4)
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            starts = [rig.start_shoot(plan(2.0, when={"start": "now", "frames": 2})) for _ in range(2)]
            first, second = sorted(await asyncio.gather(*starts, return_exceptions=True), key=lambda x: str(type(x)))
            assert isinstance(second, Conflict) != isinstance(first, Conflict)
            refused, shoot = (first, second) if isinstance(first, Conflict) else (second, first)
            assert refused.code == "rig-busy"
            await ended(rig, shoot)
        compare_files = len(list(camera.card.rglob("*.JPG")))
    assert compare_files == 2


async def test_a_shoot_that_follows_at_once_waits_for_the_last_frames_of_the_one_before(tmp_path: Path):
    evening = Evening(rate=4)
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            first = await rig.start_shoot(plan(4.0, 3.0))
            run = rig.shoots.runs[first.id]
            await until(lambda: run.book.counts.released == 1 and run.book.counts.written >= 1)
            stopping = await rig.shoots.stop(first.id)
            assert "stopping" in str(stopping.cause)
            second = await rig.start_shoot(plan(2.0, when={"start": "now", "frames": 3}))
            first, second = await ended(rig, first), await ended(rig, second)
            logs = [await rows(rig, shoot) for shoot in (first, second)]
        files = [frame.camera_file for log in logs for frame in log if frame.camera_file]
        assert files == sorted(files)
        assert len(files) == len(list(camera.card.rglob("*.JPG")))
    assert (first.state, second.state) == (ShootState.STOPPED, ShootState.DONE)
    assert second.counts.written == 3


async def test_a_plan_for_later_waits_and_then_shoots(tmp_path: Path):
    evening = Evening(rate=60)
    document = plan(60.0, when={"start": "civil_dusk-30min", "frames": 3})
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            shoot = await rig.start_shoot(document)
            assert shoot.state is ShootState.WAITING
            assert (shoot.start_utc or 0) > rig.clock.utc() + 100
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
        compare(log, camera)
    assert log[0].due_utc == pytest.approx(shoot.start_utc, abs=0.01)
    assert len(taken(log)) == 3


async def test_a_plan_whose_sun_event_does_not_happen_is_refused(tmp_path: Path):
    evening = Evening()
    document = plan(5.0, site={"latitude": 80.0, "longitude": LONGITUDE}, when={"start": "sunset", "duration": "1h"})
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            with pytest.raises(BadInput) as caught:
                await rig.start_shoot({**document, "when": {**document["when"], "date": "2026-12-21"}})
            assert "sunset" in str(caught.value)
            assert caught.value.remedy
            assert not await rig.store.shoots()
    assert LATITUDE < 66
