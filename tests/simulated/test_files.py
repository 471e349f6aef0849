"""The files on the card, read by Pillow."""

import io
import os
import struct
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
import rawpy
from PIL import Image, TiffImagePlugin

from controller.simulated.exif import thumbnail_of
from controller.simulated.styles import curves
from tests.simulated.initiator import Initiator
from tests.support.simcam import SimulatedCamera, start_simulated_camera

IFD_EXIF = 0x8769


def _shoot(camera: SimulatedCamera, seconds: float, aperture: int, iso: int, frames: int = 1) -> None:
    with Initiator(camera.port, camera.event_port) as initiator:
        for prop, form, value in (
            (0x500D, "<I", round(seconds * 10_000)),
            (0x5007, "<H", aperture),
            (0x500F, "<H", iso),
        ):
            assert initiator.ask(0x1016, prop, data=struct.pack(form, value))[0] == 0x2001
        for _ in range(frames):
            assert initiator.ask(0x100E, 0, 0)[0] == 0x2001
            initiator.events_until(0x400D)


def test_exif_says_what_was_set(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, epoch_utc="2026-10-03T17:20:00Z", files="raw+jpeg") as camera:
        _shoot(camera, 1 / 60, 560, 1250)
        (frame,) = camera.record()
    for name in frame["files"]:
        exif = Image.Exif()
        with (camera.card / name).open("rb") as source:
            if name.endswith(".JPG"):
                with Image.open(source) as picture:
                    exif = picture.getexif()
            else:
                exif.load_from_fp(source)
            inner = exif.get_ifd(IFD_EXIF)
        assert (exif[0x010F], exif[0x0110]) == ("Duskhand", "Simulated camera")
        assert inner[0x829A] == TiffImagePlugin.IFDRational(1, 64)  # ExposureTime, as exposed
        assert frame["shutter_s"] == 1 / 64
        assert float(inner[0x829D]) == 5.6
        assert inner[0x8827] == 1250
        assert inner[0x8822] == 1  # manual
        assert float(inner[0x9201]) == pytest.approx(6)  # APEX: Tv = log2(64)
        assert float(inner[0x9202]) == pytest.approx(5)  # Av of f/5.66
        stamp = f"{inner[0x9003]}.{inner[0x9291]}{inner[0x9011]}".replace(":", "-", 2).replace(" ", "T")
        assert stamp[:22] == frame["released_utc"][:22]  # to the hundredth
        assert stamp.endswith("+00:00")
        taken = (camera.card / name).stat().st_mtime
        assert taken == pytest.approx(datetime.fromisoformat(frame["released_utc"]).timestamp(), abs=0.01)


@pytest.mark.parametrize("thumb", ["bars", "whole"])
def test_the_thumbnail_is_the_picture_in_small(tmp_path: Path, thumb: str) -> None:
    with start_simulated_camera(tmp_path, epoch_utc="2026-10-03T17:20:00Z", files="raw+jpeg", thumb=thumb) as camera:
        _shoot(camera, 1 / 4, 280, 100)
        names = camera.record()[0]["files"]
    small = [thumbnail_of(camera.card / name) for name in names]
    assert small[0] == small[1]
    assert small[0]
    with Image.open(io.BytesIO(small[0])) as image:
        assert image.size == (160, 120)  # DCF, CIPA DC-009
        pixels = np.asarray(image.convert("L"), float)
    with Image.open(camera.card / names[0]) as image:
        whole = np.asarray(image.convert("L").resize((160, 108 if thumb == "bars" else 120)), float)
    if thumb == "bars":
        assert pixels[:5].max() < 12
        assert pixels[-5:].max() < 12
        pixels = pixels[6:114]
    assert np.abs(pixels - whole).mean() < 6
    assert pixels.mean() == pytest.approx(whole.mean(), abs=2)


def test_raw_and_jpeg_tell_of_the_same_light(tmp_path: Path) -> None:
    """Values in the raw file are linear: decoded by the style's published inverse the JPEG must agree with them."""
    with start_simulated_camera(tmp_path, epoch_utc="2026-10-03T17:20:00Z", files="raw+jpeg", style="flat") as camera:
        _shoot(camera, 1 / 8, 280, 100)
        (frame,) = camera.record()
        jpeg, raw = (camera.card / name for name in frame["files"])
    data = raw.read_bytes()
    with Image.open(jpeg) as image:
        codes = np.asarray(image.convert("RGB"), float)
        width, height = image.size
    assert data[:4] == b"II*\0"
    offset, white = _tag(data, 0x0111), _tag(data, 0xC61D)
    mosaic = np.frombuffer(data, "<u2", width * height, offset).reshape(height, width) / white
    green = (mosaic[0::2, 1::2] + mosaic[1::2, 0::2]) / 2
    light = curves("flat")[1](codes[..., 1])
    blocks = light.reshape(height // 2, 2, width // 2, 2).mean(axis=(1, 3))
    smooth = (blocks > 0.02) & (blocks < 0.8)
    assert np.median(blocks[smooth] / green[smooth]) == pytest.approx(1, abs=0.03)
    assert frame["mean_linear"] == pytest.approx(mosaic.mean(), rel=0.15)
    with rawpy.imread(str(raw)) as opened:  # LibRaw reads it as any body's, and has its light in all three colours
        developed = opened.postprocess(
            gamma=(1, 1), output_bps=16, no_auto_bright=True, adjust_maximum_thr=0, use_camera_wb=True, half_size=True
        )
    assert developed[..., 1] / 65535 == pytest.approx(green, abs=0.004)
    for channel in (0, 2):
        wanted = curves("flat")[1](codes[..., channel]).reshape(height // 2, 2, width // 2, 2).mean(axis=(1, 3))
        ratio = developed[..., channel][smooth] / 65535 / wanted[smooth]
        assert np.median(ratio) == pytest.approx(1, abs=0.05)


def _tag(data: bytes, wanted: int) -> int:
    """A whole-number tag of the first TIFF directory, read by hand from TIFF 6.0."""
    (offset,) = struct.unpack_from("<I", data, 4)
    (count,) = struct.unpack_from("<H", data, offset)
    for entry in range(offset + 2, offset + 2 + 12 * count, 12):
        tag, kind, _, value = struct.unpack_from("<HHII", data, entry)
        if tag == wanted:
            return int(value & 0xFFFF if kind == 3 else value)
    raise AssertionError(f"no tag {wanted:04x}")


def test_memory_stays_flat(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, readout=0, write=0, size="160x108") as camera:
        sizes = []
        for _ in range(4):
            _shoot(camera, 0.001, 280, 100, frames=150)
            pages = int(Path(f"/proc/{camera.process.pid}/statm").read_text().split()[1])
            sizes.append(pages * os.sysconf("SC_PAGE_SIZE"))
        assert camera.control("frames") == {"taken": 600, "written": 600}
        assert sizes[-1] - sizes[0] < 2 << 20
