"""Exposures and pictures out of RAW files that are no TIFF by name: against ExifTool, LibRaw and what was put in."""

from __future__ import annotations

import json
import math
import shutil
import struct
import subprocess
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rawpy
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from controller.results.clip.exif import ExifExposure, true_exposure
from controller.results.clip.looks import look_at
from controller.results.clip.make import make_clip
from controller.results.clip.options import ClipOptions
from controller.results.clip.pictures import Kind, Picture
from controller.results.clip.reader import Reader
from controller.results.clip.reading import Unreadable
from controller.simulated import tiff
from controller.simulated.tiff import Directory
from tests.results.dusk import SHOOT, shoot
from tests.results.films import levels
from tests.results.nights import row, srgb
from tests.support.dng import jpeg
from tests.support.raws import box, cr3, exif, orf, raf, rw2

needs_exiftool = pytest.mark.skipif(shutil.which("exiftool") is None, reason="ExifTool is not installed")
damaged = pytest.mark.filterwarnings("ignore::UserWarning:PIL.TiffImagePlugin")  # as where a clip is made

EXPOSURES = ((1 / 4000, 2.8, 100), (1 / 60, 3.5, 1250), (0.3, 5.6, 6400), (13, 1.4, 25600), (217.5, 11, 64))
MAKE: dict[str, Callable[..., bytes]] = {"cr3": cr3, "raf": raf, "orf": orf, "rw2": rw2}
INSIDE = jpeg(Image.new("RGB", (96, 64), (200, 50, 20)))


def written(path: Path) -> tuple[float | None, ...]:
    told = true_exposure(path)
    return (told.written_s, told.written_aperture, told.written_iso) if told else (None, None, None)


def exiftool(*paths: Path) -> list[tuple[float | None, ...]]:
    """What the reference reads, as numbers."""
    tags = ("ExposureTime", "FNumber", "ISO")
    command = ["exiftool", "-json", "-n", *(f"-EXIF:{tag}" for tag in tags), *map(str, paths)]
    found = json.loads(subprocess.run(command, capture_output=True, check=True).stdout)
    return [tuple(one.get(tag) for tag in tags) for one in found]


@needs_exiftool
@pytest.mark.parametrize("kind", MAKE)
def test_exiftool_reads_the_same(tmp_path: Path, kind: str) -> None:
    paths = []
    for number, exposure in enumerate(EXPOSURES):
        paths.append(tmp_path / f"{number}.{kind}")
        paths[-1].write_bytes(MAKE[kind](exif(*exposure)))
    for path, exposure, other in zip(paths, EXPOSURES, exiftool(*paths), strict=True):
        assert written(path) == pytest.approx(exposure, rel=1e-6)
        assert written(path) == pytest.approx(other, rel=1e-6)


@needs_exiftool
@pytest.mark.parametrize("kind", MAKE)
def test_what_exiftool_wrote(tmp_path: Path, kind: str) -> None:
    """Directories and boxes as another hand lays them, with the JPEG's own behind them."""
    path = tmp_path / f"a.{kind}"
    for seconds, aperture, iso in EXPOSURES:
        path.write_bytes(MAKE[kind](exif(1, 1, 50), INSIDE))
        tags = [f"-EXIF:ExposureTime={seconds}", f"-EXIF:FNumber={aperture}", f"-EXIF:ISO={iso}", "-EXIF:Artist=nobody"]
        subprocess.run(["exiftool", "-q", "-m", "-overwrite_original", *tags, str(path)], check=True)
        assert written(path) == pytest.approx((seconds, aperture, iso), rel=1e-6)
        assert written(path) == pytest.approx(exiftool(path)[0], rel=1e-6)


@pytest.mark.parametrize("kind", ["raf", "orf", "rw2"])  # nothing in the CR3 can be decoded, as rawpy asks for
def test_libraw_reads_the_same(tmp_path: Path, kind: str) -> None:
    path = tmp_path / f"a.{kind}"
    for exposure in EXPOSURES:
        path.write_bytes(MAKE[kind](exif(*exposure)))
        with rawpy.imread(str(path)) as raw:
            assert written(path) == pytest.approx(raw.other[1:3] + raw.other[:1], rel=1e-6)


@pytest.mark.parametrize(
    ("told", "short", "long", "speed"),
    [(None, 400, None, 400), (800, 400, None, 800), (None, 65535, 102400, 102400), (65535, 65535, 204800, 204800)],
)
def test_a_speed_outside_of_exif(tmp_path: Path, told: int | None, short: int, long: int | None, speed: int) -> None:
    """RW2: in the first directory's 0x17, and in 0x37 where that or Exif's says 65535. So LibRaw's source has it; where
    Exif's directory comes last, as here, it stays at 65535."""
    path = tmp_path / "a.rw2"
    path.write_bytes(rw2(exif(1 / 60, 2.8, told), iso=short, long_iso=long))
    assert written(path)[2] == speed
    with rawpy.imread(str(path)) as raw:
        assert raw.other.iso_speed == (65535 if told == 65535 else speed)


