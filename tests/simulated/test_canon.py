"""The Canon EOS-like dialect: libgphoto2's own tables against the body's true values, and the button on the wire.

Codes on the wire: libgphoto2 2.5.34, camlibs/ptp2/ptp.h.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Iterator
from pathlib import Path

import pytest

from controller.simulated.stops import APERTURE, ISO, SHUTTER_S
from tests.simulated.initiator import Initiator
from tests.simulated.libgphoto2 import run
from tests.support.simcam import SimulatedCamera, start_simulated_camera

OK, NOT_SUPPORTED, NO_SUCH_PROP, READ_ONLY, BUSY, BAD_FORMAT, BAD_VALUE = (
    0x2001, 0x2005, 0x200A, 0x200F, 0x2019, 0x201B, 0x201C,
)  # fmt: skip
SET, REMOTE, EVENTS_ON, GET_EVENT, ASK_FOR, PRESS, LET_GO = 0x9110, 0x9114, 0x9115, 0x9116, 0x9127, 0x9128, 0x9129
SHUTTER, BATTERY, TARGET = 0xD102, 0xD111, 0xD11C
ADDED, VALUE = 0xC181, 0xC189
HALF, FULLY, BOTH = 1, 2, 3
CARD, HOST = 2, 4


@pytest.fixture
def canon(tmp_path: Path) -> Iterator[SimulatedCamera]:
    with start_simulated_camera(
        tmp_path, maker="canon", files="raw+jpeg", epoch_utc="2026-10-03T17:20:00Z", readout=0, write=0.01
    ) as running:
        yield running


@pytest.fixture
def initiator(canon: SimulatedCamera) -> Iterator[Initiator]:
    with Initiator(canon.port, canon.event_port) as connected:
        assert connected.ask(REMOTE, 1)[0] == OK
        yield connected


def test_the_library_s_labels_mean_what_the_body_does(canon: SimulatedCamera) -> None:
    """Each label that libgphoto2 has for the maker's codes, against the exposure that the body takes for it."""
    taken = run(
        canon.address,
        f"""
        import socket
        def body():
            with socket.create_connection(("127.0.0.1", {canon.control_port})) as sock:
                sock.sendall(b'{{"do": "settings"}}' + bytes([10]))
                return json.loads(sock.makefile().readline())
        out = {{}}
        for name, key in (("shutterspeed", "exposure_time"), ("aperture", "f_number"), ("iso", "exposure_index")):
            out[name] = {{}}
            for label in choices(name):
                put(name, label)
                out[name][label] = body()[key]
        out["auto"] = body()["canon_iso_auto"]
        put("iso", "Auto")
        out["auto then"] = body()["canon_iso_auto"]
        """,
    )
    assert (taken["auto"], taken["auto then"]) == (0, 1)
    assert taken["shutterspeed"].pop("bulb") == 0xFFFFFFFF
    del taken["iso"]["Auto"]
    for name, true, stops in (("shutterspeed", SHUTTER_S, 1), ("aperture", APERTURE, 2), ("iso", ISO, 1)):
        assert len(set(taken[name].values())) == len(true)
        for label, code in taken[name].items():
            top, _, bottom = label.partition("/")
            said = float(top) / float(bottom or 1)
            assert abs(stops * math.log2(said / true[code])) < 0.15, label  # labels round: tests/simulated/test_stops


def test_other_settings_by_the_library_s_names(canon: SimulatedCamera) -> None:
    out = run(
        canon.address,
        """
        out = {n: [read(n), choices(n)] for n in ("imageformat", "capturetarget", "focusmode", "autoexposuremode",
                                                  "drivemode", "whitebalance", "picturestyle")}
        out |= {n: read(n) for n in ("autopoweroff", "availableshots", "eosserialnumber", "datetime", "batterylevel")}
        put("imageformat", "L"); put("focusmode", "One Shot"); put("autopoweroff", "0"); put("drivemode", "Continuous")
        out["then"] = [read(n) for n in ("imageformat", "focusmode", "autopoweroff", "drivemode")]
        """,
    )
    assert out["imageformat"] == ["RAW + L", ["L", "RAW + L"]]
    assert out["capturetarget"][1] == ["Internal RAM", "Memory card"]  # which of them, the library keeps on the host
    assert out["focusmode"] == ["Manual", ["One Shot", "AI Servo", "Manual"]]
    assert out["autoexposuremode"] == ["Manual", ["P", "TV", "AV", "Manual"]]
    assert out["drivemode"] == ["Single", ["Single", "Continuous"]]
    assert out["whitebalance"][0] == "Daylight"
    assert out["picturestyle"][0] == "Standard"
    assert (out["autopoweroff"], out["eosserialnumber"], out["batterylevel"]) == ("60", "DH-0001", "100%")
    assert int(out["availableshots"]) > 1000
    assert out["datetime"] == pytest.approx(1_791_048_000, abs=120)  # 2026-10-03T17:20:00Z
    assert out["then"] == ["L", "One Shot", "0", "Continuous"]


