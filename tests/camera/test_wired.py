"""A camera fired by its contacts: its process with libgphoto2 in it, mock pins, and a simulated camera they press."""

from __future__ import annotations

import json
import time
from dataclasses import replace
from pathlib import Path

import pytest

from controller.camera.contacts import Contacts, tell, told
from controller.camera.link import CameraLink
from controller.camera.messages import Missed, Opened, Released, Trouble, Written
from tests.camera.ear import Ear, order
from tests.support.simcam import SimulatedCamera, start_simulated_camera

CONTACTS = Contacts(shutter_pin=23, focus_pin=24, high=True, first=False, lead_s=0.05, hold_s=0.05)
"""What the process is told."""

PINS = '''
"""A way to the pins: gpiozero's mock, with a camera on pin 23 that is fired while pin 24 is high."""

import json, socket, time
from gpiozero.pins.mock import MockFactory, MockPin

PORT, LOG, BROKEN = {port}, {log!r}, {broken!r}


class Pin(MockPin):
    def _set_state(self, value):
        before = self.state
        if BROKEN and value:
            raise OSError("the line is gone")
        super()._set_state(value)
        if self.state == before:
            return
        number = self.info.name
        with open(LOG, "a") as log:
            log.write(json.dumps([number, int(value), time.monotonic()]) + "\\n")
        if number == "GPIO23" and value and self.factory.pin("GPIO24").state:
            with socket.create_connection(("127.0.0.1", PORT), timeout=60) as sock:
                sock.sendall(b'{{"do": "press"}}\\n')
                sock.makefile().readline()


class Factory(MockFactory):
    def __init__(self):
        super().__init__(pin_class=Pin)
'''


@pytest.fixture
def wire(tmp_path, monkeypatch):
    """Makes the pins of a camera's process: a way to them that gpiozero finds as it finds its own."""

    def make(camera: SimulatedCamera, contacts: Contacts, *, broken: bool = False) -> Path:
        found, log = tmp_path / "found", tmp_path / "edges"
        info = found / "test_pins-1.dist-info"
        info.mkdir(parents=True)
        (info / "METADATA").write_text("Metadata-Version: 2.1\nName: test-pins\nVersion: 1\n")
        (info / "entry_points.txt").write_text("[gpiozero_pin_factories]\ntest = test_pins:Factory\n")
        (found / "test_pins.py").write_text(PINS.format(port=camera.control_port, log=str(log), broken=broken))
        monkeypatch.setenv("PYTHONPATH", str(found))
        monkeypatch.setenv("GPIOZERO_PIN_FACTORY", "test")
        tell(tmp_path / "settings", contacts)
        return log

    return make


def edges(log: Path) -> list[tuple[str, int, float]]:
    return [tuple(json.loads(line)) for line in log.read_text().splitlines()]


async def frames(tmp_path: Path, camera: SimulatedCamera, count: int = 3, **refused: int) -> Ear:
    """So many frames, each once the one before is on the card; `refused` releases the camera refuses before each."""
    link, ear = CameraLink(camera.address, settings=tmp_path / "settings"), Ear()
    link.listen(ear.hear)
    await link.start()
    try:
        await ear.count(Opened, 1)
        for operation, times in refused.items():
            camera.control("refuse", operation=operation, code="operation_not_supported", times=times)
        for seq in range(1, count + 1):
            await link.release(order(seq, time.monotonic() + 1.0, tmp_path / "rig"))
            await ear.until(lambda seq=seq: seq in ear.of(Written) or seq in ear.of(Missed))
    finally:
        await link.stop()
    return ear


