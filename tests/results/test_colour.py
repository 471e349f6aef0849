"""Pictures with a colour profile against the colours that follow from the published primaries."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from controller.results.clip import colour
from controller.results.clip.geometry import Canvas
from controller.results.clip.pictures import choose
from controller.results.clip.reader import Reader
from controller.simulated import tiff
from controller.simulated.tiff import ASCII, LONG, SHORT, UNDEFINED, Directory
from controller.words.documents import Frame
from tests.results.dusk import SHOOT
from tests.results.nights import row, srgb, to_linear
from tests.support.icc import ADOBE_RGB, DISPLAY_P3, SRGB, Primaries, profile, to_xyz

_SRGB_CURVE = to_linear(np.linspace(0, 255, 1024))
ADOBE, P3, OWN = profile(ADOBE_RGB, 563 / 256), profile(DISPLAY_P3, _SRGB_CURVE), profile(SRGB, _SRGB_CURVE)


def wanted(codes: np.ndarray, primaries: Primaries, gamma: float | None) -> np.ndarray:
    """sRGB codes by matrices; both whites are D65, so that no adaptation is needed. What sRGB lacks is cut off."""
    light = (codes / 255) ** gamma if gamma else to_linear(codes)
    return np.asarray(srgb(light @ (np.linalg.inv(to_xyz(SRGB)) @ to_xyz(primaries)).T))


def dcf_adobe_rgb() -> bytes:
    """Exif of a body that was set to Adobe RGB: no profile, and DCF's optional colour space by name."""
    index = Directory({1: (ASCII, "R03"), 2: (UNDEFINED, b"0100")})
    inner = Directory({0xA001: (SHORT, [65535]), 0xA005: (LONG, index)})
    return b"Exif\0\0" + tiff.encode([Directory({0x8769: (LONG, inner)})])


def frames(directory: Path, image: Image.Image, icc: bytes | None, count: int = 1, exif: bytes = b"") -> list[Frame]:
    slots = []
    for seq in range(1, count + 1):
        name = f"shoots/{SHOOT}/2026-12-01/{seq:06d}.jpg"
        (directory / name).parent.mkdir(parents=True, exist_ok=True)
        image.save(directory / name, quality=100, subsampling=0, icc_profile=icc, exif=exif)
        slots.append(row(seq, local_file=name))
    return slots


@pytest.mark.parametrize(
    ("icc", "primaries", "gamma"),
    [(ADOBE, ADOBE_RGB, 563 / 256), (None, ADOBE_RGB, 563 / 256), (P3, DISPLAY_P3, None)],
)
def test_colours_of_a_wider_space(tmp_path: Path, icc: bytes | None, primaries: Primaries, gamma: float | None) -> None:
    """Within 2 codes; without the profile, greens would be off by 40 (Adobe RGB) and 20 (Display P3)."""
    codes = np.array([[60, 200, 60], [200, 60, 60], [70, 80, 190], [128, 128, 128], [250, 240, 230], [20, 24, 30]])
    shown, far = [], []
    for number, code in enumerate(codes):
        slots = frames(
            tmp_path, Image.new("RGB", (48, 32), tuple(map(int, code))), icc, exif=b"" if icc else dcf_adobe_rgb()
        )
        reader, pictures = Reader(), choose(slots, tmp_path).pictures
        canvas = Canvas.of(reader.shape(pictures[0]))
        picture = np.asarray(reader.decode(pictures[0], canvas).image())
        small = np.asarray(reader.look(pictures[0], 16)[1])
        assert picture[0, 0] == pytest.approx(small[0, 0], abs=1)
        expected = wanted(code.astype(float), primaries, gamma)
        assert picture.mean(axis=(0, 1)) == pytest.approx(expected, abs=2), number
        shown.append(picture.mean(axis=(0, 1)))
        far.append(np.abs(expected - code).max())
    assert max(far) > 15
    assert reader.remarks == []


def test_srgb_by_its_profile_stays_as_it_is(tmp_path: Path) -> None:
    assert colour.to_srgb(OWN) is None
    ramp = Image.linear_gradient("L").convert("RGB")
    reader, pictures = Reader(), choose(frames(tmp_path, ramp, OWN), tmp_path).pictures
    canvas = Canvas.of(reader.shape(pictures[0]))
    shown = reader.decode(pictures[0], canvas).image()
    with Image.open(pictures[0].path) as image:
        assert np.array_equal(np.asarray(shown), np.asarray(image.convert("RGB")))


@pytest.mark.parametrize("icc", [b"no profile at all", ADOBE[:300], profile(SRGB, 2.2, b"CMYK")])
def test_a_profile_that_is_broken_is_told_once(tmp_path: Path, icc: bytes) -> None:
    slots = frames(tmp_path, Image.new("RGB", (48, 32), (60, 200, 60)), icc, count=3)
    reader, pictures = Reader(), choose(slots, tmp_path).pictures
    canvas = Canvas.of(reader.shape(pictures[0]))
    for picture in pictures:
        shown = np.asarray(reader.decode(picture, canvas).image())
        assert shown.mean(axis=(0, 1)) == pytest.approx([60, 200, 60], abs=1)
    assert reader.remarks == ["a colour profile inside the pictures cannot be used; they are taken as sRGB"]
