"""PTP/IP without libgphoto2: what the responder answers, by the codes of ISO 15740 and the packets of CIPA DC-005."""

import socket
import struct
import time
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest

from tests.simulated.initiator import INIT_COMMAND, INIT_EVENT, INIT_FAIL, PING, PONG, Initiator, receive, send
from tests.support.simcam import SimulatedCamera, start_simulated_camera

OK, SESSION_NOT_OPEN, NOT_SUPPORTED, INVALID_HANDLE, STORE_FULL, BUSY = 0x2001, 0x2003, 0x2005, 0x2009, 0x200C, 0x2019
ACCESS_DENIED, BAD_FORMAT, BAD_VALUE, BAD_PARAMETER, ALREADY_OPEN = 0x200F, 0x201B, 0x201C, 0x201D, 0x201E
ENDED_ALREADY = 0x2018
RELEASE, SET, GET, DESCRIBE = 0x100E, 0x1016, 0x1015, 0x1014
SHUTTER, APERTURE, ISO, BATTERY = 0x500D, 0x5007, 0x500F, 0x5001
ADDED, COMPLETE, FULL_EVENT = 0x4002, 0x400D, 0x400A


@pytest.fixture
def initiator(camera: SimulatedCamera) -> Iterator[Initiator]:
    with Initiator(camera.port, camera.event_port) as connected:
        yield connected


def _shutter(initiator: Initiator, seconds: float) -> None:
    code, _, _ = initiator.ask(SET, SHUTTER, data=struct.pack("<I", round(seconds * 10_000)))
    assert code == OK


def test_device_info_has_what_the_standard_asks_for(initiator: Initiator) -> None:
    code, data, _ = initiator.ask(0x1001)
    assert code == OK
    version, vendor, _ = struct.unpack("<HIH", data[:8])
    assert (version, vendor) == (100, 0)
    at, lists = 8 + 1 + 2, []
    for _ in range(5):
        (count,) = struct.unpack_from("<I", data, at)
        lists.append(struct.unpack_from(f"<{count}H", data, at + 4))
        at += 4 + 2 * count
    operations, events, properties, captured, images = lists
    assert {*range(0x1001, 0x100C), 0x100E, 0x1014, 0x1015, 0x1016, 0x101B, 0x1024, 0x1025} <= set(operations)
    assert {ADDED, 0x4006, FULL_EVENT, COMPLETE} <= set(events)
    assert {BATTERY, 0x5004, 0x5005, APERTURE, 0x500A, SHUTTER, 0x500E, ISO, 0x5020, 0x5021} <= set(properties)
    assert captured == (0x3801,)
    assert 0x3801 in images


def test_nothing_but_device_info_works_without_a_session(camera: SimulatedCamera) -> None:
    with Initiator(camera.port, camera.event_port, session=False) as initiator:
        assert initiator.ask(0x1001)[0] == OK
        assert initiator.ask(0x1004)[0] == SESSION_NOT_OPEN
        assert initiator.ask(RELEASE, 0, 0)[0] == SESSION_NOT_OPEN
        assert initiator.ask(0x1002, 1)[0] == OK
        assert initiator.ask(0x1002, 1)[0] == ALREADY_OPEN
        assert initiator.ask(0x1003)[0] == OK
        assert initiator.ask(0x1004)[0] == SESSION_NOT_OPEN


def test_what_cannot_be_done_is_refused_with_its_code(initiator: Initiator) -> None:
    bulb_only, no_bulb_open = (0x101C, (0, 0), None, BAD_PARAMETER), (0x1018, (1,), None, ENDED_ALREADY)
    cases: list[tuple[int, tuple[int, ...], bytes | None, int]] = [
        (0x9207, (), None, NOT_SUPPORTED),
        (0x1008, (0x12345,), None, INVALID_HANDLE),
        (0x1009, (0x40000000,), None, INVALID_HANDLE),  # a folder has no bytes
        (GET, (0xD100,), None, 0x200A),
        (SET, (ISO,), struct.pack("<H", 101), BAD_VALUE),
        (SET, (ISO,), struct.pack("<I", 100), BAD_FORMAT),
        (SET, (BATTERY,), b"\x50", ACCESS_DENIED),
        (0x1005, (0x00020001,), None, 0x2008),
        no_bulb_open,
        bulb_only,
    ]
    answers = [initiator.ask(operation, *params, data=data)[0] for operation, params, data, _ in cases]
    assert answers == [expected for *_, expected in cases]
    assert initiator.ask(0x1001)[0] == OK  # and the session goes on


