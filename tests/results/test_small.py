"""Previews as DCF has them (CIPA DC-009): 160 × 120 pixels, a picture of another shape between black bars."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageOps

from controller.results.clip.small import between, inside
from controller.results.series.measure import measure
from controller.words.documents import Frame, FrameState
from controller.words.layout import preview_path
from tests.results.dusk import SHOOT
from tests.results.films import frames, levels
from tests.results.nights import dusk
from tests.results.scenes import save, scene
from tests.results.test_clip import clip, file_of

DARK = 24  # a code that a drawn dusk does not reach


def barred(directory: Path, slot: Frame) -> Frame:
    """The same row with its picture as a thumbnail."""
    path = directory / preview_path(SHOOT, slot.seq)
    path.parent.mkdir(parents=True, exist_ok=True)
    with Image.open(file_of(directory, slot)) as image:
        ImageOps.pad(image, (160, 120)).save(path, quality=85)
    return slot.model_copy(update={"preview": True})


def edges_are_lit(picture: np.ndarray) -> bool:
    return min(side.max(axis=-1).mean() for side in (picture[0], picture[-1], picture[:, 0], picture[:, -1])) > DARK


@pytest.mark.parametrize("steady", [True, False])
def test_a_film_of_previews_has_no_bars(tmp_path: Path, steady: bool) -> None:
    slots = [barred(tmp_path, slot) for slot in dusk(12).save(tmp_path, (480, 320))]
    slots = [slot.model_copy(update={"state": FrameState.WRITTEN, "local_file": None}) for slot in slots]
    made = clip(tmp_path, slots, steady)
    assert (made.width, made.height, made.from_previews) == (160, 106, 12)
    assert made.remarks == []
    assert all(edges_are_lit(picture) for picture in frames(tmp_path / "clip.mp4"))


def test_one_between_full_pictures_is_as_large_and_as_light_as_they_are(tmp_path: Path) -> None:
    """With its bars it would be darker by 0.17 EV, and be made as much too light."""
    slots = [barred(tmp_path, slot) for slot in dusk(24).save(tmp_path, (480, 320))]
    file_of(tmp_path, slots[11]).write_bytes(b"no picture")
    made = clip(tmp_path, slots, True)
    assert (made.from_fetched, made.from_previews) == (23, 1)
    assert all(edges_are_lit(picture) for picture in frames(tmp_path / "clip.mp4"))
    shown = levels(tmp_path / "clip.mp4")
    assert abs(shown[11] - (shown[10] + shown[12]) / 2) < 0.03


def test_what_is_black_at_its_edges_or_all_over_keeps_them(tmp_path: Path) -> None:
    tall, night = tmp_path / "tall.jpg", tmp_path / "night.jpg"
    picture = np.full((120, 160, 3), 120, np.uint8)
    picture[:20] = 0  # a roof, and nothing of its kind below
    Image.fromarray(picture).save(tall, quality=85)
    Image.new("RGB", (160, 120)).save(night)
    assert between([tall] * 9) is None
    assert between([night] * 9) is None
    assert between([tmp_path / "gone.jpg"]) is None
    assert between([]) is None


@pytest.mark.parametrize(
    ("size", "shape", "edges"),
    [
        ((160, 120), 3 / 2, (0, 7, 160, 113)),
        ((160, 120), 16 / 9, (0, 15, 160, 105)),
        ((160, 120), 1.0, (20, 0, 140, 120)),
        ((160, 120), 4 / 3, None),
        ((1620, 1080), 3 / 2, None),
    ],
)
def test_what_lies_inside(size: tuple[int, int], shape: float, edges: tuple[int, int, int, int] | None) -> None:
    assert inside(size, shape) == edges


@pytest.mark.parametrize("fog", [0.0, 1.0])
def test_weather_is_measured_of_the_picture_alone(tmp_path: Path, fog: float) -> None:
    """Bars would leave a third of the contrast in any fog."""
    save(tmp_path / "bare.jpg", scene(1, fog=fog))
    with Image.open(tmp_path / "bare.jpg") as image:
        ImageOps.pad(image, (324, 243)).save(tmp_path / "barred.jpg", quality=95)
    bare, seen = measure(tmp_path / "bare.jpg", 13.0), measure(tmp_path / "barred.jpg", 13.0)
    assert bare is not None
    assert seen is not None
    assert (seen.rms, seen.sharp, seen.light) == pytest.approx((bare.rms, bare.sharp, bare.light), abs=0.15)
    assert seen.black < 0.01
