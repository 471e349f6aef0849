"""Exposures out of pictures: against ExifTool as reader and writer, and the rules of Exif 3.0 (CIPA DC-008)."""

from __future__ import annotations

import io
import json
import math
import shutil
import struct
import subprocess
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from controller.results.clip.exif import ExifExposure, exposures, true_exposure
from tests.results.nights import row
from tests.simulated.test_files import _shoot
from tests.support.simcam import start_simulated_camera

needs_exiftool = pytest.mark.skipif(shutil.which("exiftool") is None, reason="ExifTool is not installed")


def exiftool(*paths: Path) -> list[dict[str, Any]]:
    """What the reference reads, as numbers."""
    tags = ("-EXIF:ExposureTime", "-EXIF:FNumber", "-EXIF:ISO", "-EXIF:RecommendedExposureIndex")
    command = ["exiftool", "-json", "-n", *tags, *map(str, paths)]
    found: list[dict[str, Any]] = json.loads(subprocess.run(command, capture_output=True, check=True).stdout)
    return found


def jpeg(path: Path, tags: dict[int, Any]) -> Path:
    exif = Image.Exif()
    exif.get_ifd(0x8769).update(tags)
    Image.new("RGB", (16, 16)).save(path, exif=exif)
    return path


@needs_exiftool
def test_pictures_of_the_simulated_camera(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, epoch_utc="2026-10-03T17:20:00Z", files="raw+jpeg", rate=60) as camera:
        for seconds, aperture, iso in ((1 / 60, 560, 1250), (0.3, 350, 100), (15, 1300, 3200)):
            _shoot(camera, seconds, aperture, iso)
        record = camera.record()
        files = [camera.card / name for frame in record for name in frame["files"]]
        truth = [frame for frame in record for _ in frame["files"]]
    assert {path.suffix for path in files} == {".JPG", ".DNG"}
    for path, frame, other in zip(files, truth, exiftool(*files), strict=True):
        told = true_exposure(path)
        assert told is not None
        written = (told.written_s, told.written_aperture, told.written_iso)
        assert written == pytest.approx((other["ExposureTime"], other["FNumber"], other["ISO"]), rel=1e-6)
        assert told.shutter_s == pytest.approx(frame["shutter_s"], rel=1e-4)  # the camera's own record
        assert told.iso == pytest.approx(frame["iso"], rel=1e-4)
        assert told.aperture == pytest.approx(frame["aperture"], rel=1e-3)


@needs_exiftool
def test_pictures_that_exiftool_wrote(tmp_path: Path) -> None:
    """Labels as dials have them; the true stops are powers of 2^(1/3) and 2^(1/6): arithmetic."""
    cases = [
        ("1/60", "3.5", "125", 1 / 64, 2 ** (11 / 6), 100 * 2 ** (1 / 3)),
        ("0.3", "5.6", "100", 2 ** (-5 / 3), 2**2.5, 100),
        ("1/3", "8", "640", 2 ** (-5 / 3), 8, 100 * 2 ** (8 / 3)),
        ("30", "2.8", "12800", 32, 2**1.5, 12800),
        ("1/73", "4.2", "110", 1 / 73, 4.2, 110),  # an automatic's, on no dial
        ("1/350", "9.5", "200", 2**-8.5, 2**3.25, 200),  # halves
        ("217.5", "2", "50", 217.5, 2, 50),  # bulb
    ]
    paths = []
    for number, (seconds, aperture, iso, *_) in enumerate(cases):
        path = tmp_path / f"{number}.jpg"
        Image.new("RGB", (16, 16)).save(path)
        tags = [f"-EXIF:ExposureTime={seconds}", f"-EXIF:FNumber={aperture}", f"-EXIF:ISO={iso}"]
        subprocess.run(["exiftool", "-q", "-overwrite_original", *tags, str(path)], check=True)
        paths.append(path)
    for path, case, other in zip(paths, cases, exiftool(*paths), strict=True):
        with Image.open(path) as image:
            told = true_exposure(image)
        assert told == true_exposure(path)
        assert told is not None
        assert told.written_s == pytest.approx(other["ExposureTime"], rel=1e-6)
        assert (told.shutter_s, told.aperture, told.iso) == pytest.approx(case[3:], rel=1e-6)
        assert told.ev == pytest.approx(math.log2(case[4] ** 2 / case[3] * 100 / case[5]), abs=1e-5)  # EV = log2(N²/t)