async def test_where_the_camera_refuses_its_contacts_fire_it(tmp_path, wire):
    with start_simulated_camera(tmp_path) as camera:
        log = wire(camera, CONTACTS)
        ear = await frames(tmp_path, camera, 5, release=1000)
        record = camera.record()
    assert sorted(ear.of(Written)) == [1, 2, 3, 4, 5]
    assert not ear.all(Missed)
    names = [shot["files"][0].rpartition("/")[2] for shot in record]
    assert [ear.of(Written)[seq].camera_files[0].rpartition("/")[2] for seq in range(1, 6)] == names
    closed = [(pin, value) for pin, value, _ in edges(log)]
    assert closed == [("GPIO24", 1), ("GPIO23", 1), ("GPIO23", 0), ("GPIO24", 0)] * 5
    heard = [ear.of(Released)[n].at_mono for n in range(1, 6)]
    assert sorted([*fires(log), *heard]) == [at for pair in zip(fires(log), heard, strict=True) for at in pair]
    told = [trouble.what for trouble in ear.all(Trouble) if trouble.code == "release-way"]
    assert len(told) == 1
    assert "contacts" in told[0]


async def test_they_fire_first_where_that_is_wished(tmp_path, wire):
    with start_simulated_camera(tmp_path) as camera:
        log = wire(camera, replace(CONTACTS, first=True))
        ear = await frames(tmp_path, camera)
        taken = camera.control("frames")["taken"]
    assert taken == 3
    assert sorted(ear.of(Written)) == [1, 2, 3]
    assert not ear.all(Trouble)
    assert [pin for pin, value, _ in edges(log) if value] == ["GPIO24", "GPIO23"] * 3
    for (_, _, focus), (_, _, shutter) in zip(edges(log)[::4], edges(log)[1::4], strict=True):
        assert shutter - focus >= CONTACTS.lead_s - 0.001
    assert not any(released.at_mono < fired for released, fired in zip(ear.all(Released), fires(log), strict=True))


async def test_a_camera_that_releases_is_not_fired_by_them(tmp_path, wire):
    with start_simulated_camera(tmp_path) as camera:
        log = wire(camera, CONTACTS)
        ear = await frames(tmp_path, camera, 2)
    assert sorted(ear.of(Written)) == [1, 2]
    assert not log.exists()


@pytest.mark.parametrize("first", [False, True])
async def test_pins_that_fail_leave_the_camera_its_own_release(tmp_path, wire, first):
    with start_simulated_camera(tmp_path) as camera:
        wire(camera, replace(CONTACTS, first=first), broken=True)
        ear = await frames(tmp_path, camera, 3)
    assert sorted(ear.of(Written)) == [1, 2, 3]
    told = [trouble for trouble in ear.all(Trouble) if trouble.code == "pin-failed"]
    assert len(told) == (1 if first else 0)  # once, and only where they were to be used
    assert all("the line is gone" in trouble.what and trouble.remedy for trouble in told)


async def test_pins_that_fail_are_told_beside_a_way_that_the_body_does_not_know(tmp_path, wire):
    """Both are found at the first frame, which has one thing told of it: the other comes with the next."""
    with start_simulated_camera(tmp_path, maker="canon", epoch_utc="2026-10-20T16:20:00Z") as camera:
        wire(camera, replace(CONTACTS, first=True), broken=True)
        unknown = {"operation": "canon_remote_release_on", "code": "parameter_not_supported", "params": [3, 1]}
        camera.control("refuse", **unknown, times=1000)
        ear = await frames(tmp_path, camera, 3)
    assert sorted(ear.of(Written)) == [1, 2, 3]
    assert sorted(trouble.code for trouble in ear.all(Trouble)) == ["pin-failed", "release-way"]


async def test_contacts_that_cannot_be_read_are_told_of(tmp_path, wire):
    with start_simulated_camera(tmp_path) as camera:
        wire(camera, CONTACTS)
        (tmp_path / "settings/contacts.json").write_text('{"shutter_pin":')
        ear = await frames(tmp_path, camera, 2)
    assert sorted(ear.of(Written)) == [1, 2]
    assert [trouble.code for trouble in ear.all(Trouble)] == ["pin-failed"]


def test_what_the_process_is_told(tmp_path):
    assert told(tmp_path / "settings") is None
    tell(tmp_path / "settings", CONTACTS)
    assert told(tmp_path / "settings") == CONTACTS
    tell(tmp_path / "settings", None)
    assert told(tmp_path / "settings") is None


def fires(log: Path) -> list[float]:
    """When the shutter contact closed."""
    return [at for pin, value, at in edges(log) if (pin, value) == ("GPIO23", 1)]
