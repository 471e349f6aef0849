"""The light outdoors against published values."""

import itertools
import math
from datetime import datetime

import pytest

from controller.simulated.light import NIGHT_LX, Place, lights, moonlight, separation, sunlight, sunset_azimuth


@pytest.mark.parametrize(
    ("altitude", "lux", "within_ev"),
    [
        # Explanatory Supplement to the Astronomical Almanac (1992) sec. 9.3, the source that this model does not use;
        # it and USNO Circular 171 agree within 0.2 EV by day, 0.55 at the horizon, 0.3 to −9°, 1 at −12°.
        (60, 103_100, 0.2),
        (30, 46_300, 0.2),
        (10, 11_120, 0.2),
        (5, 4_499, 0.25),
        (0, 758.6, 0.55),
        (-12, 0.008137, 1.0),
        # USNO Circular 171 itself, evaluated independently, where its own refraction is nil
        (60, 103_000, 0.01),
        (30, 51_320, 0.01),
        (-3, 66.4, 0.01),
        (-6, 2.992, 0.01),
        (-9, 0.1159, 0.01),
        (90, 123_786, 0.001),  # its certification table A, sun in the zenith
    ],
)
def test_sunlight(altitude: float, lux: float, within_ev: float) -> None:
    assert abs(math.log2(sum(sunlight(altitude)) / lux)) <= within_ev


@pytest.mark.parametrize(("altitude", "lux"), [(-15, 0.002023), (-18, 0.0006447)])
def test_the_end_of_twilight_with_the_night_sky_under_it(altitude: float, lux: float) -> None:
    """Explanatory Supplement 1992; 1 EV, as at −12°."""
    assert abs(math.log2((sum(sunlight(altitude)) + NIGHT_LX) / lux)) <= 1


def test_the_zenith_fades_by_1_51_ev_a_degree() -> None:
    """Patat et al., A&A 455 (2006) 385: 1.14 mag a degree in V on the mean from −5° to −15°, night sky included."""

    def total(altitude: float) -> float:
        return sum(sunlight(altitude)) + NIGHT_LX

    assert math.log2(total(-5) / total(-12)) / 7 == pytest.approx(1.51, abs=0.12)


def test_sunlight_falls_without_a_step_and_always() -> None:
    altitudes = [20 - k * 0.05 for k in range(900)]
    steps = [math.log2(sum(sunlight(a)) / sum(sunlight(b))) for a, b in itertools.pairwise(altitudes)]
    assert min(steps) > 0
    assert max(steps) < 0.1  # 2 EV a degree at most


@pytest.mark.parametrize(
    ("altitude", "elongation", "lux"),
    [(30, 180, 0.162), (60, 180, 0.329), (90, 180, 0.397), (90, 120, 0.397 * 0.15), (90, 90, 0.397 * 0.0662)],
)
def test_moonlight(altitude: float, elongation: float, lux: float) -> None:
    """USNO Circular 171, evaluated independently."""
    assert moonlight(altitude, elongation) == pytest.approx(lux, rel=0.02)


def test_a_full_moon_lights_a_landscape_at_ev_minus_3_to_minus_2() -> None:
    """ANSI PH2.7-1986 exposure guide, moon above 40°; incident light, C = 250 (ISO 2720): EV 0 is 2.5 lx."""
    assert -4 <= math.log2(moonlight(60, 180) / 2.5) <= -1


@pytest.mark.parametrize(
    ("place", "utc", "altitude", "azimuth", "fraction"),
    [
        (Place(-0.18, -78.47), "2025-03-20T06:00:00Z", 32.6554, 121.4274, 0.712),
        (Place(-33.87, 151.21), "2025-12-05T14:00:00Z", 26.8384, 5.6287, 0.9924),
        (Place(69.65, 18.96), "2026-11-24T20:00:00Z", 39.8788, 130.5559, 0.9975),
    ],
)
def test_where_the_moon_stands(place: Place, utc: str, altitude: float, azimuth: float, fraction: float) -> None:
    """skyfield 1.55 with DE421; half a degree is the moon's own width."""
    seen = lights(place, datetime.fromisoformat(utc).timestamp())
    assert seen.moon_altitude == pytest.approx(altitude, abs=0.5)
    assert seen.moon_azimuth == pytest.approx(azimuth, abs=0.5)
    assert (1 - math.cos(math.radians(seen.moon_elongation))) / 2 == pytest.approx(fraction, abs=0.02)


def test_where_the_sun_stands() -> None:
    """NREL/TP-560-34302 (2003), appendix A.5: zenith distance 50.11162°, azimuth 194.34024° (at 1,830 m)."""
    seen = lights(Place(39.742476, -105.1786), datetime.fromisoformat("2003-10-17T12:30:30-07:00").timestamp())
    assert seen.sun_altitude == pytest.approx(90 - 50.11162, abs=0.02)
    assert seen.sun_azimuth == pytest.approx(194.34024, abs=0.02)


def test_where_the_sun_sets() -> None:
    """At an equinox the sun sets due west, wherever one is (within what a day of declination and refraction make)."""
    noon = datetime.fromisoformat("2026-03-20T12:00:00Z").timestamp()
    assert sunset_azimuth(Place(40, 0), noon) == pytest.approx(270, abs=0.7)
    assert separation(10, 350, 10, 10) == pytest.approx(19.69, abs=0.01)  # spherical law of cosines, by hand
