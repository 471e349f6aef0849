"""Dew point, and whether a dew heater is on.

Magnus' formula over water with the coefficients of the Guide to Instruments and Methods of Observation (WMO-No. 8,
volume I, annex 4.B; after Sonntag 1990): saturation vapour pressure 6.112 hPa · exp(17.62 t / (243.12 °C + t)), for
−45 to 60 °C (coefficients from memory; the tests hold them against other formulae).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from controller.decide.wiring.document import DewHeater

_E0_HPA, _A, _B_C = 6.112, 17.62, 243.12

COLDEST_C, WARMEST_C = -45.0, 60.0
"""Between these the formula holds; a sensor outdoors that tells something else is broken."""

_MOST_HUMID = 105.0  # sensors tell a little more than 100 % in fog (common practice, no source)


def vapour_pressure_hpa(temperature_c: float) -> float:
    """Of saturated air over water, hPa."""
    return _E0_HPA * math.exp(_A * temperature_c / (_B_C + temperature_c))


def dew_point_c(temperature_c: float, humidity_percent: float) -> float:
    """°C at which air of this temperature and relative humidity (over water, 0 < % ≤ 100) is saturated."""
    log = math.log(humidity_percent / 100.0 * vapour_pressure_hpa(temperature_c) / _E0_HPA)
    return _B_C * log / (_A - log)


@dataclass(frozen=True, slots=True)
class Air:
    """What a sensor told: °C and % relative humidity."""

    temperature_c: float
    humidity_percent: float

    @property
    def dew_point_c(self) -> float:
        return dew_point_c(self.temperature_c, self.humidity_percent)

    @property
    def spread_c(self) -> float:
        """How far it is above its dew point."""
        return self.temperature_c - self.dew_point_c


def air(words: str) -> Air:
    """Two numbers, °C and %, apart by a space, a comma, a semicolon or a line. Raises ValueError: what is wrong."""
    parts = words.replace(",", " ").replace(";", " ").split()
    try:
        temperature_c, humidity = (float(part) for part in parts)
    except ValueError:
        told = " ".join(words.split())[:40]
        raise ValueError(f"'{told}' is not two numbers, °C and % relative humidity") from None
    if not COLDEST_C <= temperature_c <= WARMEST_C:
        raise ValueError(f"{temperature_c:g} °C is not the air's")
    if not 0 < humidity <= _MOST_HUMID:
        raise ValueError(f"{humidity:g} % is no relative humidity")
    return Air(temperature_c, min(humidity, 100.0))


@dataclass(frozen=True, slots=True)
class Heat:
    """Where a heater stands. `since` and `heard` are seconds of one clock: its last change, the last good reading."""

    on: bool = False
    since: float = -math.inf
    heard: float = -math.inf
    silent: bool = False  # off, since the sensor was not heard for too long


def heat(rule: DewHeater, before: Heat, told: Air | None, now: float) -> Heat:
    """What comes of a reading, or of none. A sensor that is silent for `silent_s` switches the heater off at once.

    Nobody is there to see what a heater does that nobody steers, and dew on the lens hurts nobody.
    """
    heard = now if told is not None else before.heard
    if told is None:
        if now - heard < rule.silent_s:
            return before
        return replace(before, on=False, silent=True, since=now if before.on else before.since)
    wanted = before.on
    if told.spread_c <= rule.margin_c:
        wanted = True
    elif told.spread_c >= rule.margin_c + rule.hysteresis_c:
        wanted = False
    least_s = rule.min_on_s if before.on else rule.min_off_s
    if wanted == before.on or now - before.since < least_s:
        return replace(before, heard=heard, silent=False)
    return Heat(wanted, now, heard)
