"""What small pictures tell, held against blur that Pillow puts on them, and a cap on the lens."""

from __future__ import annotations

import io
from dataclasses import replace
from statistics import median

import numpy as np
import pytest
from PIL import Image, ImageFilter

from controller.decide.exposure import triple
from controller.decide.health.black import black_frames
from controller.decide.health.blurred import IN_A_ROW, MUCH, blurred
from controller.decide.health.frozen import frozen
from controller.decide.health.pictures import Look, look
from controller.decide.health.usual import DAYS_KEPT, Usual, band
from controller.decide.meter import meter
from controller.decide.step import Slot
from tests.decide.health import a_look, of_camera

DICE = np.random.default_rng(20261126)


def quay(width: int = 160) -> Image.Image:
    """An invented scene by day: sky, houses with windows, water with glitter."""
    height = width * 2 // 3
    codes = np.full((height, width), 190.0)
    for left in range(0, width, width // 12):
        top = int(height * (0.35 + 0.1 * ((left * 7) % 5) / 5))
        codes[top : int(height * 0.7), left : left + width // 14] = 90
        codes[top + 4 : int(height * 0.66) : 6, left + 2 : left + width // 14 - 2 : 4] = 210
    glitter = np.random.default_rng(1).random((height, width))
    codes[int(height * 0.7) :] = np.where(glitter[int(height * 0.7) :] > 0.9, 230, 100)
    return Image.fromarray(np.stack([codes] * 3, axis=2).astype(np.uint8))


def jpeg(picture: Image.Image, noise: float = 1.5) -> bytes:
    """With a sensor's noise of its own."""
    codes = np.asarray(picture, dtype=np.float64) + DICE.normal(0, noise, np.asarray(picture).shape)
    out = io.BytesIO()
    Image.fromarray(np.clip(codes, 0, 255).astype(np.uint8)).save(out, "JPEG", quality=85)
    return out.getvalue()


def slot(seq: int = 1, ev: float = 14.0, altitude_deg: float = 20.0) -> Slot:
    exposure = triple(2.0**-ev * 64.0, 8.0, 100)  # N²/t = 2^ev
    return Slot(seq, 0.0, 0.0, 10.0, exposure, 9.0, ev, exposure.ev, altitude_deg, 220.0, -10.0)


def looked(content: bytes, seq: int = 1) -> Look:
    return look(content, meter(content), slot(seq))


@pytest.mark.parametrize(("radius_px", "raised"), [(0.0, False), (0.3, False), (1.0, True), (2.0, True), (4.0, True)])
@pytest.mark.parametrize("width", [160, 320, 640])
def test_a_blurred_window_is_seen_from_a_pixel_of_the_preview_on(radius_px: float, raised: bool, width: int) -> None:
    scene = quay(width)
    usual = looked(jpeg(scene)).sharpness
    soft = scene.filter(ImageFilter.GaussianBlur(radius_px))
    pictures = tuple(looked(jpeg(soft), n) for n in range(IN_A_ROW))
    (sign,) = blurred(of_camera(pictures=pictures, usual=usual))
    assert (sign.says == "raise") is raised, median(p.sharpness for p in pictures) / usual


@pytest.mark.parametrize("stops", [-2.0, -1.0, 0.5])
def test_another_exposure_is_no_blur(stops: float) -> None:
    scene = np.asarray(quay(), dtype=np.float64) / 255
    linear = np.where(scene <= 0.04045, scene / 12.92, ((scene + 0.055) / 1.055) ** 2.4) * 2**stops  # IEC 61966-2-1
    codes = np.where(linear <= 0.0031308, linear * 12.92, 1.055 * linear ** (1 / 2.4) - 0.055)
    other = Image.fromarray(np.clip(codes * 255, 0, 255).astype(np.uint8))
    assert looked(jpeg(other)).sharpness / looked(jpeg(quay())).sharpness > MUCH + 0.1


def test_a_cap_on_the_lens_is_seen() -> None:
    dark = Image.new("RGB", (160, 107), (1, 1, 1))
    pictures = tuple(looked(jpeg(dark, 0.5), n) for n in range(5))
    (sign,) = black_frames(of_camera(pictures=pictures))
    assert sign.says == "raise"
    (sign,) = black_frames(of_camera(pictures=(*pictures, looked(jpeg(quay()), 6))))
    assert sign.says == "clear"


def test_noise_alone_makes_pictures_differ() -> None:
    scene = quay()
    moving = tuple(looked(jpeg(scene), n) for n in range(6))
    once = jpeg(scene)
    stuck = tuple(looked(once, n) for n in range(6))
    assert [frozen(of_camera(pictures=p))[0].says for p in (moving, stuck)] == ["clear", "raise"]


@pytest.mark.parametrize(("azimuth_deg", "rising"), [(90.0, True), (179.0, True), (181.0, False), (270.0, False)])
def test_the_sun_rises_in_the_east(azimuth_deg: float, rising: bool) -> None:
    scene = jpeg(quay())
    assert look(scene, meter(scene), replace(slot(), sun_azimuth_deg=azimuth_deg)).rising is rising


# ---- what is usual


def days(usual: Usual, count: int, sharpness: float, *, blurred: bool = False) -> None:
    for _ in range(count):
        for altitude in np.arange(20.0, -20.0, -0.3):
            noon = 3.0 if altitude > 0 else 1.0  # lamps by night: a scene that is half as sharp, which is no blur
            usual.take(a_look(sun_altitude_deg=float(altitude), sharpness=noon * sharpness), blurred)


def test_like_is_compared_with_like() -> None:
    usual = Usual()
    days(usual, 1, 1.0)
    assert usual.of(a_look(sun_altitude_deg=10.0)) is None, "one day is no history"
    days(usual, 2, 1.0)
    assert usual.of(a_look(sun_altitude_deg=10.0)) == pytest.approx(3.0)
    assert usual.of(a_look(sun_altitude_deg=-10.0)) == pytest.approx(1.0)
    assert usual.of(a_look(sun_altitude_deg=10.0, rising=True)) is None


def test_what_is_blurred_does_not_become_usual() -> None:
    usual = Usual()
    days(usual, 3, 1.0)
    days(usual, 9, 0.1, blurred=True)
    assert usual.of(a_look(sun_altitude_deg=10.0)) == pytest.approx(3.0)


def test_history_is_bounded_and_comes_back_from_what_is_written_down() -> None:
    usual = Usual()
    days(usual, 40, 1.0)
    assert max(map(len, usual.days.values())) == DAYS_KEPT
    again = Usual.from_document(usual.days)
    assert again.of(a_look(sun_altitude_deg=10.0)) == usual.of(a_look(sun_altitude_deg=10.0))


def test_bands_are_three_degrees() -> None:
    assert band(0.0, True) == band(2.9, True) != band(3.0, True)
    assert band(0.0, True) != band(0.0, False)
    assert band(-0.1, True) != band(0.1, True)
    assert band(40.0, True) == band(80.0, True)
    assert band(-90.0, True) == band(-21.0, True)
