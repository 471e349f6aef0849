"""What the film files are, as ffprobe and ffmpeg see them."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from controller.results.clip.draw import DeepDither
from controller.results.clip.film import planes
from tests.results.dusk import SHOOT
from tests.results.films import boxes
from tests.results.nights import Floats, dusk, srgb
from tests.results.test_clip import clip, fetched, file_of

RED_SIDE, GREY_SIDE = (190, 60, 50), (90, 92, 95)


def ffprobe(path: Path) -> dict[str, Any]:
    command = ["ffprobe", "-v", "error", "-count_frames", "-show_streams", "-show_frames", "-of", "json", str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stderr == ""
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def decoded(path: Path, width: int, height: int) -> Floats:
    """By ffmpeg: (frames, height, width, 3) R'G'B' 0…1, with the matrix and range that the stream tells of."""
    how = "scale=flags=accurate_rnd+full_chroma_int+bicubic"
    command = ["ffmpeg", "-v", "error", "-i", str(path), "-vf", how, "-f", "rawvideo", "-pix_fmt", "rgb48le", "-"]
    done = subprocess.run(command, capture_output=True, check=True)
    assert done.stderr == b""
    return np.frombuffer(done.stdout, np.uint16).reshape(-1, height, width, 3) / 65535


@pytest.mark.parametrize(
    ("asked", "told"),
    [(23.976, "24000/1001"), (23.98, "24000/1001"), (29.97, "30000/1001"), (59.94, "60000/1001"), (24.0, "24/1"),
     (12.5, "25/2")],
)  # fmt: skip
def test_rates_of_television_are_its_own(tmp_path: Path, asked: float, told: str) -> None:
    """ITU-R BT.709-6 and BT.2020-2: 24, 30, 60 and 120 over 1.001."""
    made = clip(tmp_path, fetched(tmp_path, [1, 2, 3], colour=GREY_SIDE), False, fps=asked)
    (stream,) = ffprobe(Path(made.out))["streams"]
    assert stream["r_frame_rate"] == told


@pytest.mark.parametrize(
    ("codec", "bits", "profile", "tag"),
    [
        ("h264", 8, "High", "avc1"),
        ("h264", 10, "High 10", "avc1"),
        ("hevc", 8, "Main", "hvc1"),
        ("hevc", 10, "Main 10", "hvc1"),
    ],
)
def test_what_a_film_is(tmp_path: Path, codec: str, bits: int, profile: str, tag: str) -> None:
    """Of three parts, the last one short. That phones play HEVC under hvc1 alone is common practice, no source."""
    slots = fetched(tmp_path, list(range(1, 19)), colour=GREY_SIDE)
    for slot in slots:
        picture = np.full((64, 96, 3), GREY_SIDE, np.uint8)
        picture[:, :48] = RED_SIDE
        Image.fromarray(picture).save(file_of(tmp_path, slot), quality=95, subsampling=0)
    made = clip(tmp_path, slots, True, fps=2.0, codec=codec, bits=bits)
    assert (made.frames, made.duration_s) == (18, 9.0)
    film = tmp_path / "clip.mp4"
    told = ffprobe(film)
    (stream,) = told["streams"]
    assert {name: stream[name] for name in ("codec_name", "profile", "codec_tag_string", "width", "height")} == {
        "codec_name": codec, "profile": profile, "codec_tag_string": tag, "width": 96, "height": 64,
    }  # fmt: skip
    assert stream["pix_fmt"] == ("yuv420p" if bits == 8 else "yuv420p10le")
    colours = ("color_range", "color_space", "color_transfer", "color_primaries")
    assert [stream[name] for name in colours] == ["tv", "bt709", "bt709", "bt709"]
    assert stream["r_frame_rate"] == "2/1"
    assert stream["nb_frames"] == stream["nb_read_frames"] == "18"
    assert float(stream["duration"]) == pytest.approx(9.0)
    assert [float(frame["pts_time"]) for frame in told["frames"]] == [number / 2 for number in range(18)]
    keys = [number for number, frame in enumerate(told["frames"]) if frame["key_frame"]]
    assert {0, 8, 16} <= set(keys)  # where parts begin
    assert max(np.diff(keys)) <= 4  # two seconds at most from one point to seek to, to the next
    kinds = boxes(film)
    assert kinds.index("moov") < kinds.index("mdat")
    frames = decoded(film, 96, 64)
    assert frames.shape[0] == 18
    for colour, side in ((RED_SIDE, frames[:, :, 8:40]), (GREY_SIDE, frames[:, :, 56:88])):
        assert 255 * side.mean(axis=(0, 1, 2)) == pytest.approx(colour, abs=2.5)