@needs_exiftool
@pytest.mark.parametrize(
    ("tags", "iso"),
    [
        ({0x8827: 65535, 0x8830: 2, 0x8832: 102400}, 102400),  # beyond 16 bits: the recommended exposure index
        ({0x8827: 65535, 0x8830: 1, 0x8831: 80000, 0x8832: 102400}, 80000),  # of standard output sensitivity
        ({0x8827: 65535, 0x8830: 3, 0x8833: 204800}, 204800),  # of ISO speed
        ({0x8827: 65535, 0x8830: 6, 0x8833: 204800}, 204800),  # REI and ISO speed; the first is missing
        ({0x8827: 65535}, 65535),
        ({0x8830: 2, 0x8832: 400}, 400),  # the short form is missing
        ({0x8827: 0, 0x8830: 9, 0x8832: 400}, 400),  # a type that there is not
        ({0x8827: 200, 0x8830: 2, 0x8832: 200}, 200),
        ({}, None),
    ],
)
def test_which_tag_holds_the_speed(tmp_path: Path, tags: dict[int, int], iso: float | None) -> None:
    """CIPA DC-008, PhotographicSensitivity and SensitivityType: 65535 where the speed does not fit, and then the tag
    that the type names. ExifTool reads the same tags."""
    path = jpeg(tmp_path / "a.jpg", {0x829A: IFDRational(1, 60), 0x829D: IFDRational(28, 10), **tags})
    told = true_exposure(path)
    assert told is not None
    assert told.written_iso == iso
    (other,) = exiftool(path)
    assert (other.get("ISO"), other.get("RecommendedExposureIndex")) == (tags.get(0x8827), tags.get(0x8832))


def test_apex_forms_where_the_plain_ones_are_missing(tmp_path: Path) -> None:
    """Tv = −log2 t, Av = 2 log2 N (CIPA DC-008, annex C)."""
    told = true_exposure(jpeg(tmp_path / "a.jpg", {0x9201: IFDRational(6, 1), 0x9202: IFDRational(3, 1)}))
    assert told is not None
    assert told.shutter_s == pytest.approx(1 / 64)
    assert told.aperture == pytest.approx(2**1.5)
    assert told.ev is None


@pytest.mark.parametrize(
    "tags",
    [
        {},
        {0x829A: IFDRational(0, 1), 0x829D: IFDRational(0, 0), 0x8827: 0},
        {0x829A: IFDRational(1, 0), 0x829D: IFDRational(1, 0)},
        {0x829A: IFDRational(4_000_000_000, 1), 0x9201: IFDRational(-200, 1)},
        {0x9201: IFDRational(-2_000_000_000, 1)},
    ],
)
def test_exif_that_tells_no_exposure(tmp_path: Path, tags: dict[int, Any]) -> None:
    assert true_exposure(jpeg(tmp_path / "a.jpg", tags)) is None


def test_files_without_exif(tmp_path: Path) -> None:
    Image.new("RGB", (16, 16)).save(tmp_path / "plain.jpg")
    (tmp_path / "empty.jpg").write_bytes(b"")
    (tmp_path / "text.dng").write_text("not a picture")
    (tmp_path / "head.dng").write_bytes(b"II*\0\xff\xff\xff\x7f")
    for path in (*tmp_path.iterdir(), tmp_path / "missing.jpg", tmp_path):
        assert true_exposure(path) is None


_WHOLE = io.BytesIO()
_EXIF = Image.Exif()
_EXIF.get_ifd(0x8769).update({0x829A: IFDRational(1, 60), 0x829D: IFDRational(28, 10), 0x8827: 400})
Image.new("RGB", (16, 16)).save(_WHOLE, "JPEG", exif=_EXIF)


@pytest.mark.filterwarnings("ignore::UserWarning:PIL.TiffImagePlugin")  # as where a clip is made
@given(st.integers(20, 200), st.integers(0, 255))
@settings(max_examples=200, deadline=None)
def test_damaged_exif_breaks_nothing(place: int, byte: int) -> None:
    damaged = bytearray(_WHOLE.getvalue())
    damaged[place] = byte
    try:
        image = Image.open(io.BytesIO(damaged), formats=("JPEG",))
    except (OSError, SyntaxError):
        return
    told = true_exposure(image)
    assert told is None or all(value is None or value > 0 for value in (told.shutter_s, told.aperture, told.iso))


@pytest.mark.filterwarnings("ignore::UserWarning:PIL.TiffImagePlugin")
def test_cut_anywhere_it_breaks_nothing(tmp_path: Path) -> None:
    whole = _WHOLE.getvalue()
    for length in range(0, 250, 7):
        (tmp_path / "cut.jpg").write_bytes(whole[:length])
        true_exposure(tmp_path / "cut.jpg")
        (tmp_path / "cut.dng").write_bytes(whole[30:][:length])
        true_exposure(tmp_path / "cut.dng")