def test_busy_while_exposing_and_events_in_order(initiator: Initiator) -> None:
    _shutter(initiator, 0.5)
    assert initiator.ask(RELEASE, 0, 0)[0] == OK
    assert initiator.ask(RELEASE, 0, 0)[0] == BUSY
    for prop, form, value in ((SHUTTER, "<I", 80), (APERTURE, "<H", 400), (ISO, "<H", 200), (0x500E, "<H", 1)):
        assert initiator.ask(SET, prop, data=struct.pack(form, value))[0] == BUSY
    assert initiator.ask(SET, 0x5005, data=struct.pack("<H", 4))[0] == OK  # white balance may be set
    assert initiator.ask(GET, SHUTTER)[1] == struct.pack("<I", 5000)
    (added, (handle,)), *rest = initiator.events_until(COMPLETE)
    assert (added, [code for code, _ in rest]) == (ADDED, [COMPLETE])
    code, info, _ = initiator.ask(0x1008, handle)
    assert code == OK
    assert struct.unpack_from("<H", info, 4) == (0x3801,)
    assert initiator.ask(RELEASE, 0, 0)[0] == OK


def test_the_buffer_takes_frames_while_earlier_ones_are_written(tmp_path: Path) -> None:
    with (
        start_simulated_camera(tmp_path, readout=0, write=1.5, buffer=3) as camera,
        Initiator(camera.port, camera.event_port) as initiator,
    ):
        _shutter(initiator, 0.001)
        taken = 0
        while initiator.ask(RELEASE, 0, 0)[0] == OK:
            taken += 1
            time.sleep(0.02)
        assert taken == 3
        assert initiator.events_until(COMPLETE)[0][0] == ADDED
        while (answer := initiator.ask(RELEASE, 0, 0)[0]) == BUSY:  # until the buffer has let go of it
            time.sleep(0.02)
        assert answer == OK


def test_bulb_ends_when_it_is_told_to(initiator: Initiator, camera: SimulatedCamera) -> None:
    assert initiator.ask(SET, SHUTTER, data=struct.pack("<I", 0xFFFFFFFF))[0] == OK
    assert initiator.ask(RELEASE, 0, 0)[0] == BAD_PARAMETER
    assert initiator.ask(0x101C, 0, 0)[0] == OK
    assert initiator.ask(0x101C, 0, 0)[0] == BUSY
    time.sleep(0.3)
    assert initiator.ask(0x1018, 1)[0] == OK
    initiator.events_until(COMPLETE)
    (frame,) = camera.record()
    assert frame["written"]
    assert frame["shutter_s"] >= 0.3


def test_a_full_card_refuses_and_a_card_that_fills_says_so(tmp_path: Path) -> None:
    with (
        start_simulated_camera(
            tmp_path, capacity=90_000, readout=0, write=0, epoch_utc="2026-10-03T15:00:00Z"
        ) as camera,  # by day, since a dark picture has few bytes
        Initiator(camera.port, camera.event_port) as initiator,
    ):
        _shutter(initiator, 0.001)
        seen = []
        for _ in range(12):
            code, _, _ = initiator.ask(RELEASE, 0, 0)
            if code == STORE_FULL:
                break
            assert code == OK
            seen += [e for e, _ in initiator.events_until(COMPLETE)]
        assert code == STORE_FULL
        on_card = list((camera.card / "DCIM").rglob("*.JPG"))
        assert seen.count(ADDED) == len(on_card) >= 1
        record = camera.record()
        assert len([f for f in record if f["written"]]) == len(on_card)
        assert seen.count(FULL_EVENT) == len([f for f in record if f["why"] == "card full"])
        info = initiator.ask(0x1005, 0x00010001)[1]
        free, images = struct.unpack_from("<QI", info, 14)
        assert free == 90_000 - sum(p.stat().st_size for p in on_card)
        assert images == 0


