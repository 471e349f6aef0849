"""The rig's time on machines that know it and that do not, with their files below a directory of the test's."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from controller.decide.clock_trust import MADE_UTC, PATIENCE_S
from controller.engine.rig_time import FILE, KEEP_EVERY_S, RigTime
from controller.words.clock import ScaledClock, WallClock
from controller.words.documents import KeptBy
from controller.words.errors import BadInput, Conflict

NOW, HOUR_S, DAY_S = MADE_UTC + 50 * 86_400.0, 3600.0, 86_400.0


class Machine(WallClock):
    """A machine whose clocks stand where the test puts them."""

    def __init__(self, utc: float, up_s: float = 5.0) -> None:
        self.wall_utc, self.up_s = utc, up_s

    def machine_utc(self) -> float:
        return self.wall_utc

    def awake(self) -> float:
        return self.up_s

    def pass_(self, seconds: float) -> None:
        self.wall_utc += seconds
        self.up_s += seconds


Begin = Callable[..., RigTime]


@pytest.fixture
def told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """What timedatectl says of the machine; it is asked as on a real one."""
    monkeypatch.setenv("PATH", str(tmp_path / "bin"))
    (tmp_path / "bin").mkdir()
    boot = tmp_path / "proc/sys/kernel/random/boot_id"
    boot.parent.mkdir(parents=True)
    boot.write_text("first\n")

    def tell(word: str) -> None:
        program = tmp_path / "bin/timedatectl"
        program.write_text(f"#!/bin/sh\necho {word}\n")
        program.chmod(0o755)

    tell("no")
    return tell


def kept(tmp_path: Path, **document: object) -> None:
    (tmp_path / FILE).write_text(json.dumps(document))


async def begun(tmp_path: Path, clock: WallClock, changed: Callable[[], object] = lambda: None) -> RigTime:
    rig_time = RigTime(clock, tmp_path, changed, tmp_path)
    await rig_time.open()
    return rig_time


async def test_a_machine_without_battery_clock_is_waited_for_and_the_network_sets_it(told, tmp_path: Path) -> None:
    heard: list[int] = []
    clock = Machine(NOW - 2 * HOUR_S)
    rig_time = await begun(tmp_path, clock, lambda: heard.append(1))
    assert rig_time.now().state == "unsure"
    assert "not know what time it is" in str(rig_time.unset())
    assert rig_time.now().windows_wait
    mark = tmp_path / "run/systemd/timesync/synchronized"
    mark.parent.mkdir(parents=True)
    mark.touch()
    clock.wall_utc += 2 * HOUR_S
    heard.clear()
    await rig_time.look()
    assert (rig_time.unset(), rig_time.attention(), heard) == (None, None, [1])
    assert rig_time.now().kept_by == "network"
    assert clock.utc() == NOW
    with pytest.raises(Conflict, match="network"):
        await rig_time.tell(NOW + 5, KeptBy.PHONE)


async def test_where_nobody_comes_windows_go_by_a_clock_that_may_be_behind(told, tmp_path: Path) -> None:
    clock = Machine(NOW)
    rig_time = await begun(tmp_path, clock)
    clock.pass_(PATIENCE_S - 10)
    assert rig_time.unset() is not None
    clock.pass_(10)
    await rig_time.look()
    assert rig_time.unset() is None
    assert "at the wrong time" in str(rig_time.attention())


@pytest.mark.parametrize("wall_utc", [0.0, NOW - HOUR_S])
async def test_time_does_not_go_back_behind_what_was_known(told, tmp_path: Path, wall_utc: float) -> None:
    kept(tmp_path, known_utc=NOW)
    clock = Machine(wall_utc)
    rig_time = await begun(tmp_path, clock)
    assert clock.utc() == NOW
    for _ in range(3):
        clock.pass_(KEEP_EVERY_S)
        await rig_time.look()
    assert clock.utc() == NOW + 3 * KEEP_EVERY_S
    assert rig_time.unset() is None
    clock.wall_utc = NOW + DAY_S  # somebody sets the machine's clock
    await rig_time.look()
    assert (rig_time.now().kept_by, clock.utc()) == ("hand", NOW + DAY_S)
    told("yes")
    await rig_time.look()
    assert rig_time.now().kept_by == "network"


@pytest.mark.parametrize("wall_utc", [0.0, NOW + 3650 * DAY_S])
async def test_a_clock_that_cannot_be_right_waits_for_a_phone_however_long(told, tmp_path: Path, wall_utc: float):
    if wall_utc:
        kept(tmp_path, known_utc=NOW)
    clock = Machine(wall_utc)
    rig_time = await begun(tmp_path, clock)
    clock.pass_(PATIENCE_S * 10)
    await rig_time.look()
    assert rig_time.now().state == "wrong"
    assert rig_time.unset() is not None
    assert json.loads((tmp_path / FILE).read_text())["known_utc"] == (NOW if wall_utc else None)  # nothing learnt
    await rig_time.tell(NOW + DAY_S, KeptBy.PHONE)
    clock.pass_(100.0)
    clock.wall_utc += 77_777.0  # whatever that one does from now on
    await rig_time.look()
    assert clock.utc() == NOW + DAY_S + 100.0
    assert (rig_time.unset(), rig_time.now().kept_by) == (None, "phone")


async def test_what_a_person_told_holds_until_the_machine_is_switched_off(told, tmp_path: Path) -> None:
    clock = Machine(0.0)
    rig_time = await begun(tmp_path, clock)
    await rig_time.tell(NOW, KeptBy.PHONE)
    await rig_time.close()
    again = Machine(30.0, up_s=35.0)
    assert (await begun(tmp_path, again)).now().kept_by == "phone"
    assert again.utc() == NOW + 30.0
    (tmp_path / "proc/sys/kernel/random/boot_id").write_text("second\n")
    after = Machine(10.0)
    assert (await begun(tmp_path, after)).now().state == "unsure"
    assert after.utc() == pytest.approx(NOW + 30.0)


async def test_the_network_takes_over_from_a_phone(told, tmp_path: Path) -> None:
    clock = Machine(0.0)
    rig_time = await begun(tmp_path, clock)
    await rig_time.tell(NOW + 40.0, KeptBy.PHONE)
    told("yes")
    clock.wall_utc = NOW
    await rig_time.look()
    assert (rig_time.now().kept_by, clock.utc()) == ("network", NOW)


@pytest.mark.parametrize("utc", [0.0, MADE_UTC - 1, 1e12, float("inf"), float("nan")])
async def test_no_such_time(told, tmp_path: Path, utc: float) -> None:
    rig_time = await begun(tmp_path, Machine(NOW))
    with pytest.raises(BadInput, match="cannot be that time"):
        await rig_time.tell(utc, KeptBy.PHONE)
    assert rig_time.now().state == "unsure"


@pytest.mark.parametrize("text", ["", "[]", "{", '{"known_utc": "x", "told_s": [], "boot_id": "first"}', "[" * 9999])
async def test_a_file_that_cannot_be_read_tells_nothing(told, tmp_path: Path, text: str) -> None:
    (tmp_path / FILE).write_text(text)
    clock = Machine(NOW)
    rig_time = await begun(tmp_path, clock)
    assert rig_time.now().state == "unsure"
    assert clock.utc() == NOW
    assert (rig_time.unread is None) == ("known_utc" in text)


async def test_a_battery_clock_is_believed(told, tmp_path: Path) -> None:
    rtc = tmp_path / "sys/class/rtc/rtc0/since_epoch"  # Linux, Documentation/ABI/testing/sysfs-class-rtc
    rtc.parent.mkdir(parents=True)
    rtc.write_text(f"{NOW + 1:.0f}\n")
    rig_time = await begun(tmp_path, Machine(NOW))
    assert (rig_time.unset(), rig_time.now().kept_by) == (None, "battery clock")


async def test_the_clock_of_a_demo_is_right(told, tmp_path: Path) -> None:
    rig_time = RigTime(ScaledClock(NOW, time.monotonic(), 60.0), tmp_path, lambda: None, tmp_path)
    await rig_time.open()
    await rig_time.look()
    await rig_time.close()
    assert rig_time.now().state == "right"
    assert not (tmp_path / FILE).exists()
    with pytest.raises(Conflict, match="demo"):
        await rig_time.tell(NOW, KeptBy.PHONE)
