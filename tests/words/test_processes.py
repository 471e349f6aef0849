"""What a command of the owner's has started ends with it where it hangs: one more would be left at every try."""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest

from controller.camera.power import PowerCycle
from controller.decide.wiring import DewHeater
from controller.wiring import sensor
from controller.wiring.sensor import Sensor
from controller.words.errors import WiringError
from tests.support.rigs import until


def lives(pid: int) -> bool:
    """Whether a process runs; one that has ended and is not yet collected does not."""
    with contextlib.suppress(OSError):
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    return False


async def cut_power(script: str) -> None:
    trouble = await PowerCycle(f"sh -c '{script}'", longest_s=1.0).cycle("camera-1", "usb:")
    assert trouble is not None
    assert "took more than" in trouble.what


async def read_sensor(script: str) -> None:
    with pytest.raises(WiringError, match="did not end within"):
        await Sensor(DewHeater(pin=22, sensor_command=("sh", "-c", script))).read()


@pytest.mark.parametrize("run", [cut_power, read_sensor])
@pytest.mark.parametrize("rest", ["wait", "exit"])
async def test_a_script_that_hangs_is_ended_with_what_it_has_started(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: Callable[[str], Awaitable[None]], rest: str
) -> None:
    """And it is not waited for: the way back to a lost camera would end there."""
    monkeypatch.setattr(sensor, "TAKES_S", 1.0)
    told = tmp_path / "pid"
    try:
        async with asyncio.timeout(60):
            await run(f"sleep 600 & echo $! > {told}; {rest}")
        await until(lambda: not lives(int(told.read_text())), 10.0)
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.kill(int(told.read_text()), signal.SIGKILL)