def test_handles_and_numbers_survive_a_restart_and_a_deletion(tmp_path: Path) -> None:
    def shoot(camera: SimulatedCamera) -> tuple[int, list[int]]:
        with Initiator(camera.port, camera.event_port) as initiator:
            assert initiator.ask(RELEASE, 0, 0)[0] == OK
            handle = initiator.events_until(COMPLETE)[0][1][0]
            listed = initiator.ask(0x1007, 0xFFFFFFFF, 0x3801, 0)[1]
            if len(listed) > 8:
                assert initiator.ask(0x100B, handle)[0] == OK
            return handle, list(struct.unpack(f"<{len(listed) // 4}I", listed))[1:]

    handles = []
    for _ in range(3):
        with start_simulated_camera(tmp_path) as camera:
            handle, listed = shoot(camera)
            assert listed == [*handles[:1], handle]
            handles.append(handle)
    assert len(set(handles)) == 3
    names = [f["files"][0][-12:] for f in camera.record()]
    assert names == ["DUSK0001.JPG", "DUSK0002.JPG", "DUSK0003.JPG"]


def test_a_new_initiator_takes_over_from_a_dead_one(camera: SimulatedCamera, initiator: Initiator) -> None:
    with Initiator(camera.port, camera.event_port) as second:
        assert second.ask(RELEASE, 0, 0)[0] == OK
        assert second.events_until(COMPLETE)[0][0] == ADDED
        with pytest.raises(ConnectionError):
            initiator.ask(0x1001)


def test_probes_and_strangers(camera: SimulatedCamera, initiator: Initiator) -> None:
    send(initiator.events, PING)
    assert receive(initiator.events) == (PONG, b"")
    for port, kind, body in (
        (camera.event_port, INIT_EVENT, struct.pack("<I", 4711)),
        (camera.port, INIT_FAIL, b"\0\0\0\0"),
    ):
        with socket.create_connection(("127.0.0.1", port), 5) as stranger:
            send(stranger, kind, body)
            assert receive(stranger)[0] == INIT_FAIL
    with socket.create_connection(("127.0.0.1", camera.port), 5) as stranger:
        stranger.sendall(struct.pack("<II", 0xFFFFFFFF, INIT_COMMAND))
        with pytest.raises(ConnectionError):
            receive(stranger)
    assert initiator.ask(0x1001)[0] == OK


def test_the_camera_dates_by_the_scene_and_can_be_set(camera: SimulatedCamera, initiator: Initiator) -> None:
    def clock() -> str:
        return initiator.ask(GET, 0x5011)[1][1:].decode("utf-16-le").rstrip("\0")

    assert clock().startswith("20261003T172")
    wanted = "20300101T120000"
    text = bytes([len(wanted) + 1]) + (wanted + "\0").encode("utf-16-le")
    assert initiator.ask(SET, 0x5011, data=text)[0] == OK
    assert clock().startswith("20300101T1200")


def test_the_scene_runs_faster_than_the_wall(tmp_path: Path) -> None:
    """A 30 s exposure is 32 s of the scene (common practice, no source) and half a second of the wall at rate 64.

    Of the wall's clock only what was surely and what was at most between two answers is held against the scene's.
    """
    with (
        start_simulated_camera(tmp_path, rate=64, epoch_utc="2026-10-03T17:20:00Z") as camera,
        Initiator(camera.port, camera.event_port) as initiator,
    ):
        _shutter(initiator, 30)
        assert initiator.ask(RELEASE, 0, 0)[0] == OK
        initiator.events_until(COMPLETE)
        asked = []
        for _ in range(2):
            time.sleep(0.3)
            asked.append((time.monotonic(), camera.control("now")["utc"], time.monotonic()))
    (frame,) = camera.record()
    assert frame["shutter_s"] == 32
    assert frame["released_utc"] < asked[0][1]
    first, second = (datetime.fromisoformat(utc) for _, utc, _ in asked)
    scene_s = (second - first).total_seconds()
    assert 64 * (asked[1][0] - asked[0][2]) - 0.01 <= scene_s <= 64 * (asked[1][2] - asked[0][0]) + 0.01
