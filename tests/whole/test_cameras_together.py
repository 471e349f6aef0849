"""Two cameras, one shoot: the same moments for both, and the fault of one never the other's."""

from __future__ import annotations

import asyncio
from collections import defaultdict
from pathlib import Path

import pytest

from controller.words.documents import Frame, FrameState, ShootState
from controller.words.errors import BadInput
from tests.support.rigs import Evening, ended, plan, rows, until
from tests.whole.truth import compare, missed, taken

FOLLOW = {"kind": "follow", "shutter_s": [0.001, 1.0], "aperture": 2.8, "iso": [100, 3200], "order": ["shutter", "iso"]}
SKIPPED = FrameState.MISSED


def by_camera(log: list[Frame]) -> dict[str, list[Frame]]:
    found: dict[str, list[Frame]] = defaultdict(list)
    for frame in log:
        found[frame.camera].append(frame)
    return dict(found)


def same_moments(log: list[Frame]) -> int:
    """Slots that both cameras have, each of which must be due at one moment for both; how many there are."""
    due = defaultdict(dict)
    for frame in log:
        due[frame.seq][frame.camera] = frame.due_utc
    both = [dues for dues in due.values() if len(dues) == 2]
    assert all(dues["camera-1"] == pytest.approx(dues["camera-2"], abs=0.02) for dues in both)
    return len(both)


async def test_both_release_at_the_same_moments_each_with_its_own_light(tmp_path: Path):
    evening = Evening(rate=2)
    with evening.camera(tmp_path / "one") as one, evening.camera(tmp_path / "two") as two:
        async with evening.rig(tmp_path, one.address, two.address) as rig:
            await until(lambda: all(camera.connected for camera in rig.cameras()))
            when = {"start": "now", "frames": 12}
            shoot = await rig.start_shoot(plan(2.0, light=FOLLOW, when=when, files={"fetch": "all"}))
            shoot = await ended(rig, shoot)
            log, notes = await rows(rig, shoot), await rig.store.notes(shoot.id)
    each = by_camera(log)
    assert (shoot.state, set(each)) == (ShootState.DONE, {"camera-1", "camera-2"})
    assert same_moments(log) >= 12
    for name, camera in (("camera-1", one), ("camera-2", two)):
        mine = [note for note in notes if note.facts.get("camera", "camera-1") == name]
        compare(each[name], camera, mine)
        frames = taken(each[name])
        assert len(frames) == 12
        assert {frame.state for frame in frames} == {FrameState.FETCHED}
        files = [tmp_path / "rig" / str(frame.local_file) for frame in frames]
        assert [file.stat().st_size for file in files] == [frame.bytes for frame in frames]
    assert len({str(frame.local_file) for frame in log if frame.local_file}) == 24
    assert shoot.counts.fetched == 24
    skews = [frame.skew_ms for frame in each["camera-2"] if frame.skew_ms is not None]
    assert len(skews) >= 9
    assert all(frame.skew_ms is None for frame in each["camera-1"])
    late = {frame.seq: frame.late_ms for frame in each["camera-1"]}
    assert all(
        frame.skew_ms == pytest.approx(frame.late_ms - late[frame.seq], abs=0.002)
        for frame in each["camera-2"]
        if frame.skew_ms is not None
    )


async def test_one_that_is_mute_or_gone_costs_the_other_nothing(tmp_path: Path):
    """The first camera falls silent for a third of the shoot, and comes back."""
    evening = Evening()
    with evening.camera(tmp_path / "one") as one, evening.camera(tmp_path / "two") as two:
        async with evening.rig(tmp_path, one.address, two.address) as rig:
            await until(lambda: all(camera.connected for camera in rig.cameras()))
            shoot = await rig.start_shoot(plan(1.0, when={"start": "now", "frames": 24}))
            run = rig.shoots.runs[shoot.id]
            await until(lambda: run.book.last is not None and run.book.last.seq >= 4)
            one.control("fault", word="mute(6)")
            await until(lambda: (now := run.document()).state is ShootState.RECOVERING or now.counts.missed > 0)
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
        compare(by_camera(log)["camera-1"], one)
        compare(by_camera(log)["camera-2"], two)
    each = by_camera(log)
    assert len(taken(each["camera-2"])) == 24
    assert [frame for frame in each["camera-1"] if frame.state is SKIPPED]  # the fault was there
    assert sum(frame.state is not SKIPPED for frame in each["camera-1"]) == 24  # it goes on until it has its frames
    assert same_moments(log) >= 24


