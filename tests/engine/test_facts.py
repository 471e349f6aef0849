"""Facts of the machine, from trees of files as the kernel lays them out (Linux, Documentation/ABI; from memory)."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from controller.engine.facts import machine


def write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)


def test_what_cannot_be_read_is_not_known(tmp_path):
    assert machine.holders(tmp_path) is None
    assert machine.denied(tmp_path) is None
    assert machine.temperature_c(tmp_path) is None
    assert not machine.is_pi(tmp_path)


def test_the_desktops_programs_are_found_by_name(tmp_path):
    write(tmp_path / "proc/12/cmdline", "/usr/libexec/gvfs-gphoto2-volume-monitor\0")
    write(tmp_path / "proc/13/cmdline", "/usr/bin/grep\0gvfsd-gphoto2\0")
    assert machine.holders(tmp_path) == ("gvfs-gphoto2-volume-monitor",)


def test_a_node_of_a_camera_that_may_not_be_opened(tmp_path, monkeypatch):
    devices = tmp_path / "sys/bus/usb/devices"
    for name, kind in (("1-2", "06"), ("1-3", "08")):
        write(devices / f"{name}:1.0/bInterfaceClass", f"{kind}\n")
        write(devices / name / "busnum", "1\n")
        write(devices / name / "devnum", f"{name[-1]}\n")
        write(tmp_path / f"dev/bus/usb/001/00{name[-1]}", "")
    assert machine.denied(tmp_path) == ()
    monkeypatch.setattr(os, "access", lambda *_: False)
    assert machine.denied(tmp_path) == ("/dev/bus/usb/001/002",)


def test_a_pi_and_its_heat(tmp_path):
    write(tmp_path / "proc/device-tree/model", "Raspberry Pi 4 Model B Rev 1.4\0")
    write(tmp_path / "sys/class/thermal/thermal_zone0/temp", "48312\n")
    assert machine.is_pi(tmp_path)
    assert machine.temperature_c(tmp_path) == pytest.approx(48.312)


@pytest.mark.parametrize(("told", "bits"), [("throttled=0x50005", 0x50005), ("throttled=0x0", 0), ("error", None)])
def test_the_pis_own_answer(told, bits, tmp_path, monkeypatch):
    write(tmp_path / "vcgencmd", f"#!/bin/sh\necho {told}\n")
    (tmp_path / "vcgencmd").chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path), prepend=os.pathsep)
    assert machine.throttled(tmp_path / "nothing") == bits


def test_the_firmware_s_own_file_is_read_without_asking_anybody(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path / "nothing"))
    assert machine.throttled(tmp_path) is None
    write(tmp_path / "sys/devices/platform/soc/soc:firmware/get_throttled", "50005\n")  # in hexadecimal (from memory)
    assert machine.throttled(tmp_path) == 0x50005


def test_the_clock_and_the_disk(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    assert machine.synchronised(tmp_path) is None
    write(tmp_path / "run/systemd/timesync/synchronized", "")
    assert machine.synchronised(tmp_path)
    assert machine.free_bytes(tmp_path / "not/there/yet")
