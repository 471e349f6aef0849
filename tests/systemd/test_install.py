"""The unit and what `systemd/install` puts where, by systemd's own judgement."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
INSTALL = ROOT / "systemd" / "install"
UNIT = "etc/systemd/system/duskhand.service"
CONF = "etc/duskhand/duskhand.conf"
MONITOR = "etc/systemd/user/gvfs-gphoto2-volume-monitor.service"


def run(*words: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run([str(word) for word in words], capture_output=True, text=True, check=False)


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    made = run(INSTALL, "--root", tmp_path)
    assert (made.returncode, made.stderr) == (0, "")
    return tmp_path


def test_systemd_finds_nothing_wrong_with_the_unit(machine: Path):
    """`systemd-analyze verify` wants the program to be there, where the unit says that it is."""
    program = machine / "opt/duskhand/.venv/bin/duskhand"
    program.parent.mkdir(parents=True)
    program.write_text("#!/bin/sh\n")
    program.chmod(0o755)
    text = (machine / UNIT).read_text().replace("/opt/duskhand", str(machine / "opt/duskhand"))
    unit = machine / "duskhand.service"
    unit.write_text(text)
    told = run("systemd-analyze", "verify", unit)
    assert (told.returncode, told.stdout, told.stderr) == (0, "", "")


def test_the_service_is_shut_in(machine: Path):
    """At most 2.0 of 10 by `systemd-analyze security`, with USB, the pins and the local network kept."""
    told = run("systemd-analyze", "security", "--offline=true", "--threshold=20", machine / UNIT)
    found = re.search(r"Overall exposure level for duskhand.service: ([0-9.]+)", told.stdout)
    assert found, told.stdout + told.stderr
    assert float(found[1]) <= 2.0
    assert told.returncode == 0
    unit = (machine / UNIT).read_text()
    assert "@PREFIX@" not in unit
    for kept in ("char-usb_device rw", "char-gpiochip rw", "AF_INET ", "AF_NETLINK", "LimitRTPRIO", "LimitNICE"):
        assert kept in unit, kept
    assert "RestrictRealtime" not in unit  # the camera's process keeps its moments by it


def test_it_starts_again_without_limit_and_is_watched(machine: Path):
    lines = (machine / UNIT).read_text().splitlines()
    assert {"Type=notify", "Restart=always", "StartLimitIntervalSec=0", "WatchdogSec=120"} <= set(lines)


def test_an_update_keeps_what_was_set_and_what_was_shot(machine: Path):
    (machine / CONF).write_text("DUSKHAND_OPTIONS=--host 0.0.0.0\n")
    frames = machine / "var/lib/duskhand/frames.sqlite3"
    frames.parent.mkdir(parents=True)
    frames.write_text("log")
    (machine / "opt/duskhand/controller/outgrown.py").write_text("")
    assert run(INSTALL, "--root", machine).returncode == 0
    assert (machine / CONF).read_text() == "DUSKHAND_OPTIONS=--host 0.0.0.0\n"
    assert frames.read_text() == "log"
    assert not (machine / "opt/duskhand/controller/outgrown.py").exists()
    assert (machine / MONITOR).readlink() == Path("/dev/null")


def test_taken_away_it_leaves_only_what_is_the_owner_s(machine: Path):
    frames = machine / "var/lib/duskhand/frames.sqlite3"
    frames.parent.mkdir(parents=True)
    frames.write_text("log")
    assert run(INSTALL, "--uninstall", "--root", machine).returncode == 0
    left = {str(path.relative_to(machine)) for path in machine.rglob("*") if not path.is_dir()}
    assert left == {CONF, "var/lib/duskhand/frames.sqlite3"}


def test_a_unit_of_somebody_else_s_is_not_replaced(tmp_path: Path):
    monitor = tmp_path / MONITOR
    monitor.parent.mkdir(parents=True)
    monitor.write_text("[Service]\n")
    made = run(INSTALL, "--root", tmp_path)
    assert made.returncode == 0
    assert "stays" in made.stderr
    assert monitor.read_text() == "[Service]\n"


@pytest.mark.parametrize("words", [["--bogus"], ["--root"]])
def test_bad_input_is_one_line(words: list[str]):
    told = run(INSTALL, *words)
    assert (told.returncode, told.stdout) == (2, "")
    assert told.stderr.count("\n") == 1


def test_the_rule_is_for_cameras(machine: Path):
    """Class 06, subclass 01, protocol 01: USB Still Image Capture Device Definition, revision 1.0, table 4-1."""
    rule = (machine / "etc/udev/rules.d/70-duskhand-cameras.rules").read_text()
    (line,) = [line for line in rule.splitlines() if line and not line.startswith("#")]
    assert 'ENV{ID_USB_INTERFACES}=="*:060101:*"' in line
    assert 'GROUP="duskhand"' in line
    assert "0666" not in line


def started(tmp_path: Path, systemctl: str) -> subprocess.CompletedProcess[str]:
    """`start` of the script, beside stand-ins for systemd, which no test may restart services of: its answers are
    those of systemd 252 to the installed service."""
    for name, body in {"systemctl": systemctl, "journalctl": 'echo "duskhand serve: unknown: --bogus"'}.items():
        program = tmp_path / name
        program.write_text(f"#!/bin/sh\n{body}\n")
        program.chmod(0o755)
    found = re.search(r"^start\(\) \{.*?^\}$", INSTALL.read_text(), re.MULTILINE | re.DOTALL)
    assert found
    return run("env", f"PATH={tmp_path}:/usr/bin:/bin", "bash", "-euc", f"conf=/etc/its.conf\n{found[0]}\nstart")


def test_it_tells_the_address_that_the_service_has(tmp_path: Path):
    told = started(tmp_path, '[ "$1" = restart ] || echo "serves https://127.0.0.1:9443/"')
    assert (told.returncode, told.stderr) == (0, "")
    assert "Duskhand serves https://127.0.0.1:9443/." in told.stdout


def test_a_service_that_does_not_start_is_told_in_its_own_words(tmp_path: Path):
    told = started(tmp_path, '[ "$1" != restart ] || exit 1')
    assert (told.returncode, told.stdout) == (1, "")
    assert told.stderr.startswith("duskhand serve: unknown: --bogus\ninstall: ")
    assert "/etc/its.conf" in told.stderr
