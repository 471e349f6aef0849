"""Each fault does to the initiator what it says, and the camera's own record tells the truth beside it."""

import io
import struct
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image, UnidentifiedImageError

from tests.simulated.initiator import Initiator
from tests.support.simcam import SimulatedCamera, start_simulated_camera

OK, BUSY, STORE_FULL, NO_THUMB = 0x2001, 0x2019, 0x200C, 0x2010
RELEASE, SET = 0x100E, 0x1016
ADDED, COMPLETE, FULL_EVENT = 0x4002, 0x400D, 0x400A


@pytest.fixture
def initiator(camera: SimulatedCamera) -> Iterator[Initiator]:
    with Initiator(camera.port, camera.event_port, timeout=3) as connected:
        yield connected


def _frame(initiator: Initiator) -> int:
    """Release, wait until it is written, and give its handle."""
    assert initiator.ask(RELEASE, 0, 0)[0] == OK
    return initiator.events_until(COMPLETE)[0][1][0]


def _wait_for_frames(camera: SimulatedCamera, count: int) -> None:
    end = time.monotonic() + 60
    while len(camera.record()) < count and time.monotonic() < end:
        time.sleep(0.02)
    assert len(camera.record()) == count


def _again(camera: SimulatedCamera) -> Initiator:
    """Connect once more, trying for ten seconds as a client would."""
    end = time.monotonic() + 60
    while True:
        try:
            return Initiator(camera.port, camera.event_port, timeout=1)
        except OSError:
            if time.monotonic() > end:
                raise
            time.sleep(0.05)


@pytest.mark.parametrize(("word", "taken"), [("mute(60)", 1), ("deaf(60)", 0)])
def test_silence_with_and_without_the_frame(
    camera: SimulatedCamera, initiator: Initiator, word: str, taken: int
) -> None:
    camera.control("script", words=word)
    initiator.commands.settimeout(0.5)
    for operation in (RELEASE, 0x1001):
        with pytest.raises(TimeoutError):
            initiator.ask(operation)
    with pytest.raises(TimeoutError):
        Initiator(camera.port, camera.event_port, timeout=0.5)
    _wait_for_frames(camera, taken)
    camera.control("fault", word="ok")
    with _again(camera) as second:
        files = second.ask(0x1007, 0xFFFFFFFF, 0x3801, 0)[1]
        assert len(files) // 4 - 1 == taken


def test_a_late_answer_comes_after_the_frame(camera: SimulatedCamera, initiator: Initiator) -> None:
    camera.control("script", words="late(1)")
    initiator.send_request(RELEASE, 0, 0)
    initiator.events_until(COMPLETE)
    initiator.commands.settimeout(0.1)
    with pytest.raises(TimeoutError):
        initiator.read_answer()
    initiator.commands.settimeout(5)
    assert initiator.read_answer()[0] == OK


@pytest.mark.parametrize("word", ["cut", "drop", "gone(0.5)"])
def test_a_lost_connection_does_not_lose_the_frame(camera: SimulatedCamera, initiator: Initiator, word: str) -> None:
    camera.control("script", words=word)
    if word == "cut":
        with pytest.raises(ConnectionError):
            initiator.ask(RELEASE, 0, 0)
    else:
        assert initiator.ask(RELEASE, 0, 0)[0] == OK
        with pytest.raises(ConnectionError):
            initiator.ask(0x1001)
    if word.startswith("gone"):
        with pytest.raises(ConnectionRefusedError):
            Initiator(camera.port, camera.event_port)
    with _again(camera) as second:
        _wait_for_frames(camera, 1)
        files = second.ask(0x1007, 0xFFFFFFFF, 0x3801, 0)[1]
        assert len(files) == 8
        _frame(second)


def test_refusals_by_script_and_by_word(camera: SimulatedCamera, initiator: Initiator) -> None:
    camera.control("script", words="refuse(device_busy) refuse(2002) ok")
    assert [initiator.ask(RELEASE, 0, 0)[0] for _ in range(3)] == [BUSY, 0x2002, OK]
    initiator.events_until(COMPLETE)
    camera.control("refuse", operation="set", code="access_denied", times=2)
    iso = struct.pack("<H", 400)
    assert [initiator.ask(SET, 0x500F, data=iso)[0] for _ in range(3)] == [0x200F, 0x200F, OK]
    assert len(camera.record()) == 1


def test_a_busy_storm_passes(camera: SimulatedCamera, initiator: Initiator) -> None:
    camera.control("fault", word="busy(60)")
    assert initiator.ask(RELEASE, 0, 0)[0] == BUSY
    assert initiator.ask(SET, 0x500F, data=struct.pack("<H", 400))[0] == BUSY
    assert initiator.ask(0x1001)[0] == OK
    camera.control("fault", word="ok")
    _frame(initiator)


def test_full_card_freed_again(camera: SimulatedCamera, initiator: Initiator) -> None:
    camera.control("script", words="full ok free nospace")
    assert [initiator.ask(RELEASE, 0, 0)[0] for _ in range(2)] == [STORE_FULL, STORE_FULL]
    _frame(initiator)
    assert initiator.ask(RELEASE, 0, 0)[0] == OK
    assert [code for code, _ in initiator.events_until(COMPLETE)] == [FULL_EVENT, COMPLETE]
    assert [(f["written"], f["why"]) for f in camera.record()] == [(True, ""), (False, "card full")]