def test_those_tags_are_of_that_format_alone(tmp_path: Path) -> None:
    (tmp_path / "a.dng").write_bytes(b"II*\0" + rw2(exif(1 / 60, 2.8, None), iso=400)[4:])
    assert written(tmp_path / "a.dng") == pytest.approx((1 / 60, 2.8, None))


@pytest.mark.parametrize("magic", [b"IIRO", b"IIRS"])
def test_names_of_one_format(tmp_path: Path, magic: bytes) -> None:
    (tmp_path / "a.orf").write_bytes(orf(exif(*EXPOSURES[1]), magic=magic))
    assert written(tmp_path / "a.orf") == pytest.approx(EXPOSURES[1])


@needs_exiftool
def test_the_other_order_of_bytes(tmp_path: Path) -> None:
    """ORF, written out by hand from TIFF 6.0: the first directory with the pointer, the Exif directory."""
    inner = struct.pack(">HHHIIHHIII", 2, 0x829A, 5, 1, 56, 0x8827, 3, 1, 800 << 16, 0)
    first = struct.pack(">4sIHHHIII", b"MMOR", 8, 1, 0x8769, 4, 1, 26, 0)
    (tmp_path / "a.orf").write_bytes(first + inner + struct.pack(">II", 1, 500))
    assert written(tmp_path / "a.orf") == (1 / 500, None, 800) == exiftool(tmp_path / "a.orf")[0]


def test_boxes_of_every_form(tmp_path: Path) -> None:
    """ISO/IEC 14496-12, 4.2: sizes of 64 bits, boxes that are none of ours, a last one that goes on to the end."""
    path, inside = tmp_path / "a.cr3", exif(*EXPOSURES[1])
    anothers = bytes(16) + box(b"CMT2", tiff.encode([Directory(exif(*EXPOSURES[0]))]))
    other = box(b"free", b"") + box(b"uuid", anothers) + box(b"moov", box(b"uuid", anothers))
    head, moov = cr3(inside)[:24], cr3(inside)[24:].partition(b"mdat")[0][:-4]
    endless = head + bytes(4) + moov[4:]
    for content in (cr3(inside, wide=True), cr3(inside, before=other), endless):
        path.write_bytes(content)
        assert written(path) == pytest.approx(EXPOSURES[1])


@needs_exiftool
def test_exiftool_reads_wide_boxes(tmp_path: Path) -> None:
    (tmp_path / "a.cr3").write_bytes(cr3(exif(*EXPOSURES[1]), wide=True))
    assert exiftool(tmp_path / "a.cr3")[0] == pytest.approx(EXPOSURES[1])


@pytest.mark.parametrize("size", [0, 1, 2, 7, 8, 16, 0x7FFFFFFF, 0xFFFFFFFF])
def test_boxes_that_are_none(tmp_path: Path, size: int) -> None:
    head = box(b"ftyp", b"crx \0\0\0\1")
    for name in (b"free", b"moov", b"uuid"):
        (tmp_path / "a.cr3").write_bytes(head + struct.pack(">I4s", size, name) * 1000)
        assert true_exposure(tmp_path / "a.cr3") is None


@pytest.mark.parametrize("before", [box(b"free", b"") * 100, struct.pack(">I", 4), struct.pack(">I4s", 4, b"free")])
def test_what_is_no_row_of_boxes_is_not_walked_on(tmp_path: Path, before: bytes) -> None:
    """A size below that of the box's own head, or more boxes than a camera writes: a damaged file of millions of them
    would hold up the clip."""
    (tmp_path / "a.cr3").write_bytes(cr3(exif(*EXPOSURES[1]), before=before))
    assert true_exposure(tmp_path / "a.cr3") is None


def test_a_box_that_is_longer_than_what_it_lies_in(tmp_path: Path) -> None:
    content = bytearray(cr3(exif(*EXPOSURES[1])))
    at = content.index(b"CMT2") - 4
    content[at : at + 4] = struct.pack(">I", 2000)
    (tmp_path / "a.cr3").write_bytes(content)
    assert true_exposure(tmp_path / "a.cr3") is None


@pytest.mark.parametrize("kind", MAKE)
def test_no_more_is_read_than_that(tmp_path: Path, kind: str) -> None:
    """A JPEG in it of half a megabyte, and a sensor's 40 MB behind, of which a file system keeps nothing."""
    path = tmp_path / f"a.{kind}"
    content = MAKE[kind](exif(*EXPOSURES[0]), INSIDE + bytes(500_000))
    if kind == "cr3":
        content += struct.pack(">I4s", 40_000_000, b"mdat")
    with path.open("wb") as file:
        file.write(content)
        file.truncate(len(content) + 40_000_000 - 8)
    assert written(path) == pytest.approx(EXPOSURES[0])
    tracemalloc.start()
    true_exposure(path)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 200_000


