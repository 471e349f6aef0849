"""Facts of the machine: processes, devices on USB, a Pi's supply and heat, disk, clock."""

from __future__ import annotations

import os
import subprocess
import time
from pathlib import Path

from controller.decide.checks.facts import RigFacts
from controller.store.files import room

HOLDERS = ("gvfs-gphoto2-volume-monitor", "gvfsd-gphoto2")
_STILL_IMAGE = "06"  # class of the interface (USB Still Image Capture Device Definition)
_ASKED_S = 3.0


def machine(directory: Path, root: Path = Path("/")) -> RigFacts:
    """All but the cameras; blocks for some seconds at most. Files are looked for below `root`."""
    return RigFacts(
        holders=holders(root),
        denied=denied(root),
        is_pi=is_pi(root),
        throttled=throttled(root) if is_pi(root) else None,
        temperature_c=temperature_c(root),
        free_bytes=free_bytes(directory),
        synchronised=synchronised(root),
        battery_off_s=battery_off_s(time.time(), root),
    )


def holders(root: Path) -> tuple[str, ...] | None:
    """Programs of a desktop that run and take cameras; None where processes cannot be listed."""
    found = set()
    try:
        processes = [entry for entry in (root / "proc").iterdir() if entry.name.isdecimal()]
    except OSError:
        return None
    for process in processes:
        command = _text(process / "cmdline")
        name = (command or "").split("\0")[0].rpartition("/")[2]
        if name in HOLDERS:
            found.add(name)
    return tuple(sorted(found))


def denied(root: Path) -> tuple[str, ...] | None:
    """Nodes of cameras on USB that this user may not open; None where USB cannot be listed."""
    found = set()
    try:
        interfaces = list((root / "sys/bus/usb/devices").iterdir())
    except OSError:
        return None
    for interface in interfaces:
        if _text(interface / "bInterfaceClass") != _STILL_IMAGE:
            continue
        device = interface.parent / interface.name.partition(":")[0]
        bus, number = _text(device / "busnum"), _text(device / "devnum")
        if bus and number and bus.isdecimal() and number.isdecimal():
            node = root / f"dev/bus/usb/{int(bus):03}/{int(number):03}"
            if not os.access(node, os.R_OK | os.W_OK):
                found.add(f"/{node.relative_to(root)}")
    return tuple(sorted(found))


def is_pi(root: Path) -> bool:
    """Whether the device tree names a Raspberry Pi."""
    return (_text(root / "proc/device-tree/model") or "").startswith("Raspberry Pi")


def throttled(root: Path) -> int | None:
    """The bits of decide/pi.py: as the firmware's driver tells them under /sys, which a service that is shut in may
    read, or as `vcgencmd get_throttled` answers, such as throttled=0x50000. The place under /sys is from memory."""
    for told in sorted((root / "sys/devices/platform").glob("soc*/*firmware/get_throttled")):
        try:
            return int(_text(told) or "", 16)
        except ValueError:
            continue
    answer = _asked("vcgencmd", "get_throttled")
    try:
        return None if answer is None else int(answer.partition("=")[2], 16)
    except ValueError:
        return None


def temperature_c(root: Path) -> float | None:
    """Degrees Celsius of the first thermal zone, which the kernel tells in thousandths."""
    told = _text(root / "sys/class/thermal/thermal_zone0/temp")
    try:
        return None if told is None else int(told) / 1000
    except ValueError:
        return None


def free_bytes(directory: Path) -> int | None:
    """Room where the rig's directory is, or will be."""
    try:
        return room(directory.absolute())[0]
    except OSError:
        return None


def synchronised(root: Path) -> bool | None:
    """Whether something keeps the machine's clock: by systemd's mark, or as timedatectl says."""
    if (root / "run/systemd/timesync/synchronized").exists():
        return True
    told = _asked("timedatectl", "show", "--property", "NTPSynchronized", "--value")
    return {"yes": True, "no": False}.get(told or "")


def battery_off_s(utc: float, root: Path) -> float | None:
    """What the first battery clock says, minus `utc`, seconds; None where there is none (sysfs-class-rtc)."""
    for clock in sorted((root / "sys/class/rtc").glob("rtc*")):
        try:
            return int(_text(clock / "since_epoch") or "") - utc
        except ValueError:
            continue
    return None


def boot_id(root: Path) -> str | None:
    """What the kernel calls this start of the machine (random(4))."""
    return _text(root / "proc/sys/kernel/random/boot_id")


def _text(path: Path) -> str | None:
    try:
        return path.read_text(errors="replace").strip().rstrip("\0")
    except OSError:
        return None


def _asked(*command: str) -> str | None:
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=_ASKED_S, check=False)
    except (OSError, subprocess.SubprocessError):
        return None
    return done.stdout.strip() if done.returncode == 0 else None