async def test_the_first_may_be_away_from_the_start(tmp_path: Path):
    evening = Evening()
    with evening.camera(tmp_path / "two") as two:
        async with evening.rig(tmp_path, "ptpip:127.0.0.1:1:1", two.address) as rig:
            await until(lambda: rig.cameras()[1].connected)
            shoot = await rig.start_shoot(plan(1.0, when={"start": "now", "duration": "10s"}))
            await until(lambda: rig.shoots.runs[shoot.id].document().counts.written >= 3)
            async with asyncio.timeout(60):
                while (now := await rig.now()).next_release_in_s is None:  # that of the other camera
                    await asyncio.sleep(0.02)
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
    each = by_camera(log)
    assert now.camera is not None
    assert (now.camera.id, [other.id for other in now.beside]) == ("camera-1", ["camera-2"])
    assert now.attention[0].startswith("camera-1 not there, the others go on")
    assert len(taken(each["camera-2"])) >= 7
    assert all(frame.state is SKIPPED and frame.cause for frame in each["camera-1"])


async def test_one_leads_the_exposure(tmp_path: Path):
    """The first camera looks away from the sunset; it is exposed as the second one is all the same."""
    evening = Evening(rate=2)
    with evening.camera(tmp_path / "one", azimuth=60) as one, evening.camera(tmp_path / "two") as two:
        async with evening.rig(tmp_path, one.address, two.address) as rig:
            await until(lambda: all(camera.connected for camera in rig.cameras()))
            table = {"use": ["camera-1", "camera-2"], "lead": "camera-2"}
            when = {"start": "now", "frames": 10}
            shoot = await rig.start_shoot(plan(2.0, light=FOLLOW, when=when, cameras=table))
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
    each = by_camera(log)
    by_seq = {frame.seq: frame for frame in each["camera-1"] if frame.state is not SKIPPED}
    pairs = [(by_seq[f.seq], f) for f in each["camera-2"] if f.seq in by_seq and f.state is not SKIPPED]
    assert len(pairs) >= 8
    assert all((a.shutter_s, a.iso) == pytest.approx((b.shutter_s, b.iso)) for a, b in pairs)


async def test_a_hold_holds_both_and_they_go_on_together(tmp_path: Path):
    evening = Evening()
    with evening.camera(tmp_path / "one") as one, evening.camera(tmp_path / "two") as two:
        async with evening.rig(tmp_path, one.address, two.address) as rig:
            await until(lambda: all(camera.connected for camera in rig.cameras()))
            shoot = await rig.start_shoot(plan(1.0, when={"start": "now", "frames": 10}))
            run = rig.shoots.runs[shoot.id]
            await until(lambda: run.book.last is not None and run.book.last.seq >= 3)
            await rig.shoots.hold(shoot.id)
            await asyncio.sleep(2.5)
            before = len(one.record()), len(two.record())
            await asyncio.sleep(1.5)
            assert (len(one.record()), len(two.record())) == before
            await rig.shoots.resume(shoot.id)
            shoot = await ended(rig, shoot)
            log, notes = await rows(rig, shoot), await rig.store.notes(shoot.id)
        compare(by_camera(log)["camera-1"], one)
        compare(by_camera(log)["camera-2"], two)
    assert same_moments(log) >= 9
    for frames in by_camera(log).values():
        others = [frame.cause for frame in missed(frames)]
        assert others in ([], ["held by hand"])
    assert [note.kind for note in notes].count("held") == 1


async def test_after_a_restart_both_go_on_with_the_same_slots(tmp_path: Path):
    evening = Evening()
    with evening.camera(tmp_path / "one") as one, evening.camera(tmp_path / "two") as two:
        async with evening.rig(tmp_path, one.address, two.address) as rig:
            await until(lambda: all(camera.connected for camera in rig.cameras()))
            shoot = await rig.start_shoot(plan(1.0, when={"start": "now", "duration": "16s"}))
            run = rig.shoots.runs[shoot.id]
            await until(lambda: run.book.last is not None and run.book.last.seq >= 4)
        async with evening.rig(tmp_path, one.address, two.address) as rig:
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
        compare(by_camera(log)["camera-1"], one)
        compare(by_camera(log)["camera-2"], two)
    assert same_moments(log) >= 12


async def test_cameras_that_are_not_there_are_refused_by_name(tmp_path: Path):
    evening = Evening()
    async with evening.rig(tmp_path, "ptpip:127.0.0.1:1:1") as rig:
        with pytest.raises(BadInput, match="camera-2") as refused:
            await rig.start_shoot(plan(cameras={"use": ["camera-1", "camera-2"]}))
    assert (refused.value.code, bool(refused.value.remedy)) == ("no-such-camera", True)
