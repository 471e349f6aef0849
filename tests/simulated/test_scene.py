"""What the camera sees: how bright, and where things are."""

import math
from datetime import datetime

import numpy as np
import pytest

from controller.simulated.clouds import SKIES, Clouds
from controller.simulated.lens import Lens
from controller.simulated.light import Place, lights, sunset_azimuth
from controller.simulated.scene import Scene
from controller.simulated.sky import LUMINANCE

PLACE = Place(57.7, 11.95)
AFTERNOON = datetime.fromisoformat("2026-10-03T14:00:00Z").timestamp()


@pytest.fixture(scope="module")
def scene() -> Scene:
    return Scene(Lens(240, 160, sunset_azimuth(PLACE, AFTERNOON) + 4), PLACE, "clear", 1)


def _when(altitude: float) -> float:
    utc = AFTERNOON
    while lights(PLACE, utc).sun_altitude > altitude:
        utc += 10
    return utc


def _ev(scene: Scene, utc: float) -> float:
    mean = float(LUMINANCE @ scene.render(utc, 1.0).mean(axis=(1, 2)))
    return math.log2(mean / 0.125)


def test_brightness_follows_the_sun(scene: Scene) -> None:
    """The picture's EV against the sky's: incident light after USNO Circular 171, log2(20/π) = 2.67 EV for a camera
    that looks at a uniform sky (C = 250, K = 12.5), half of it here for land and water (this drawing's own)."""
    for altitude, lux in ((-3.0, 66.4), (-6.0, 2.992), (-9.0, 0.1159)):
        expected = math.log2(lux / 2.5) + math.log2(20 / math.pi)
        assert _ev(scene, _when(altitude)) == pytest.approx(expected, abs=1.3)


def test_a_whole_dusk_falls_steadily(scene: Scene) -> None:
    evs = [_ev(scene, _when(a)) for a in (3, 0, -2, -4, -6, -8, -10, -12)]
    steps = np.diff(evs)
    assert (steps < -0.3).all()
    assert 15 < evs[0] - evs[-1] < 21


def test_frames_a_few_seconds_apart_hardly_differ(scene: Scene) -> None:
    """The fastest clear dusk falls by 0.425 EV a minute; clouds and ripples may add a little, but no flicker."""
    utc = _when(-4)
    evs = [_ev(scene, utc + 5 * k) for k in range(12)]
    assert np.abs(np.diff(evs)).max() < 0.06


def test_the_sun_stands_where_the_lens_says(scene: Scene) -> None:
    utc = _when(3)
    now = lights(PLACE, utc)
    picture = LUMINANCE @ scene.render(utc, 0.001).reshape(3, -1)
    row, column = np.unravel_index(int(np.argmax(picture)), (160, 240))
    x, y, _ = scene.lens.project(now.sun_altitude, now.sun_azimuth)
    assert abs(column + 0.5 - float(x)) < 2
    assert abs(row + 0.5 - float(y)) < 2


def test_twilight_is_warm_below_and_blue_above(scene: Scene) -> None:
    red, _, blue = scene.render(_when(-6), 1.0)
    x, _, _ = scene.lens.project(0.0, lights(PLACE, _when(-6)).sun_azimuth)
    low = slice(scene.lens.horizon - 16, scene.lens.horizon - 6)
    column = slice(int(x) - 4, int(x) + 5)
    assert red[low, column].mean() > 2 * blue[low, column].mean()
    assert blue[:10].mean() > 1.5 * red[:10].mean()


def test_lamps_come_on_and_the_beacon_blinks(scene: Scene) -> None:
    utc = _when(-13) // 6 * 6
    tower = scene.render(utc + 0.2, 0.1)[1, 70:85, 130:148].max()
    dark = scene.render(utc + 4.0, 0.1)[1, 70:85, 130:148].max()
    through = scene.render(utc, 60.0)[1, 70:85, 130:148].max()
    assert tower > 5 * dark
    assert through == pytest.approx(dark + (tower - dark) / 3, rel=0.1)  # 2 s in 6


def test_somebody_lights_a_lamp(scene: Scene) -> None:
    utc = _when(-8)
    before = scene.render(utc, 1.0)[1, -20:, :40].mean()
    scene.extra_lx = 100.0
    after = scene.render(utc, 1.0)[1, -20:, :40].mean()
    scene.extra_lx = 0.0
    assert after > 10 * before


def test_clouds_dim_and_change_as_slowly_as_pyranometers_say() -> None:
    """One-minute pyranometer series (NREL Golden, 2019-03-10…17): |ΔEV| a minute has a median of 0.03, at worst 2.5."""
    grid = np.meshgrid(np.linspace(230, 300, 40), np.linspace(30, 1, 20))
    clouds = Clouds(grid[1], grid[0], "cloudy", 4)
    through = np.array([clouds.transmission(AFTERNOON + 60 * k) for k in range(600)])
    assert 0.2 < through.min() < 0.6 < through.max() <= 1
    step = np.abs(np.diff(np.log2(through)))
    assert 0.005 < np.median(step) < 0.15
    assert step.max() < 1
    clear = Clouds(grid[1], grid[0], "clear", 4)
    assert {clear.transmission(AFTERNOON + 60 * k) for k in range(100)} == {1.0}
    assert clouds.opacity(AFTERNOON).mean() > 2 * clear.opacity(AFTERNOON).mean()
    assert set(SKIES) == {"clear", "cloudy"}


def test_a_seed_is_a_scene() -> None:
    lens = Lens(120, 80, 265.0)
    utc = _when(-2)
    a, b, c = (Scene(lens, PLACE, "cloudy", seed).render(utc, 0.1) for seed in (1, 1, 2))
    assert np.array_equal(a, b)
    assert not np.array_equal(a, c)


@pytest.mark.parametrize(("latitude", "azimuth"), [(-33.9, 90.0), (78.0, 0.0), (0.0, 359.0)])
def test_any_place_and_direction_can_be_seen(latitude: float, azimuth: float) -> None:
    there = Scene(Lens(120, 80, azimuth), Place(latitude, 20.0), "cloudy", 1)
    for hour in range(0, 24, 3):
        picture = there.render(AFTERNOON + 3600 * hour, 10.0)
        assert np.isfinite(picture).all()
        assert picture.min() >= 0
