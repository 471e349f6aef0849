"""The dew heater: a reading, a decision, a relay."""

from __future__ import annotations

import logging
import time
from collections.abc import Awaitable, Callable

from controller.decide.wiring import DewHeater
from controller.decide.wiring.dew import Air, Heat, heat
from controller.wiring.pins import Output
from controller.wiring.sensor import Sensor
from controller.words.documents import HeaterNow
from controller.words.errors import WiringError

log = logging.getLogger(__name__)

Tell = Callable[[str, str], Awaitable[None]]
"""Takes a note: its kind, and its text."""


class Heater:
    """Steers one heater. `look` is called every `every_s`; what fails is told once, until it is well again."""

    def __init__(
        self, rule: DewHeater, tell: Tell, sensor: Sensor | None = None, mono: Callable[[], float] = time.monotonic
    ) -> None:
        self.rule = rule
        self._tell, self._mono = tell, mono
        self._sensor = sensor or Sensor(rule, mono)
        self._relay = Output(rule.pin, rule.active, "dew_heater")
        self._state = Heat(heard=mono())
        self._air: Air | None = None
        self._relay_on: bool | None = None  # as it was last switched; None where that failed, or is still to come
        self._troubles: dict[str, WiringError] = {}  # by what failed
        self._closed = False

    async def look(self) -> None:
        """Read, decide and switch. Raises nothing but StoreError, of the note."""
        told: Air | None = None
        try:
            told = await self._sensor.read()
        except WiringError as error:
            await self._failed("sensor", error)
        else:
            self._air = told
            await self._well("sensor", "the dew heater's sensor is heard again")
        before, self._state = self._state, heat(self.rule, self._state, told, self._mono())
        if self._state.silent and not before.silent:
            self._air = None
            text = f"the dew heater is off: its sensor was not heard for {self.rule.silent_s:g} s"
            await self._tell("heater-off", text)
        await self._switch()

    async def _switch(self) -> None:
        """The relay as decided; tried again at every look where it failed."""
        if self._relay_on is self._state.on or self._closed:
            return
        try:
            self._relay.switch(self._state.on)
        except WiringError as error:
            self._relay_on = None
            await self._failed("relay", error)
            return
        self._relay_on = self._state.on
        log.info("dew heater: %s", "on" if self._relay_on else "off")
        await self._well("relay", "the dew heater's relay can be switched again")

    async def _failed(self, part: str, error: WiringError) -> None:
        if part not in self._troubles:
            self._troubles[part] = error
            await self._tell("wiring-trouble", str(error))
        self._troubles[part] = error

    async def _well(self, part: str, text: str) -> None:
        if self._troubles.pop(part, None) is not None:
            await self._tell("wiring-again", text)

    def now(self) -> HeaterNow:
        """As it stands."""
        air = self._air
        return HeaterNow(
            on=self._relay_on,
            temperature_c=None if air is None else round(air.temperature_c, 2),
            humidity_percent=None if air is None else round(air.humidity_percent, 1),
            dew_point_c=None if air is None else round(air.dew_point_c, 2),
            trouble="; ".join(str(error) for error in self._troubles.values()) or None,
        )

    def close(self) -> None:
        """Off, and its pin let go; a look that is under way switches nothing any more."""
        self._closed = True
        try:
            self._relay.close()
        except WiringError as error:
            log.error("the dew heater may still be on: %s", error)