# ---- beside the log


def logged(seq: int, shutter_s: float, aperture: float | None = 2**1.5, iso: float = 100) -> Any:
    return row(seq, shutter_s=shutter_s, aperture=aperture, iso=iso)


def test_labels_of_what_the_log_has_change_nothing() -> None:
    """ "10" is 10.08 s on a dial of thirds and 11.3 s on one of halves; the log knows which."""
    frames = [logged(1, 1 / 64), logged(2, 2**3.5), logged(3, 2 ** (10 / 3)), logged(4, 1 / 64, 2 ** (1 / 3))]
    told = [ExifExposure(1 / 60, 2.8, 100), ExifExposure(10, 2.8, 100), ExifExposure(10, 2.8, 100)]
    evs, remarks = exposures(frames, [*told, ExifExposure(1 / 60, 1.2, 100)])
    assert evs == pytest.approx([9, 3 - 3.5, 3 - 10 / 3, 6 + 2 / 3])
    assert remarks == []


def test_a_dial_turned_by_hand_counts_and_is_named() -> None:
    frames = [logged(seq, 1 / 64) for seq in range(1, 8)]
    told = [ExifExposure(1 / 60, 2.8, 400 if seq in (3, 4, 5) else 100) for seq in range(1, 8)]
    evs, remarks = exposures(frames, told)
    assert evs == pytest.approx([9, 9, 7, 7, 7, 9, 9])
    assert remarks == [
        "frames 3 to 5: exposed with 1/60 s f/2.8 ISO 400, by their Exif, instead of 1/60 s f/2.8 ISO 100;"
        " steadied by their Exif"
    ]


def test_automatic_speeds_make_one_remark() -> None:
    frames = [logged(seq, 1 / 64) for seq in range(1, 31)]
    speeds = [100 * 2 ** (seq / 10) for seq in range(1, 31)]
    evs, remarks = exposures(frames, [ExifExposure(1 / 64, 2.8, speed) for speed in speeds])
    assert evs == pytest.approx([9 - seq / 10 for seq in range(1, 31)], abs=0.02)  # those near a label are its stop
    (line,) = remarks
    assert line.startswith("30 of 30 frames were exposed otherwise than the log says, by their Exif: frame 1 first, ")


def test_a_dial_of_halves_that_was_turned_by_hand() -> None:
    """1/45 s is on dials of halves only, so that "10" is 2^3.5 s there: arithmetic."""
    frames = [logged(1, 1), logged(2, 1)]
    evs, _ = exposures(frames, [ExifExposure(1 / 45, 2.8, 100), ExifExposure(10, 2.8, 100)])
    assert evs == pytest.approx([3 + 5.5, 3 - 3.5])


def test_the_log_where_exif_is_missing_and_exif_where_the_log_is() -> None:
    unknown = row(2)
    evs, remarks = exposures([logged(1, 1 / 64), unknown, row(3)], [None, ExifExposure(1 / 60, 2.8, 100), None])
    assert evs[:2] == pytest.approx([9, 9])
    assert math.isnan(evs[2])
    assert remarks == []


def test_an_exposure_that_only_the_log_tells() -> None:
    evs, remarks = exposures([row(1, exposure_ev=7.25), row(2, exposure_ev=7.0)], [None, ExifExposure(None, 2.8, None)])
    assert evs == pytest.approx([7.25, 7.0])
    assert remarks == []


def test_a_lens_without_contacts() -> None:
    frames = [logged(1, 1 / 64, None), logged(2, 1 / 32, None)]
    evs, _ = exposures(frames, [None, ExifExposure(1 / 30, None, 100)])
    assert evs[1] - evs[0] == pytest.approx(-1)


def test_big_endian_raw(tmp_path: Path) -> None:
    """A TIFF of the other byte order, written out by hand from TIFF 6.0: IFD0 with the pointer, the Exif directory."""
    inner = struct.pack(">HHHIIHHIII", 2, 0x829A, 5, 1, 56, 0x8827, 3, 1, 800 << 16, 0)
    data = b"MM\0*" + struct.pack(">I", 8) + struct.pack(">HHHIII", 1, 0x8769, 4, 1, 26, 0) + inner
    data += struct.pack(">II", 1, 500)
    (tmp_path / "a.nef").write_bytes(data)
    told = true_exposure(tmp_path / "a.nef")
    assert told == ExifExposure(1 / 500, None, 800)
