"""The dew heater: sensor, decision and relay together, on mock pins and a clock of the test's."""

from __future__ import annotations

import os
import sys
from typing import Any

import pytest
from gpiozero import OutputDevice

from controller.decide.wiring import DewHeater
from controller.decide.wiring.dew import Air
from controller.wiring.heater import Heater
from controller.wiring.sensor import Sensor
from controller.words.errors import WiringError

DAMP, DRY = Air(4.0, 95.0), Air(4.0, 40.0)  # 0.7 and 12 °C above the dew point, by the tables


class Stage:
    """A heater whose sensor tells what the test puts into `air`, None for nothing."""

    def __init__(self, **rule: Any) -> None:
        self.now, self.air = 1000.0, DAMP
        self.notes: list[tuple[str, str]] = []
        wanted = {"pin": 22, "sensor_command": ("air",), "min_on_s": 60.0, "min_off_s": 60.0, "silent_s": 300.0}
        self.rule = DewHeater.model_validate(wanted | rule)
        self.heater = Heater(self.rule, self._tell, self, lambda: self.now)  # type: ignore[arg-type]

    async def _tell(self, kind: str, text: str) -> None:
        self.notes.append((kind, text))

    async def read(self) -> Air:
        if self.air is None:
            raise WiringError("sensor-failed", "the sensor gave nothing to go by: silence", "rig.toml, [dew_heater]")
        return self.air

    async def after(self, seconds: float, air: Air | None) -> None:
        self.now, self.air = self.now + seconds, air
        await self.heater.look()

    @property
    def kinds(self) -> list[str]:
        return [kind for kind, _ in self.notes]


@pytest.mark.parametrize(("active", "on"), [("high", 1), ("low", 0)])
async def test_it_heats_when_it_is_damp_and_rests_when_it_is_dry(pins, active, on):
    stage = Stage(active=active)
    await stage.after(0, DAMP)
    assert pins.pin(22).state == on
    now = stage.heater.now()
    assert (now.on, now.temperature_c, now.humidity_percent, now.trouble) == (True, 4.0, 95.0, None)
    assert now.dew_point_c == pytest.approx(3.3, abs=0.1)  # 4 °C at 95 % (psychrometric tables, from memory)
    await stage.after(30, DRY)
    assert pins.pin(22).state == on  # not before min_on_s
    await stage.after(30, DRY)
    assert pins.pin(22).state != on
    assert stage.notes == []


async def test_a_silent_sensor_is_told_once_and_switches_it_off(pins):
    stage = Stage()
    await stage.after(0, DAMP)
    for _ in range(9):
        await stage.after(30, None)
    assert pins.pin(22).state == 1
    assert stage.kinds == ["wiring-trouble"]
    await stage.after(30, None)
    assert pins.pin(22).state == 0
    assert stage.kinds == ["wiring-trouble", "heater-off"]
    now = stage.heater.now()
    assert (now.on, now.temperature_c) == (False, None)
    assert now.trouble is not None
    await stage.after(600, None)
    await stage.after(30, DAMP)
    assert pins.pin(22).state == 1
    assert stage.kinds == ["wiring-trouble", "heater-off", "wiring-again"]
    assert stage.heater.now().trouble is None


async def test_a_relay_that_fails_is_told_once_and_tried_again(pins):
    taken = OutputDevice(22)
    stage = Stage()
    await stage.after(0, DAMP)
    await stage.after(30, DAMP)
    assert stage.kinds == ["wiring-trouble"]
    assert stage.heater.now().on is None
    assert "pin 22" in (stage.heater.now().trouble or "")
    taken.close()
    await stage.after(30, DAMP)
    assert pins.pin(22).state == 1
    assert stage.kinds == ["wiring-trouble", "wiring-again"]


async def test_it_is_off_when_the_service_ends(pins):
    stage = Stage()
    await stage.after(0, DAMP)
    stage.heater.close()
    assert [state.state for state in pins.pin(22).states][-1] == 0


async def test_a_reading_that_comes_after_the_end_switches_nothing(pins):
    stage = Stage()
    stage.heater.close()
    await stage.after(0, DAMP)
    assert pins.pin(22).function == "input"


# ---- the sensor itself


def program(script: str) -> tuple[str, ...]:
    return (sys.executable, "-c", script)


async def test_a_program_that_prints_two_numbers():
    rule = DewHeater(pin=22, sensor_command=program("print(4.5, 93)"))
    assert await Sensor(rule).read() == Air(4.5, 93.0)


@pytest.mark.parametrize(
    ("command", "says"),
    [
        (("/nowhere/air",), "No such file"),
        (program("import sys; print(4.5, 93); sys.exit(3)"), "status 3"),
        (program("print('no bus')"), "not two numbers"),
        (program("print('9' * 5000)"), "not two numbers|status"),
        (program("import time; time.sleep(600)"), "did not end within"),
    ],
)
async def test_a_program_that_does_not(command, says, monkeypatch):
    monkeypatch.setattr("controller.wiring.sensor.TAKES_S", 0.3 if "sleep" in command[-1] else 60.0)
    with pytest.raises(WiringError, match=says) as failure:
        await Sensor(DewHeater(pin=22, sensor_command=command)).read()
    assert failure.value.code == "sensor-failed"
    assert failure.value.remedy


async def test_a_file_counts_while_it_is_written(tmp_path):
    path, now = tmp_path / "air", 0.0
    sensor = Sensor(DewHeater(pin=22, sensor_file=str(path), silent_s=300.0), lambda: now)
    with pytest.raises(WiringError, match="No such file"):
        await sensor.read()
    path.write_text("4.5 93\n")
    os.utime(path, (1_000_000, 1_000_000))  # whatever the clock says of it
    assert await sensor.read() == Air(4.5, 93.0)
    now = 299.0
    assert await sensor.read() == Air(4.5, 93.0)
    now = 300.0
    with pytest.raises(WiringError, match="not been written for 300 s"):
        await sensor.read()
    path.write_text("4.0 94\n")
    assert await sensor.read() == Air(4.0, 94.0)
