"""Where a clip looks: size, window, and a pan that the eye follows without a jerk."""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image

from controller.results.clip.geometry import Canvas, Shape, clip_size, window_at
from controller.results.clip.options import WHOLE, ClipOptions, Window
from controller.results.clip.pictures import Kind, Picture
from controller.results.clip.raw import Linear
from controller.results.clip.reader import Decoded, Reader, stood
from tests.results.nights import row

CAMERA = Shape(6000, 4000, 1)


def options(**given: Any) -> ClipOptions:
    return ClipOptions(fps=25, **given)


def window(x: float, y: float, w: float, h: float) -> Window:
    return Window(x=x, y=y, w=w, h=h)


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ({}, (1620, 1080)),
        ({"size": (3840, 2160)}, (3240, 2160)),
        ({"size": (640, 640)}, (640, 426)),
        ({"size": (8000, 8000)}, (6000, 4000)),
        ({"crop": window(0, 0.1, 1, 0.84375)}, (1920, 1080)),  # 6000 × 3375: 16:9
        ({"crop": window(0.5, 0.5, 0.25, 0.25)}, (1500, 1000)),  # no more than it has
        ({"crop": window(0.5, 0.5, 0.1, 0.2), "size": (100, 100)}, (74, 100)),
        ({"pan_to": window(0.5, 0.5, 0.2, 0.2)}, (1620, 1080)),
        ({"crop": window(0.5, 0.5, 0.1, 0.1), "pan_to": WHOLE}, (1620, 1080)),
    ],
)
def test_size_is_even_fits_and_has_the_windows_shape(given: dict[str, Any], expected: tuple[int, int]) -> None:
    assert clip_size(CAMERA, options(**given)) == expected
    assert clip_size(Shape(4000, 6000, 6), options(**given)) == expected  # the same picture, stored turned


def test_what_is_enlarged_is_said() -> None:
    assert Canvas.of(CAMERA, options()).remarks == Canvas.of(CAMERA, options(size=(3840, 2160))).remarks == ()
    assert Canvas.of(CAMERA, options(size=(8000, 8000))).remarks == (
        "8000×8000 would be larger than the pictures, which show 6000×4000 pixels; not enlarged",
    )
    assert Canvas.of(CAMERA, options(pan_to=window(0.4, 0.4, 0.1, 0.1))).remarks == (
        "where the window is narrowest, 600×400 pixels are enlarged to 1620×1080",
    )


_FRACTIONS = st.floats(0, 0.5)
_SIDES = st.floats(0.05, 0.5)


@given(_FRACTIONS, _FRACTIONS, _SIDES, _FRACTIONS, _FRACTIONS, _SIDES, st.integers(2, 5000), st.data())
def test_a_window_moves_evenly(
    x: float, y: float, w: float, x2: float, y2: float, w2: float, of: int, data: st.DataObject
) -> None:
    asked = options(crop=window(x, y, w, w), pan_to=window(x2, y2, w2, w2))
    place = data.draw(st.integers(0, of - 1))
    found = window_at(asked, place, of)
    share = place / (of - 1)
    assert found.x == pytest.approx(x + share * (x2 - x), abs=1e-9)
    assert found.y == pytest.approx(y + share * (y2 - y), abs=1e-9)
    assert found.w == pytest.approx(w + share * (w2 - w), abs=1e-9)
    assert found.h == pytest.approx(found.w, abs=1e-9)


_EDGES = st.integers(16, 9000)
_WINDOWS = st.builds(window, _FRACTIONS, _FRACTIONS, _SIDES, _SIDES)


@given(_EDGES, _EDGES, st.tuples(_EDGES, _EDGES), _WINDOWS, st.integers(1, 8), st.booleans())
def test_whatever_is_asked_stays_inside_the_picture(
    width: int, height: int, size: tuple[int, int], crop: Window, scale: int, pans: bool
) -> None:
    """Also at the scale that a JPEG is decoded at, whose edges are rounded up, and at the ends of a pan."""
    size = min(size[0], 8192), min(size[1], 8192)
    pan_to = window(1 - crop.w, 1 - crop.h, crop.w, crop.h) if pans else None
    asked = options(crop=crop, pan_to=pan_to, size=size)
    canvas = Canvas.of(Shape(width, height, 1), asked)
    assert all(2 <= edge <= max(limit, 2) and edge % 2 == 0 for edge, limit in zip(canvas.size, size, strict=True))
    decoded = -(-width // scale), -(-height // scale)
    upright = canvas.padded(decoded)
    for place in (0, 50, 99):
        left, upper, right, lower = canvas.box(upright, canvas.window(place, 100))
        assert 0 <= left < right <= upright[0]
        assert 0 <= upper < lower <= upright[1]


def test_a_window_that_stands_still() -> None:
    assert window_at(options(), 7, 10) == WHOLE
    crop = window(0.1, 0.2, 0.3, 0.3)
    assert window_at(options(crop=crop), 7, 10) == crop
    assert window_at(options(crop=crop, pan_to=WHOLE), 0, 1) == crop  # a clip of one frame


def texture(width: int, height: int) -> NDArray[np.float64]:
    """Soft detail that no edge of which is lost when it is resampled."""
    noise = np.random.default_rng(3).normal(0, 1, (height, width))
    return np.asarray(cv2.GaussianBlur(noise, (0, 0), 2.0))


def shifts(frames: list[NDArray[np.float32]]) -> NDArray[np.float64]:
    """Pixels by which each frame has moved against the one before, (x, y), by OpenCV's registration (ECC).

    It errs by up to 0.02 on such detail, where OpenCV's phase correlation errs by 0.3.
    """
    until = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 30, 1e-6)
    found = []
    for a, b in itertools.pairwise(frames):
        _, moved = cv2.findTransformECC(a, b, np.eye(2, 3, dtype=np.float32), cv2.MOTION_TRANSLATION, until, None, 1)
        found.append(moved[:, 2])
    return np.array(found)


