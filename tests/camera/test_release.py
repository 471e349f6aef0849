"""The ways in which a shutter is released: which a body has, what follows a refusal, and what is kept of it.

The texts of the button are those that libgphoto2 2.5.34 and 2.5.32 gave for the simulated camera.
"""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from controller.camera.link import CameraLink
from controller.camera.messages import Missed, Opened, Released, Trouble, Written
from controller.camera.worker.kept import Kept
from controller.camera.worker.release import ways
from tests.camera.ear import Ear, connected, order
from tests.support.simcam import SimulatedCamera, start_simulated_camera

NOW = (
    "None;Press Half AF;Press Full AF;Press Half MF;Press Full MF;Release Half;Release Full;Release"  # 2.5.34
).split(";")
UNTIL_2_5_33 = (
    "None;Press Half;Press Full;Release Half;Release Full;Immediate;"
    "Press 1;Press 2;Press 3;Release 1;Release 2;Release 3"  # 2.5.32
).split(";")
WITHOUT_FOCUS, WITH_FOCUS = ["canon_remote_release_on", 3, 1], ["canon_remote_release_on", 3, 0]
LETS_GO = ["canon_remote_release_off", 3]
CALL = [["canon_remote_release_on", 1, 0], ["canon_remote_release_on", 2, 0]]  # of the library's own capture call


@pytest.mark.parametrize(
    ("texts", "kept", "names"),
    [
        (NOW, "", ["Press Full MF", "Press Full AF", "trigger_capture"]),
        (UNTIL_2_5_33, "", ["Press Full", "Press 3", "trigger_capture"]),
        ([], "", ["trigger_capture"]),
        (["None", "Press Full"], "", ["trigger_capture"]),  # a press that nothing ends
        (NOW, "Press Full AF", ["Press Full AF", "Press Full MF", "trigger_capture"]),
        (NOW, "trigger_capture", ["trigger_capture", "Press Full MF", "Press Full AF"]),
        (NOW, "Press Full", ["Press Full MF", "Press Full AF", "trigger_capture"]),  # kept before the texts changed
    ],
)
def test_ways_of_a_body(texts: list[str], kept: str, names: list[str]) -> None:
    found = ways(texts, kept)
    assert [way.name for way in found] == names
    assert all("Half" not in way.name for way in found)
    assert all(way.lets_go in texts for way in found if way.lets_go)


def test_what_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "release.json"
    Kept(path).keep("One 1", "Press Full AF")
    Kept(path).keep("Two 2", "trigger_capture")
    assert [Kept(path).way(body) for body in ("One 1", "Two 2", "Three 3")] == ["Press Full AF", "trigger_capture", ""]
    for damage in ("", "{", "[1]", "7"):
        path.write_text(damage)
        assert Kept(path).way("One 1") == ""
    Kept(path).keep("One 1", "Press Full AF")
    assert Kept(path).way("One 1") == "Press Full AF"
    nowhere = Kept(tmp_path / "nowhere" / "release.json")
    assert nowhere.way("One 1") == ""
    with pytest.raises(OSError, match="No such file"):
        nowhere.keep("One 1", "Press Full AF")


def presses(camera: SimulatedCamera) -> list[list[str | int]]:
    """What the camera heard, without the ends of presses."""
    return [each for each in camera.control("pressed")["requests"] if each[0] == "canon_remote_release_on"]


def passed_over(ear: Ear) -> list[Trouble]:
    """What was told of ways that the body does not know."""
    return [told for told in ear.all(Trouble) if told.code == "release-way"]


async def frame(link: CameraLink, ear: Ear, seq: int, directory: Path) -> None:
    """Order one frame and wait until it is written."""
    await link.release(order(seq, time.monotonic() + 0.2, directory, shutter_s=1 / 64, fetch="none"))
    await ear.until(lambda: seq in ear.of(Written))


async def test_a_frame_is_one_press_without_focus(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, maker="canon", epoch_utc="2026-10-20T16:20:00Z") as camera:
        async with connected(camera.address) as (link, ear):
            for seq in (1, 2, 3):
                await frame(link, ear, seq, tmp_path / "rig")
            assert camera.control("pressed")["requests"] == [WITHOUT_FOCUS, LETS_GO] * 3
            assert camera.control("settings")["button"] == 0
        assert len(camera.record()) == 3
    assert not passed_over(ear)


