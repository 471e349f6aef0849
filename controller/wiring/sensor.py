"""The dew heater's sensor: a program that prints two numbers, or a file that holds them."""

from __future__ import annotations

import asyncio
import math
import time
from asyncio.subprocess import DEVNULL, PIPE
from collections.abc import Callable
from pathlib import Path

from controller.decide.wiring import DewHeater
from controller.decide.wiring.dew import Air, air
from controller.words.errors import WiringError
from controller.words.processes import end_session

TAKES_S = 10.0
"""Wall seconds for which a reading is waited for."""

_MOST = 1000  # characters of what it says
_REMEDY = "Run it by hand as the service's user: it has to give °C and % relative humidity, such as 4.5 93"


class Sensor:
    """Reads one sensor. `mono` counts seconds that never step."""

    def __init__(self, rule: DewHeater, mono: Callable[[], float] = time.monotonic) -> None:
        self._rule, self._mono = rule, mono
        self._written = -math.inf  # the file's own time
        self._changed = -math.inf  # when that was seen to change

    async def read(self) -> Air:
        """What it tells now. Raises WiringError (sensor-failed)."""
        try:
            if self._rule.sensor_command is not None:
                return air(await self._asked(self._rule.sensor_command))
            return air(await asyncio.to_thread(self._looked, Path(self._rule.sensor_file or "")))
        except (OSError, ValueError) as error:
            why = f"{error.filename}: {error.strerror}" if isinstance(error, OSError) and error.strerror else error
            what = f"the sensor gave nothing to go by: {why}"
            raise WiringError("sensor-failed", what, "rig.toml, [dew_heater]", _REMEDY, retryable=True) from error

    def _looked(self, path: Path) -> str:
        with path.open(errors="replace") as file:
            words, written = file.read(_MOST), path.stat().st_mtime
        now = self._mono()
        if written != self._written:
            self._written, self._changed = written, now
        if now - self._changed >= self._rule.silent_s:
            raise ValueError(f"{path} has not been written for {now - self._changed:.0f} s")
        return words

    async def _asked(self, command: tuple[str, ...]) -> str:
        process = await asyncio.create_subprocess_exec(
            *command, stdin=DEVNULL, stdout=PIPE, stderr=DEVNULL, start_new_session=True
        )
        assert process.stdout is not None
        try:
            async with asyncio.timeout(TAKES_S):
                words = b""
                while more := await process.stdout.read(_MOST - len(words)):
                    words += more
                status = await process.wait()
        except BaseException as error:
            await end_session(process)
            if isinstance(error, TimeoutError):
                raise ValueError(f"{command[0]} did not end within {TAKES_S:g} s") from None
            raise
        if status != 0:
            raise ValueError(f"{command[0]} ended with status {status}")
        return words.decode(errors="replace")