def test_the_battery_in_the_library_s_steps(canon: SimulatedCamera) -> None:
    shown = []
    for percent in (95, 70, 45, 20, 3):
        canon.control("fault", word=f"battery({percent})")
        shown.append(run(canon.address, 'out = read("batterylevel")'))
    assert shown == ["100%", "75%", "50%", "25%", "Low"]


def _set(initiator: Initiator, code: int, value: int) -> int:
    return initiator.ask(SET, data=struct.pack("<III", 12, code, value))[0]


def _events(initiator: Initiator) -> list[tuple[int, bytes]]:
    """Kind and rest of each event since the last question."""
    _, data, _ = initiator.ask(GET_EVENT)
    found, at = [], 0
    while True:
        size, kind = struct.unpack_from("<II", data, at)
        if kind == 0:
            assert (size, at + size) == (8, len(data))
            return found
        found.append((kind, data[at + 8 : at + size]))
        at += size


def _handles(initiator: Initiator, count: int) -> list[int]:
    handles: list[int] = []
    while len(handles) < count:
        handles += [struct.unpack_from("<I", rest)[0] for kind, rest in _events(initiator) if kind == ADDED]
    return handles


def test_a_button_that_is_held_releases_once(canon: SimulatedCamera, initiator: Initiator) -> None:
    assert _set(initiator, TARGET, CARD) == OK
    assert initiator.ask(PRESS, HALF, 0)[0] == OK
    assert canon.control("frames")["taken"] == 0
    assert initiator.ask(PRESS, BOTH, 1)[0] == OK
    _handles(initiator, 2)
    assert initiator.ask(PRESS, FULLY, 1)[0] == OK
    assert initiator.ask(LET_GO, BOTH)[0] == OK
    assert initiator.ask(PRESS, BOTH, 1)[0] == OK
    _handles(initiator, 2)
    assert len(canon.record()) == 2
    assert canon.control("settings")["button"] == BOTH
    assert initiator.ask(REMOTE, 1)[0] == OK  # a new host holds nothing
    assert canon.control("settings")["button"] == 0


def test_frames_go_to_the_host_until_the_card_is_chosen(canon: SimulatedCamera, initiator: Initiator) -> None:
    assert canon.control("settings")["canon_target"] == HOST
    assert initiator.ask(PRESS, BOTH, 1)[0] == OK
    assert initiator.ask(LET_GO, BOTH)[0] == OK
    assert _set(initiator, TARGET, CARD) == OK
    while initiator.ask(PRESS, BOTH, 1)[0] == BUSY:
        pass
    _handles(initiator, 2)
    assert [(shot["written"], shot["why"]) for shot in canon.record()] == [(False, "sent to the host"), (True, "")]


def test_what_cannot_be_set_is_refused(initiator: Initiator) -> None:
    assert _set(initiator, SHUTTER, 0x70) == OK
    assert _set(initiator, SHUTTER, 0x71) == BAD_VALUE
    assert _set(initiator, 0xD1FF, 0) == NO_SUCH_PROP
    assert _set(initiator, BATTERY, 1) == READ_ONLY
    assert initiator.ask(SET, data=b"\x0c\0\0\0")[0] == BAD_FORMAT
    assert initiator.ask(SET, data=struct.pack("<II", 8, SHUTTER))[0] == BAD_FORMAT
    assert initiator.ask(ASK_FOR, 0xD1FF)[0] == NO_SUCH_PROP
    assert initiator.ask(0x9207, 0, 0)[0] == NOT_SUPPORTED  # another maker's


def test_every_setting_is_told_when_events_are_wanted_and_a_change_once(initiator: Initiator) -> None:
    assert _events(initiator) == []
    assert initiator.ask(EVENTS_ON, 1)[0] == OK
    told = [struct.unpack_from("<I", rest)[0] for kind, rest in _events(initiator) if kind == VALUE]
    assert {SHUTTER, BATTERY, TARGET} <= set(told)
    assert len(told) == len(set(told))
    assert _set(initiator, SHUTTER, 0x68) == OK
    assert _events(initiator) == [(VALUE, struct.pack("<II", SHUTTER, 0x68))]
    assert _events(initiator) == []