@pytest.mark.parametrize("bits", [8, 10])
def test_codes_are_those_of_bt_709(bits: int) -> None:
    """ITU-R BT.709-6, 3.2 to 3.5: E'Y, E'CB, E'CR and their codes at 8 and 10 bits."""
    scale = 2 ** (bits - 8)
    tried = [(0, 0, 0), (1, 1, 1), (1, 0, 0), (0, 1, 0), (0, 0, 1), (0.46, 0.3, 0.14)]
    for red, green, blue in tried:
        pixels = np.full((16, 16, 3), np.round(65280 * np.array([red, green, blue])), np.uint16)  # white: swscale's
        luma = 0.2126 * red + 0.7152 * green + 0.0722 * blue
        wanted = 219 * luma + 16, 224 * (blue - luma) / 1.8556 + 128, 224 * (red - luma) / 1.5748 + 128
        frame = planes(pixels, bits).to_ndarray().astype(float)
        found = frame[:16].mean(), frame[16:20].mean(), frame[20:].mean()
        assert np.array(found) / scale == pytest.approx(np.array(wanted), abs=0.3)


@pytest.mark.parametrize(("bits", "black", "white"), [(8, 16, 235), (10, 64, 940)])
def test_what_the_bits_cannot_hold_becomes_noise(bits: int, black: int, white: int) -> None:
    """A dark ramp over eight steps of the film: its columns keep their means, though each code is a whole one."""
    step = 1 / (white - black)
    codes = np.linspace(0.1, 0.1 + 8 * step, 320)
    light = 65535 * np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4)
    picture = np.broadcast_to(np.round(light)[None, :, None], (400, 320, 3)).astype(np.uint16)
    luma = (
        planes(DeepDither(320, 400, bits).apply(lambda some: picture[some], 5), bits).to_ndarray()[:400].astype(float)
    )
    exact = black + (white - black) * srgb(np.round(light) / 65535) / 255
    off = np.convolve(luma.mean(axis=0) - exact, np.ones(8) / 8, "valid")  # swscale's own pattern, at 8 bits, is 8 wide
    assert np.abs(off).max() < 0.06  # four times the spread of a mean of 3200, and half a grain of the noise
    assert 0.2 < luma.std(axis=0).mean() < 0.8
    banded = np.round(exact) - exact
    assert np.abs(banded).max() > 0.45  # what it would be without


def test_ten_bits_carry_more_than_eight(tmp_path: Path) -> None:
    """A sky whose codes lie closer than those of 8 bits once it is scaled to the clip's size: no bands."""
    slots = fetched(tmp_path, [1, 2, 3, 4])
    dice = np.random.default_rng(2)
    for slot in slots:
        codes = np.linspace(40, 46, 1280)[None, :, None] + dice.uniform(-0.5, 0.5, (640, 1280, 1))
        Image.fromarray(np.round(codes).astype(np.uint8).repeat(3, axis=2)).save(
            file_of(tmp_path, slot), quality=100, subsampling=0
        )
    kinds = {}
    for bits in (8, 10):
        clip(tmp_path, slots, fps=2.0, bits=bits, size=(320, 160))
        (luma,) = {frame.shape: frame for frame in decoded(tmp_path / "clip.mp4", 320, 160)[:1, ..., 1]}.values()
        kinds[bits] = np.unique(np.round(luma * 1023)).size
        assert 255 * luma.mean(axis=0)[16:-16] == pytest.approx(np.linspace(40, 46, 320)[16:-16], abs=1.2)
    assert kinds[10] > 2 * kinds[8]


@pytest.mark.parametrize(("codec", "bits"), [("h264", 8), ("h264", 10), ("hevc", 8), ("hevc", 10)])
def test_a_film_is_as_good_as_ffmpegs_own(tmp_path: Path, codec: str, bits: int) -> None:
    """PSNR of the decoded luminance against the JPEGs, at the same encoder, preset, rate factor and key distance."""
    size = (320, 216)
    night = dusk(24)
    slots = night.save(tmp_path, size)
    clip(tmp_path, slots, codec=codec, bits=bits)
    names = str(tmp_path / f"shoots/{SHOOT}/2026-12-01/%06d.jpg")
    tags = "-colorspace bt709 -color_primaries bt709 -color_trc bt709 -color_range tv".split()
    matrix = "scale=out_color_matrix=bt709:out_range=tv:flags=bicubic+accurate_rnd+full_chroma_inp"
    coded = "-c:v libx264 -preset veryfast -crf 20 -aq-mode 3 -g 50 -pix_fmt".split()
    if codec == "hevc":
        coded = "-c:v libx265 -preset veryfast -crf 22 -x265-params aq-mode=3:log-level=error -g 50 -pix_fmt".split()
    coded.append("yuv420p" if bits == 8 else "yuv420p10le")
    reference = tmp_path / "reference.mp4"
    command = ["ffmpeg", "-v", "error", "-framerate", "25", "-i", names, "-vf", matrix, *tags, *coded, str(reference)]
    subprocess.run(command, check=True)
    truth = np.stack([np.asarray(Image.open(file_of(tmp_path, slot)), float) / 255 for slot in slots])

    def psnr(path: Path) -> float:
        luma = (decoded(path, *size) - truth) @ np.array([0.2126, 0.7152, 0.0722])
        return float(10 * np.log10(1 / np.mean(luma**2)))

    ours, theirs = psnr(tmp_path / "clip.mp4"), psnr(reference)
    assert ours > theirs - 1, (ours, theirs)
    assert ours < theirs + 3  # and it is a fair comparison
    sizes = [path.stat().st_size for path in (tmp_path / "clip.mp4", reference)]
    assert max(sizes) < 1.15 * min(sizes)  # nor is it bought with more bytes
