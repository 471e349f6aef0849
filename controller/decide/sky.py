"""How bright a scene is to be expected: illuminance of a clear sky from sun, moon and the light of the place.

Coefficients: Explanatory Supplement to the Astronomical Almanac (Seidelmann 1992, section 9.3; Urban & Seidelmann 2013,
p. 518): log10 E[lx] = l0 + l1·x + l2·x² + l3·x³, with x the altitude in units of 90°.
"""

from __future__ import annotations

import math

from controller.decide.moon import Moon

LUX_AT_EV_0 = 2.5  # incident light at EV100 0, ISO 2720 with C = 250

# lowest altitude of the range, then l0 … l3
_SUN = (
    (20.0, (3.74, 3.97, -4.07, 1.47)),
    (5.0, (3.05, 13.28, -45.98, 64.33)),
    (-0.8, (2.88, 22.26, -207.64, 1034.30)),
    (-5.0, (2.88, 21.81, -258.11, -858.36)),
    (-12.0, (2.70, 12.17, -431.69, -1899.83)),
    (-18.0, (13.84, 262.72, 1447.42, 2797.93)),
)
_MOON = (
    (20.0, (-1.95, 4.06, -4.24, 1.56)),
    (5.0, (-2.58, 12.58, -42.58, 59.06)),
    (-0.8, (-2.79, 24.27, -252.95, 1321.29)),
)
_RISING_DEG = -0.8
_NIGHT_DEG = -18.0  # below, the sun adds nothing more; the series must not be carried on


def sun_lx(altitude_deg: float) -> float:
    """Horizontal illuminance under a clear sky without moon, lx; from −18° down the constant of a starlit night."""
    return math.pow(10.0, _series(_SUN, altitude_deg)) if altitude_deg > _NIGHT_DEG else _STARLIT_LX


def moon_lx(moon: Moon) -> float:
    """Horizontal illuminance by the moon under a clear sky, lx.

    Below −0.8°, where the published series ends, it fades as the sun's twilight does, so that a moonrise is no step.
    """
    phase = 180.0 - moon.elongation_deg
    above = max(moon.altitude_deg, _RISING_DEG)
    twilight = sun_lx(moon.altitude_deg) / _RISING_SUN_LX if moon.altitude_deg < _RISING_DEG else 1.0
    return twilight * math.pow(10.0, _series(_MOON, above) - 8.68e-3 * phase - 2.2e-9 * phase**4)


def night_lx(moon: Moon, floor_lx: float) -> float:
    """What moon and place add to the sun's light and the stars', lx.

    `floor_lx` is the light of the place in a moonless night: stars, airglow and lamps together.
    """
    return moon_lx(moon) + max(0.0, floor_lx - _STARLIT_LX)


def scene_ev(sun_altitude_deg: float, night_lx: float) -> float:
    """Expected EV at ISO 100 of a scene of mid reflectance under a clear sky.

    What a camera meters differs by the direction that it looks in and by clouds; that is for the light rule to learn.
    """
    return math.log2((sun_lx(sun_altitude_deg) + night_lx) / LUX_AT_EV_0)


def _series(table: tuple[tuple[float, tuple[float, float, float, float]], ...], altitude_deg: float) -> float:
    x = altitude_deg / 90.0
    for lowest, coefficients in table:  # noqa: B007
        if altitude_deg >= lowest:
            break
    l0, l1, l2, l3 = coefficients
    return l0 + x * (l1 + x * (l2 + x * l3))


_STARLIT_LX = math.pow(10.0, _series(_SUN, _NIGHT_DEG))
_RISING_SUN_LX = sun_lx(_RISING_DEG)
