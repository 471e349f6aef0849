"""The library's USB path, against the virtual USB camera that comes with its wheel: a smoke test.

That camera has shutter and aperture, no ISO, nine speeds, no small pictures and no reading in pieces, so that the
fall-backs for bodies without these are what is exercised here.
"""

from __future__ import annotations

import hashlib
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import gphoto2
import pytest
from PIL import Image

from controller.camera.detect import detect
from controller.camera.link import CameraLink
from controller.camera.messages import Fetched, Gone, Opened, Released, Settled, Trouble, Written
from tests.camera.ear import Ear, connected, order, shoot


@pytest.fixture
def picture(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Attaches the virtual camera, with one picture on its card, to every process started from here."""
    path = tmp_path / "card" / "DCIM" / "100DUSKH" / "DUSK0001.JPG"
    path.parent.mkdir(parents=True)
    Image.linear_gradient("L").resize((640, 480)).save(path, quality=95)
    monkeypatch.setenv("IOLIBS", str(Path(gphoto2.__file__).parent / "libgphoto2" / "vusb"))
    monkeypatch.setenv("VCAMERADIR", str(tmp_path / "card"))
    return path


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


async def test_detected(picture: Path) -> None:
    assert await detect() == [("Nikon DSC D750", "usb:001,001")]


@pytest.mark.parametrize("address", ["usb:", "usb:001,001"])
async def test_frames_over_usb(picture: Path, tmp_path: Path, address: str) -> None:
    async with connected(address) as (link, ear):
        opened = link.opened
        assert opened is not None
        # its nine texts 0.0001s … 1.0000s, as true stops
        assert opened.shutter_s[-1] == 1.0
        assert len(opened.shutter_s) == 9
        assert (opened.iso, opened.battery_percent) == ([], 50)
        start = time.monotonic() + 0.3
        speeds = [2 ** (-10 / 3), 2 ** (-13 / 3), 2 ** (-10 / 3)]  # 1/10, 1/20
        orders = [order(n, start + n, tmp_path / "rig", shutter_s=s, aperture=8.0) for n, s in enumerate(speeds, 1)]
        await shoot(link, orders)
        await ear.count(Fetched, 3)
    assert [report.shutter_s for report in ear.all(Settled)] == pytest.approx(speeds)
    assert {report.aperture for report in ear.all(Settled)} == {8.0}
    assert len(ear.all(Released)) == len(ear.all(Written)) == 3
    for fetched in ear.all(Fetched):  # it hands out a copy of the picture that it found
        assert fetched.path == str(tmp_path / "rig" / f"{fetched.seq:06d}.JPG")
        assert fetched.sha256 == digest(Path(fetched.path)) == digest(picture)
    assert {trouble.code for trouble in ear.all(Trouble)} <= {"no-preview"}


async def test_killed_and_opened_again(picture: Path, tmp_path: Path) -> None:
    async with connected("usb:") as (link, ear):
        assert link._process is not None
        os.kill(link._process.pid, signal.SIGKILL)
        await ear.count(Gone, 1)
        await ear.count(Opened, 2)
        await link.release(order(1, time.monotonic() + 0.5, tmp_path, shutter_s=0.1))
        await ear.count(Fetched, 1)


async def test_no_camera_on_the_bus(picture: Path, tmp_path: Path) -> None:
    link, ear = CameraLink("usb:009,009"), Ear()
    link.listen(ear.hear)
    await link.start()
    await ear.count(Trouble, 1)
    assert link.trouble == "no camera at usb:009,009. Switch the camera on, wake it, and look at its cable"
    await link.stop()


async def test_back_under_another_number(picture: Path, tmp_path: Path) -> None:
    """A cable that was pulled: the bus gives the camera a new number, and it is known by what it says of itself."""
    async with connected("usb:") as (link, _):
        known = link.opened
    assert known is not None
    assert known.serial
    link, ear = CameraLink("usb:001,007"), Ear()
    link.listen(ear.hear)
    link._keeper.known = known
    await link.start()
    await ear.count(Opened, 1)
    await link.stop()
    link._keeper.known = replace(known, serial="another")
    await link.start()
    await ear.count(Trouble, 1)
    assert len(ear.all(Opened)) == 1
    await link.stop()


def test_a_port_is_reset_before_the_camera_is_opened_again(picture: Path) -> None:
    """What a reset does to a real body is not to be seen here: only that it is asked for, and that opening goes on."""
    script = (
        "import logging, sys\n"
        "logging.basicConfig(stream=sys.stderr)\n"
        "from controller.camera.worker.opening import Finder, Known, reset_port\n"
        "reset_port('usb:001,001')\n"
        "body = Finder().open('usb:', Known(), lambda: None)\n"
        "print(body.name)\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout.strip() == "VC"
    assert "could not be reset" not in done.stderr
    assert "Traceback" not in done.stderr
