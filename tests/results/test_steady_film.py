"""A night of everything at once as a film: decoded H.264 against the truth, beside two plain ways in the same run."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from controller.results.clip.make import make_clip
from controller.results.clip.options import clip_options
from controller.results.clip.sidecar import read_gains_json
from controller.words.documents import Frame
from tests.results.dusk import SHOOT, shoot
from tests.results.films import frames, levels
from tests.results.judging import LUMA, Pictures, Truth, averaged, pictures, residual
from tests.results.nights import Floats, dusk, row, styled, to_linear
from tests.results.test_clip import clip, file_of

SIZE = (160, 108)


def save(directory: Path, pictures: Pictures, logged_ev: Floats, isos: Sequence[int]) -> list[Frame]:
    """Fetched JPEGs with Exif, and rows; exposures at f/2.8 by the shutter, ISO 100 by the log and `isos` by Exif."""
    rows = []
    for number, (pixels, ev, iso) in enumerate(zip(pictures, logged_ev, isos, strict=True), 1):
        slot = row(
            number,
            local_file=f"shoots/{SHOOT}/2026-12-01/{number:06d}.jpg",
            exposure_ev=float(ev),
            shutter_s=float(2.0 ** (3 - ev)),
            aperture=2**1.5,
            iso=100.0,
        )
        exif = Image.Exif()
        seconds = IFDRational(round(2.0 ** (3 - ev) * 1_000_000), 1_000_000)
        exif.get_ifd(0x8769).update({0x829A: seconds, 0x829D: IFDRational(28, 10), 0x8827: iso})
        path = file_of(directory, slot)
        path.parent.mkdir(parents=True, exist_ok=True)
        Image.fromarray(pixels).save(path, quality=92, exif=exif)
        rows.append(slot)
    return rows


def film(directory: Path, rows: Sequence[Frame], steady: bool) -> tuple[Floats, list[str]]:
    """Brightness of the decoded film's frames, and what was remarked."""
    made = clip(directory, list(rows), steady=steady)
    return levels(directory / "clip.mp4"), made.remarks


def test_a_night_of_everything_once_it_is_decoded(tmp_path: Path) -> None:
    """From frame 81 to 110 the body chooses ISO 80, 100 or 125 by itself, which the log does not know."""
    night = dusk(160, flicker=0.03, jitter=0.01, clouds=0.2, lightning=True, headlights=True, curve=styled)
    thirds = np.zeros(160, int)
    thirds[80:110] = np.random.default_rng(3).integers(-1, 2, 30)
    truth = Truth(night.with_exposure(night.exposure_ev - thirds / 3), SIZE)
    rows = save(tmp_path, truth.taken, night.exposure_ev, [(80, 100, 125)[third + 1] for third in thirds])
    nothing, remarks = film(tmp_path, rows, steady=False)
    assert remarks == []
    steadied, remarks = film(tmp_path, rows, steady=True)
    assert len(remarks) == 1
    assert remarks[0].startswith(f"{np.count_nonzero(thirds)} of 160 frames were exposed otherwise than the log says")
    for slot, pixels in zip(rows, averaged(truth.taken), strict=True):
        path = file_of(tmp_path, slot)
        before = path.stat()
        Image.fromarray(pixels).save(path, quality=92)
        os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns + 10**9))
    plain, _ = film(tmp_path, rows, steady=False)
    ours, undone, average = (truth.judge(each) for each in (steadied, nothing, plain))
    assert ours.rms <= 0.01
    assert ours.step <= 0.03
    assert ours.drift <= 0.1
    assert ours.event <= 0.1
    assert undone.step > 0.2
    assert ours.rms < min(undone.rms, average.rms) / 3
    assert ours.step < min(undone.step, average.step)


def test_tones_of_a_film(tmp_path: Path) -> None:
    """The hill below, whose shadows flicker under a picture style, is steadier with tones; the level is the same."""
    night = dusk(60, flicker=0.06, curve=styled)
    rows = save(tmp_path, pictures(night, SIZE), night.exposure_ev, [100] * 60)
    seen = {}
    for mode in ("level", "tones"):
        options = clip_options(fps=25.0, steady=mode)
        made = make_clip(shoot(rows), rows, tmp_path, tmp_path / "clip.mp4", options)
        assert made.steadied
        seen[mode] = list(frames(tmp_path / "clip.mp4"))
    hill = {mode: [np.log2(to_linear(frame[-16:]).mean()) for frame in film] for mode, film in seen.items()}
    whole = {mode: [np.log2((to_linear(frame) @ LUMA).mean()) for frame in film] for mode, film in seen.items()}
    assert residual(np.array(hill["tones"]))[0] < residual(np.array(hill["level"]))[0] / 1.3
    assert residual(np.array(whole["tones"]))[0] <= 0.01
    assert whole["tones"] == pytest.approx(whole["level"], abs=0.03)
    gains = read_gains_json(tmp_path / "clip.gains.json").frames
    assert [row.seq for row in gains] == [slot.seq for slot in rows]
    assert [row.exposure_ev for row in gains] == pytest.approx([slot.exposure_ev for slot in rows], abs=0.01)