@damaged
@pytest.mark.parametrize("kind", MAKE)
@given(st.data())
@settings(max_examples=150, deadline=None)
def test_damage_breaks_nothing(tmp_path_factory: Any, kind: str, data: st.DataObject) -> None:
    content = bytearray(MAKE[kind](exif(*EXPOSURES[1])))
    for _ in range(data.draw(st.integers(0, 4))):
        content[data.draw(st.integers(0, min(len(content), 900) - 1))] = data.draw(st.integers(0, 255))
    path = tmp_path_factory.getbasetemp() / f"damaged.{kind}"
    path.write_bytes(content[: data.draw(st.integers(0, len(content)))])
    told = true_exposure(path) or ExifExposure(None, None, None)
    for value in (told.shutter_s, told.aperture, told.iso):
        assert value is None or (value > 0 and math.isfinite(value))


@pytest.mark.parametrize("kind", MAKE)
def test_picture_and_exposure_of_one_file(tmp_path: Path, kind: str) -> None:
    path = tmp_path / f"a.{kind}"
    path.write_bytes(MAKE[kind](exif(*EXPOSURES[1]), INSIDE))
    shape, told, shares = look_at(Reader(), Picture(row(1), path, Kind.EMBEDDED))
    assert (shape.width, shape.height) == (96, 64)
    assert told is not None
    assert told.shutter_s == pytest.approx(1 / 64)
    assert shares.argmax(axis=1) == pytest.approx([200, 50, 20], abs=2)


@pytest.mark.parametrize("kind", MAKE)
def test_a_file_cut_anywhere_says_why(tmp_path: Path, kind: str, capfd: pytest.CaptureFixture[str]) -> None:
    whole, path = MAKE[kind](exif(*EXPOSURES[1]), INSIDE), tmp_path / f"a.{kind}"
    said = set()
    for length in range(0, len(whole), len(whole) // 60):
        path.write_bytes(whole[:length])
        try:
            look_at(Reader(), Picture(row(1), path, Kind.EMBEDDED))
            said.add("")
        except Unreadable as error:
            said.add(str(error))
    assert {line.count("\n") for line in said} == {0}
    assert len(said) > 1
    capfd.readouterr()  # libjpeg tells of premature ends by itself


def test_a_picture_in_hevc_is_none_that_can_be_read(tmp_path: Path) -> None:
    """As bodies that are set to HDR put it in; LibRaw knows it by its mark, and hands it out as no JPEG."""
    (tmp_path / "a.cr3").write_bytes(cr3(exif(*EXPOSURES[1]), b"\0\0\0\1CISZ" + bytes(900)))
    with pytest.raises(Unreadable, match="has no picture inside that can be read"):
        look_at(Reader(), Picture(row(1), tmp_path / "a.cr3", Kind.EMBEDDED))


@pytest.mark.parametrize("kind", MAKE)
def test_a_film_over_a_dial_that_was_turned_by_hand(tmp_path: Path, kind: str) -> None:
    """ISO 100 in the log all along, 400 in the files from the thirteenth on, and two stops lighter, which would stay a
    step in the film; two more files cannot be shown."""
    slots = []
    for seq in range(1, 25):
        turned = seq > 12
        code = int(srgb(np.array(0.2 if turned else 0.05)))
        content = jpeg(Image.new("RGB", (96, 64), (code, code, code)))
        if seq == 4:
            content = b"\0\0\0\1CISZ" + bytes(900)  # in HEVC
        told = MAKE[kind](exif(1 / 60, 2.8, 400 if turned else 100), content)
        name = f"shoots/{SHOOT}/{seq:06d}.{kind}"
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(told[:600] if seq == 20 else told)
        slots.append(row(seq, local_file=name, shutter_s=1 / 64, aperture=2**1.5, iso=100.0))
    asked = ClipOptions(fps=25, source="embedded")
    made = make_clip(shoot(slots), slots, tmp_path, tmp_path / "clip.mp4", asked)
    assert made.from_embedded == made.frames == 22
    assert [(gap.first_seq, gap.last_seq) for gap in made.gaps] == [(4, 4), (20, 20)]
    assert any("exposed with 1/60 s f/2.8 ISO 400, by their Exif, instead of" in remark for remark in made.remarks)
    steps = np.diff(levels(tmp_path / "clip.mp4"))
    assert np.abs(steps).max() < 0.3  # EV; the two stops are a ramp now
