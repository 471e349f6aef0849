"""Sharpness and histogram against pictures whose blur and light are known; the blur is OpenCV's."""

from __future__ import annotations

import io

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from controller.decide.focus import STOPS, framing
from controller.decide.meter import SRGB
from controller.decide.picture import MeterError

BLURS = [0.0, 0.8, 1.6, 2.4, 4.0, 6.0]
SIZE = (320, 480)


def jpeg(linear: NDArray[np.float64]) -> bytes:
    """Linear light, 1 saturated, as an sRGB JPEG (IEC 61966-2-1)."""
    codes = np.searchsorted(SRGB.linear, np.clip(linear, 0, 1)).clip(0, 255).astype(np.uint8)
    out = io.BytesIO()
    Image.fromarray(codes if codes.ndim == 3 else np.repeat(codes[..., None], 3, 2)).save(out, "JPEG", quality=92)
    return out.getvalue()


def scene(rng: np.random.Generator) -> NDArray[np.float64]:
    """Blocks of many sizes, as houses have."""
    light = np.full(SIZE, 0.18)
    for _ in range(120):
        y, x = rng.integers(0, SIZE[0]), rng.integers(0, SIZE[1])
        light[y : y + rng.integers(4, 60), x : x + rng.integers(4, 60)] = rng.uniform(0.02, 0.8)
    return light


def stars(rng: np.random.Generator) -> NDArray[np.float64]:
    light = np.full(SIZE, 0.01)
    for y, x in zip(rng.integers(10, SIZE[0] - 10, 60), rng.integers(10, SIZE[1] - 10, 60), strict=True):
        light[y : y + 2, x : x + 2] += rng.uniform(0.2, 0.9)
    return light


def noisy(light: NDArray[np.float64], rng: np.random.Generator) -> NDArray[np.float64]:
    return light + rng.normal(0, 0.004, light.shape)


@pytest.mark.parametrize("drawn", [scene, stars])
@pytest.mark.parametrize("seed", range(4))
def test_sharpness_falls_with_every_step_out_of_focus(drawn, seed: int) -> None:
    rng = np.random.default_rng(seed)
    light = drawn(rng)
    figures = [
        framing(jpeg(noisy(cv2.GaussianBlur(light, (0, 0), blur) if blur else light, rng))).sharpness for blur in BLURS
    ]
    assert figures == sorted(figures, reverse=True)
    assert figures[0] > 3 * figures[-1]


@pytest.mark.parametrize("stops_down", [1, 2])
def test_it_hardly_depends_on_the_exposure(stops_down: int) -> None:
    light = scene(np.random.default_rng(5))
    bright, dark = framing(jpeg(light)), framing(jpeg(light / 2**stops_down))
    assert dark.sharpness == pytest.approx(bright.sharpness, rel=0.35)


def test_a_part_is_judged_by_itself() -> None:
    rng = np.random.default_rng(6)
    light = scene(rng)
    light[:, 240:] = cv2.GaussianBlur(light, (0, 0), 5)[:, 240:]
    left, right = (framing(jpeg(light), part=part).sharpness for part in ((0, 0, 0.48, 1), (0.52, 0, 1, 1)))
    assert left > 3 * right


def test_histogram_counts_stops_of_linear_light() -> None:
    """Ten bands, each half as bright as the one above: a tenth of the picture in each."""
    bands = np.repeat(0.75 * 2.0 ** -np.arange(STOPS), 32)[:, None] * np.ones((1, 320))
    shares = framing(jpeg(bands)).histogram
    assert shares[:7] == pytest.approx([0.1] * 7, abs=0.012)  # below that one code of 8 bits spans more than a stop
    assert sum(shares) == pytest.approx(1)


def test_ends_are_told() -> None:
    light = np.full(SIZE, 0.2)
    light[:, :120], light[:80] = 1.0, 0.0
    told = framing(jpeg(light))
    assert told.clipped == pytest.approx(0.25 * 0.75, abs=0.01)
    assert told.black == pytest.approx(0.25, abs=0.01)


def test_no_picture_is_an_error_of_ours() -> None:
    with pytest.raises(MeterError):
        framing(b"no picture at all")
