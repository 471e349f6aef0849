"""Clips from each source, decoded again: pictures inside RAW files, developed ones, wider colours, mixtures."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from controller.results.clip.make import ClipResult, make_clip
from controller.results.clip.options import ClipOptions, Window
from controller.words.documents import Frame, FrameState
from controller.words.errors import BadInput
from tests.results.dusk import SHOOT, shoot
from tests.results.films import frames, jpeg, levels
from tests.results.nights import row
from tests.results.test_raw import INSIDE, SCENE, path, raws
from tests.support.dng import dng
from tests.support.icc import DISPLAY_P3, profile


def clip(directory: Path, slots: list[Frame], **options: Any) -> ClipResult:
    asked = ClipOptions(fps=25, **({"steady": "off"} | options))
    return make_clip(shoot(slots), slots, directory, directory / "clip.mp4", asked)


@pytest.mark.parametrize("bits", [8, 10])
def test_a_film_of_developed_files_has_the_light_of_the_scene(tmp_path: Path, bits: Any) -> None:
    """A stop darker from frame to frame is a stop darker in the decoded film, to 0.03 EV."""
    slots = raws(tmp_path, 4)
    for number, slot in enumerate(slots):
        path(tmp_path, slot).write_bytes(dng(SCENE * 2.0**-number))
    made = clip(tmp_path, slots, source="developed", bits=bits)
    assert (made.from_developed, made.width, made.height, made.remarks) == (4, 96, 64, [])
    if bits == 8:
        light = levels(tmp_path / "clip.mp4")
        assert light[0] == pytest.approx(np.log2((SCENE @ [0.2126, 0.7152, 0.0722]).mean()), abs=0.03)
        assert np.diff(light) == pytest.approx([-1, -1, -1], abs=0.03)


def test_a_source_that_the_shoot_has_not(tmp_path: Path) -> None:
    slots = raws(tmp_path, 2, preview=INSIDE)
    said = r"that the clip can show \(fetched as RAW only\). Choose another source, or leave it out"
    with pytest.raises(BadInput, match=said):
        clip(tmp_path, slots, source="fetched")
    clip(tmp_path, slots, source="embedded")


@pytest.mark.parametrize(("codec", "share", "least"), [("h264", 0.24, "16×16"), ("hevc", 0.6, "64×32")])
def test_a_film_that_would_be_too_small(tmp_path: Path, codec: Any, share: float, least: str) -> None:
    """glibc's checks of the heap (MALLOC_CHECK_=3) end x265 in films that are up to 48 pixels wide."""
    slots = raws(tmp_path, 3, preview=INSIDE)
    with pytest.raises(BadInput, match=rf"pixels, and {codec} needs {least}. Give a larger"):
        clip(tmp_path, slots, codec=codec, crop=Window(x=0, y=0, w=share, h=share))
    assert not (tmp_path / "clip.mp4").exists()
    assert clip(tmp_path, slots, codec=codec).height == 64


def test_a_growing_film_is_developed_in_one_way(tmp_path: Path) -> None:
    """A part of the film that was made before is made again once later files change the white balance of all."""
    grey = np.full((64, 96, 3), 0.4)
    early, late = raws(tmp_path, 2, grey)
    path(tmp_path, early).write_bytes(dng(grey, as_shot=np.array([0.6, 1.0, 0.5])))
    slots = [row(seq, local_file=(early if seq <= 20 else late).local_file) for seq in range(1, 51)]
    asked = ClipOptions(fps=5, source="developed", steady="off")
    make_clip(shoot(slots), slots[:20], tmp_path, tmp_path / "clip.mp4", asked, keep_work=True)
    first = next(frames(tmp_path / "clip.mp4")).mean(axis=(0, 1))
    make_clip(shoot(slots), slots, tmp_path, tmp_path / "clip.mp4", asked, keep_work=True)
    shown = np.array([frame.mean(axis=(0, 1)) for frame in frames(tmp_path / "clip.mp4")])
    assert np.abs(shown[-1] - first).max() > 20
    assert np.ptp(shown[:20], axis=0).max() < 2
    assert shown[-1].max() - shown[-1].min() < 3  # grey by the later files' own balance
    assert np.abs(shown[0] - first).max() > 20


