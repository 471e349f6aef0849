"""A night of everything at once as a film: decoded H.264 against the truth, beside two plain ways in the same run."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from controller.words.documents import Frame
from tests.results.dusk import SHOOT
from tests.results.films import levels
from tests.results.judging import Pictures, Truth, averaged
from tests.results.nights import Floats, dusk, row, styled
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