def test_asleep_after_idling(camera: SimulatedCamera, initiator: Initiator) -> None:
    camera.control("fault", word="sleep(1.5,2)")
    assert initiator.ask(0x1001)[0] == OK
    time.sleep(1.8)
    initiator.commands.settimeout(0.3)
    with pytest.raises(TimeoutError):  # the request that wakes it
        initiator.ask(0x1001)
    initiator.commands.settimeout(30)
    time.sleep(2)
    assert initiator.ask(0x1001)[0] == OK


def test_events_go_missing_or_come_twice(camera: SimulatedCamera, initiator: Initiator) -> None:
    camera.control("script", words="noevent twice unwritten ok")
    seen = []
    for _ in range(4):
        assert initiator.ask(RELEASE, 0, 0)[0] == OK
        seen.append([code for code, _ in initiator.events_until(COMPLETE)])
    assert seen == [[COMPLETE], [ADDED, ADDED, COMPLETE], [COMPLETE], [ADDED, COMPLETE]]
    assert [f["written"] for f in camera.record()] == [True, True, False, True]


def test_spoilt_pictures(camera: SimulatedCamera, initiator: Initiator) -> None:
    camera.control("script", words="corrupt truncate badthumb nothumb ok")
    handles = [_frame(initiator) for _ in range(5)]
    files = [initiator.ask(0x1009, h)[1] for h in handles]
    thumbs = [initiator.ask(0x100A, h) for h in handles]

    def pixels(data: bytes) -> list[int]:
        with Image.open(io.BytesIO(data)) as image:
            return list(image.convert("L").resize((16, 16)).tobytes())

    good = pixels(files[4])
    assert pixels(files[3]) == pytest.approx(good, abs=6)
    with pytest.raises((OSError, AssertionError)):  # broken to the decoder, or far from what was seen
        assert pixels(files[0]) == pytest.approx(good, abs=6)
    with pytest.raises(OSError, match="truncated"):
        pixels(files[1])
    for index in (0, 1, 4):
        assert len(pixels(thumbs[index][1])) == 256
    with pytest.raises(UnidentifiedImageError):
        pixels(thumbs[2][1])
    assert thumbs[3][0] == NO_THUMB


def test_battery_by_word_and_by_use(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, rate=2000) as camera:
        camera.control("fault", word="battery(15)")
        assert camera.control("settings")["battery_level"] == 15
        time.sleep(1)  # more than half an hour of the scene
        assert camera.control("settings")["battery_level"] < 15
        with Initiator(camera.port, camera.event_port) as initiator:
            assert initiator.ask(RELEASE, 0, 0)[0] == OK
            assert initiator.events_until(0x4006)[-1] == (0x4006, (0x5001,))  # DevicePropChanged: BatteryLevel


def test_the_lamp_and_the_clouds(camera: SimulatedCamera) -> None:
    clear = camera.control("now")["scene_ev"]
    camera.control("lamp", lux=5000)
    assert camera.control("now")["scene_ev"] > clear + 1
    camera.control("lamp", lux=0)
    camera.control("clouds", sky="cloudy")
    assert camera.control("now")["scene_ev"] < clear - 0.1
    with pytest.raises(ValueError, match="sunny"):
        camera.control("clouds", sky="sunny")


def test_what_control_does_not_know_it_says_in_one_line(camera: SimulatedCamera) -> None:
    for command in (
        {"do": "nonsense"},
        {"do": "fault", "word": "corrupt"},
        {"do": "script", "words": "x"},
        {"do": "lamp"},
    ):
        with pytest.raises(ValueError, match=r"\w") as caught:
            camera.control(**command)
        assert "\n" not in str(caught.value)


@pytest.mark.parametrize("option", ["--faults=mut(3)", "--size=big", "--latitude=95", "--epoch-utc=dusk", "--rate=0"])
def test_bad_options_are_refused(tmp_path: Path, option: str) -> None:
    command = [sys.executable, "-m", "controller.simulated", f"--card={tmp_path}", option]
    done = subprocess.run(command, capture_output=True, text=True, timeout=30, check=False)
    assert done.returncode == 2
    assert option[2:].split("=")[0] in done.stderr
    assert "Traceback" not in done.stderr


def test_dozing_after_a_while_without_work_whatever_is_asked(camera: SimulatedCamera, initiator: Initiator) -> None:
    initiator.commands.settimeout(30)
    camera.control("fault", word="doze(0.5,0.3)")
    end = time.monotonic() + 60
    while camera.control("sleep")["woken_by"]["other"] < 2:  # questions wake it and do not keep it awake
        assert time.monotonic() < end
        assert initiator.ask(0x1001)[0] == OK
        time.sleep(0.05)
    while not camera.control("sleep")["asleep"]:
        time.sleep(0.05)
    _frame(initiator)
    assert camera.control("sleep")["woken_by"]["release"] == 1


def test_a_body_that_leaves_ends_the_connection_and_greets_again(camera: SimulatedCamera, initiator: Initiator) -> None:
    camera.control("fault", word="leave(0.5,0.3)")
    with pytest.raises(ConnectionError):
        initiator.event()
    with _again(camera) as second:
        camera.control("fault", word="ok")
        _frame(second)