@pytest.mark.parametrize("light", [False, True])
def test_a_pan_is_smooth(light: bool) -> None:
    """Each step 0.48 and 0.32 pixels of the clip, none of it off by more than 0.05; whole pixels would be by 0.3."""
    asked = options(crop=window(0.1, 0.1, 0.5, 0.5), pan_to=window(0.113, 0.113, 0.5, 0.5), size=(240, 160))
    detail = texture(720, 480)
    codes = np.clip(128 + 300 * detail, 0, 255).astype(np.uint8)
    pixels: Image.Image | Linear
    if light:
        pixels = np.repeat(np.clip(30_000 + 60_000 * detail, 0, 65535).astype(np.uint16)[..., None], 3, axis=2)
    else:
        pixels = Image.fromarray(np.repeat(codes[..., None], 3, axis=2))
    canvas = Canvas.of(Shape(720, 480, 1), asked)
    assert canvas.size == (240, 160)
    decoded = Decoded(pixels, canvas)
    of = 14
    frames = []
    for place in range(of):
        at = canvas.window(place, of)
        frame = decoded.linear(at) if light else np.asarray(decoded.image(at))
        frames.append(frame[..., 1].astype(np.float32))
    steps = -shifts(frames)
    assert steps == pytest.approx(np.tile([0.013 / 0.5 * 240 / 13, 0.013 / 0.5 * 160 / 13], (of - 1, 1)), abs=0.05)


def test_sharpness_stays_the_same_on_the_way(tmp_path: Path) -> None:
    """A zoom decodes every frame from the same pixels, so that none is softer than its neighbour by a jump."""
    path = tmp_path / "1.jpg"
    Image.fromarray(np.clip(128 + 300 * texture(1200, 800), 0, 255).astype(np.uint8)).convert("RGB").save(path)
    asked = options(pan_to=window(0.25, 0.25, 0.4, 0.4), size=(240, 160))
    canvas = Canvas.of(Shape(1200, 800, 1), asked)
    decoded = Reader().decode(Picture(row(1), path, Kind.FETCHED), canvas)
    assert isinstance(decoded.pixels, Image.Image)
    assert decoded.pixels.size == (600, 400)  # 240 / 0.4, in JPEG's own halves
    sharpness = []
    for place in range(40):
        shown = np.asarray(decoded.image(canvas.window(place, 40)), float)[..., 1]
        sharpness.append(np.log2(np.abs(np.diff(shown, axis=1)).mean()))
    assert np.abs(np.diff(sharpness)).max() < 0.1


def test_fine_detail_does_not_pulse_as_a_window_moves_over_it() -> None:
    """Contrast within 4 % at any part of a pixel, where pixels are shown as they are."""
    noise = cv2.GaussianBlur(np.random.default_rng(3).normal(0, 150, (322, 482)), (0, 0), 0.8)
    picture = Image.fromarray(np.clip(128 + noise, 0, 255).astype(np.uint8)).convert("RGB")
    asked = options(crop=window(0.1, 0.1, 0.5, 0.5), pan_to=window(0.104, 0.105, 0.5, 0.5))
    decoded = Decoded(picture, Canvas.of(Shape(482, 322, 1), asked))
    shown = [np.asarray(decoded.image(decoded.canvas.window(place, 9)), float) for place in range(9)]
    contrast = [float(np.log2(frame[60:100, 100:140].std())) for frame in shown]
    assert max(contrast) - min(contrast) < 0.06


def test_a_crop_shows_that_part_and_no_other() -> None:
    """Against numpy's slice: the clip's pixels are the picture's where both have the same size."""
    codes = np.random.default_rng(1).integers(0, 255, (80, 120, 3), dtype=np.uint8)
    canvas = Canvas.of(Shape(120, 80, 1), options(crop=window(0.25, 0.5, 0.5, 0.25)))
    assert canvas.size == (60, 20)
    shown = Decoded(Image.fromarray(codes), canvas).image(canvas.window(0, 1))
    assert np.array_equal(np.asarray(shown), codes[40:60, 30:90])
    light = Decoded(codes.astype(np.uint16) * 257, canvas).linear(canvas.window(0, 1))
    assert np.array_equal(light, codes[40:60, 30:90].astype(np.uint16) * 257)


@pytest.mark.parametrize("light", [False, True])
@pytest.mark.parametrize(("own", "bars"), [((40, 80), True), ((240, 160), False), ((122, 80), False)])
def test_pictures_of_other_sizes_show_the_same_part(light: bool, own: tuple[int, int], bars: bool) -> None:
    """The right half, white, of each: a tall one between bars, a larger one scaled."""
    codes = np.zeros((own[1], own[0], 3), np.uint8)
    codes[:, own[0] // 2 :] = 255
    canvas = Canvas.of(Shape(120, 80, 1), options(crop=window(0.5, 0, 0.5, 1)))
    pixels: Image.Image | Linear = codes.astype(np.uint16) * 257 if light else Image.fromarray(codes)
    decoded = stood(pixels, 1, canvas)
    shown = np.asarray(decoded.image(canvas.window(0, 1)), float)
    assert shown.shape == (80, 60, 3)
    assert shown[:, 3:17].min() > 250
    assert (shown[:, 25:].max() < 5) if bars else (shown[:, 25:].min() > 250)
