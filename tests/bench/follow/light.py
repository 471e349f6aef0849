"""The light of the scenes, from sources that the controller's sky model does not use.

Sun: Janiczek & DeYoung, Computer Programs for Sun and Moon Illuminance, USNO Circular 171 (1987), to 0.3 EV of the
Explanatory Supplement down to −9° and 1 EV off at −12°. Moon: its magnitude by phase (Allen, Astrophysical Quantities,
as in Krisciunas & Schaefer 1991, eq. 9) under the same atmosphere. All in EV at ISO 100, arrays throughout.
"""

from __future__ import annotations

import csv
from datetime import datetime, timedelta, timezone
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from controller.decide.sun import altitudes

Floats = NDArray[np.float64]

CLOUDS = Path(__file__).parents[2] / "data" / "clouds-golden-2019-03.csv"
_GOLDEN = (39.742, -105.18)
_MST = timezone(timedelta(hours=-7))
STARLIT_LX = 0.0005  # starlight and airglow, Circular 171


def air(altitude_deg: Floats) -> Floats:
    """The share of a body's light outside the air that falls on level ground under a clear sky (Circular 171)."""
    h = altitude_deg + refraction_deg(altitude_deg)
    u, x = np.sin(np.radians(h)), 753.66156
    s = np.arcsin(x * np.cos(np.radians(h)) / (x + 1))
    mass = x * (np.cos(s) - u) + np.cos(s)
    return np.exp(-0.21 * mass) * u + 0.0289 * np.exp(-0.042 * mass) * (1 + (h + 90) * u / 57.29577951)


def refraction_deg(altitude_deg: Floats) -> Floats:
    """Sæmundsson 1986 (Meeus, Astronomical Algorithms, eq. 16.4); fading to none between −0.5° and −3°."""
    h = np.maximum(altitude_deg, -0.5)
    lift = 1.02 / 60 / np.tan(np.radians(h + 10.3 / (h + 5.11)))
    return lift * np.clip((altitude_deg + 3.0) / 2.5, 0.0, 1.0)


def sun_lx(altitude_deg: Floats) -> Floats:
    """Level illuminance by the sun under a clear sky, lx; below −18° none."""
    return 133_775 * np.maximum(air(np.maximum(altitude_deg, -18.0)), 0.0)


def moon_lx(altitude_deg: Floats, elongation_deg: Floats) -> Floats:
    """Level illuminance by the moon, lx: 10^(−0.4 (m + 14.18)) outside the air."""
    phase = 180.0 - elongation_deg
    magnitude = -12.73 + 0.026 * phase + 4e-9 * phase**4
    return 10 ** (-0.4 * (magnitude + 14.18)) * np.maximum(air(np.maximum(altitude_deg, -18.0)), 0.0)


def ev(lx: Floats) -> Floats:
    """EV at ISO 100 of incident light (ISO 2720, C = 250)."""
    return np.log2(lx / 2.5)


@cache
def _cloud_week() -> tuple[Floats, Floats]:
    """Measured irradiance over Haurwitz' clear sky (1945; Reno et al., SAND2012-2389, eq. 9), with its times.

    Where the sun is below 10° the ratio of two small numbers says nothing, and is left out.
    """
    with CLOUDS.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    utc = np.array([datetime.fromisoformat(r["time_mst"]).replace(tzinfo=_MST).timestamp() for r in rows])
    sine = np.sin(np.radians(altitudes(*_GOLDEN, utc - 30)))
    good = sine > np.sin(np.radians(10.0))
    clear = 1098 * sine[good] * np.exp(-0.057 / sine[good])
    return utc[good], np.array([float(r["ghi_w_m2"]) for r in rows])[good] / clear


def cloud_ev(day: int, hour: float, elapsed_s: Floats) -> Floats:
    """What the clouds of a day of March 2019 (11 … 14) did to the light, EV, from a local hour on."""
    utc, transmission = _cloud_week()
    start = datetime(2019, 3, day, tzinfo=_MST).timestamp() + hour * 3600
    inside = (utc >= start) & (utc <= start + elapsed_s[-1] + 60)
    assert utc[inside][-1] >= start + elapsed_s[-1], "the measured day is shorter than the scene"
    return np.interp(start + elapsed_s, utc[inside], np.log2(np.maximum(transmission[inside], 1e-3)))


def eclipsed(since_mid_s: Floats, closest: float, moon_to_sun: float) -> Floats:
    """The share of the sun's disc that the moon covers: two circles (Weisstein, "Circle-Circle Intersection").

    `closest` is the least distance of the centres in solar radii. The moon gains about 0.5″ a second on the sun, whose
    radius is 960″. No limb darkening.
    """
    r = moon_to_sun
    d = np.clip(np.hypot(closest, since_mid_s * 0.5 / 960), 1e-9, None)
    crossing = (d < 1 + r) & (d > abs(1 - r))
    q = np.where(crossing, d, 1.0)
    one = np.arccos(np.clip((q * q + 1 - r * r) / (2 * q), -1, 1))
    other = r * r * np.arccos(np.clip((q * q + r * r - 1) / (2 * q * r), -1, 1))
    kite = 0.5 * np.sqrt(np.maximum((-q + r + 1) * (q + r - 1) * (q - r + 1) * (q + r + 1), 0))
    return np.where(crossing, (one + other - kite) / np.pi, np.where(d >= 1 + r, 0.0, min(1.0, r * r)))