@pytest.mark.parametrize(
    ("unknown", "first", "then"),
    [
        ([3, 1], [WITHOUT_FOCUS, WITH_FOCUS], [WITH_FOCUS]),
        ([3], [WITHOUT_FOCUS, WITH_FOCUS, *CALL], CALL),
    ],
)
async def test_a_way_that_the_body_does_not_know_is_passed_over_for_good(
    tmp_path: Path, unknown: list[int], first: list[list[str | int]], then: list[list[str | int]]
) -> None:
    """In the same slot, told once, and known to the next process and the next start of the rig."""
    refusal = {"operation": "canon_remote_release_on", "code": "parameter_not_supported", "times": 1000}
    with start_simulated_camera(tmp_path, maker="canon", epoch_utc="2026-10-20T16:20:00Z") as camera:
        camera.control("refuse", **refusal, params=unknown)
        async with connected(camera.address, settings=tmp_path / "kept") as (link, ear):
            await frame(link, ear, 1, tmp_path / "rig")
            assert presses(camera) == first
            await frame(link, ear, 2, tmp_path / "rig")
            assert presses(camera) == first + then
            assert link._process is not None
            link._process.kill()
            await ear.count(Opened, 2)
            await ear.until(lambda: link.opened is not None)
            await frame(link, ear, 3, tmp_path / "rig")
        async with connected(camera.address, settings=tmp_path / "kept") as (link, again):
            await frame(link, again, 4, tmp_path / "rig")
        assert presses(camera) == first + 3 * then
        assert len(camera.record()) == 4
    assert not ear.all(Missed)
    assert [told.seq for told in passed_over(ear) + passed_over(again)] == [1]
    assert ear.of(Released)[1].at_mono <= camera.record()[0]["released_mono"]


async def test_a_body_that_is_busy_or_full_is_asked_again_in_the_same_way(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, maker="canon", epoch_utc="2026-10-20T16:20:00Z") as camera:
        async with connected(camera.address) as (link, ear):
            for operation in ("release", "canon_remote_release_off"):
                camera.control("refuse", operation=operation, code="device_busy", times=3)
            await frame(link, ear, 1, tmp_path / "rig")
            assert presses(camera) == [WITHOUT_FOCUS] * 4
            await ear.until(lambda: not camera.control("settings")["button"])  # busy then, too, and asked again
            camera.control("fault", word="full")
            await link.release(order(2, time.monotonic() + 0.4, tmp_path / "rig", fetch="none"))
            await ear.until(lambda: "card-full" in [told.code for told in ear.all(Trouble)])
            camera.control("fault", word="free")
            await ear.until(lambda: 2 in ear.of(Written))
            asked = len(presses(camera))
            await frame(link, ear, 3, tmp_path / "rig")
            assert presses(camera)[asked:] == [WITHOUT_FOCUS]
        assert len(camera.record()) == 3
    assert not passed_over(ear)


async def test_a_refusal_without_a_reason_counts_once_it_has_come_often(tmp_path: Path) -> None:
    """The library gives none for a press, so that a full card, too, may be behind it: one alone proves nothing."""
    with start_simulated_camera(tmp_path, maker="canon", epoch_utc="2026-10-20T16:20:00Z") as camera:
        camera.control(
            "refuse", operation="canon_remote_release_on", code="general_error", times=1000, params=WITHOUT_FOCUS[1:]
        )
        (tmp_path / "kept" / "release.new").mkdir(parents=True)  # so that it cannot be kept
        async with connected(camera.address, settings=tmp_path / "kept") as (link, ear):
            for seq in (1, 2, 3):
                assert not passed_over(ear)
                await frame(link, ear, seq, tmp_path / "rig")
            await ear.until(lambda: [told.seq for told in passed_over(ear)] == [3])
            await frame(link, ear, 4, tmp_path / "rig")
            assert presses(camera) == [WITHOUT_FOCUS, WITH_FOCUS] * 3 + [WITH_FOCUS]
        assert len(camera.record()) == 4
    assert "could not be kept" in passed_over(ear)[0].remedy