def test_a_film_of_the_pictures_inside(tmp_path: Path) -> None:
    slots = raws(tmp_path, 4, preview=INSIDE)
    content = path(tmp_path, slots[2]).read_bytes()
    path(tmp_path, slots[2]).write_bytes(content[:1000])
    made = clip(tmp_path, slots)
    assert (made.frames, made.from_embedded) == (3, 3)
    assert "RAW" in made.source
    why = "the RAW file is cut short, or of a kind that LibRaw does not know"
    assert made.remarks == [f"frame 3, 000003.DNG: {why}; left out"]
    (gap,) = made.gaps
    assert gap.text.endswith(f"({why})")
    for frame in frames(tmp_path / "clip.mp4"):
        assert frame.mean(axis=(0, 1)) == pytest.approx([200, 50, 20], abs=4)


def test_raw_files_and_previews_fill_each_others_gaps(tmp_path: Path) -> None:
    """Two frames of which only a preview is on the rig, beside RAW files."""
    slots = raws(tmp_path, 5, preview=INSIDE)
    for number in (1, 3):
        path(tmp_path, slots[number]).unlink()
        slots[number] = row(number + 1, state=FrameState.WRITTEN, preview=True)
        jpeg(tmp_path / f"shoots/{SHOOT}/previews/{number + 1:06d}.jpg", (48, 32), (200, 50, 20))
    made = clip(tmp_path, slots)
    assert (made.frames, made.from_embedded, made.from_previews, made.gaps) == (5, 3, 2, [])
    for frame in frames(tmp_path / "clip.mp4"):
        assert frame.mean(axis=(0, 1)) == pytest.approx([200, 50, 20], abs=4)


def test_one_picture_in_another_colour_space_does_not_stand_out(tmp_path: Path) -> None:
    slots = []
    for seq in range(1, 6):
        name = f"shoots/{SHOOT}/2026-12-01/{seq:06d}.jpg"
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        colour, icc = (120, 180, 90), None
        if seq == 3:  # the same colour by Display P3's primaries: linear P3 = its matrix⁻¹ · sRGB's · linear sRGB
            colour, icc = (133, 178, 101), profile(DISPLAY_P3, _curve())
        Image.new("RGB", (96, 64), colour).save(tmp_path / name, quality=98, subsampling=0, icc_profile=icc)
        slots.append(row(seq, local_file=name))
    made = clip(tmp_path, slots)
    assert made.remarks == []
    shown = [frame.mean(axis=(0, 1)) for frame in frames(tmp_path / "clip.mp4")]
    assert shown[2] == pytest.approx(shown[1], abs=3)


def _curve() -> np.ndarray:
    codes = np.linspace(0, 1, 1024)
    return np.asarray(np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4))


def test_a_pan_over_turned_pictures_of_two_sizes(tmp_path: Path) -> None:
    """From the lit left end of an upright scene to its dark right end, from files that lie on their side."""
    slots = []
    for seq in range(1, 10):
        size = (192, 128) if seq == 5 else (96, 64)  # width and height upright
        upright = np.zeros((size[1], size[0], 3), np.uint8)
        upright[:, : size[0] // 2] = 200
        name = f"shoots/{SHOOT}/2026-12-01/{seq:06d}.jpg"
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        exif = Image.Exif()
        exif[274] = 6  # stored turned by 90° to the left
        stored = Image.fromarray(upright).transpose(Image.Transpose.ROTATE_90)
        stored.save(tmp_path / name, quality=95, exif=exif)
        slots.append(row(seq, local_file=name))
    left, right = Window(x=0, y=0.25, w=0.5, h=0.5), Window(x=0.5, y=0.25, w=0.5, h=0.5)
    made = clip(tmp_path, slots, crop=left, pan_to=right)
    assert (made.width, made.height) == (48, 32)
    assert made.remarks == ["frame 5, 000005.jpg: 192×128 pixels instead of 96×64; fitted"]
    lit = [float((frame[..., 1] > 100).mean()) for frame in frames(tmp_path / "clip.mp4")]
    assert lit == pytest.approx(1 - np.arange(9) / 8, abs=0.03)
