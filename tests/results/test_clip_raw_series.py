"""The best frame of each hour, where the rig has RAW files alone."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from controller.results.series.choose import choose
from controller.results.series.measure import measure
from controller.results.series.wanted import HourBest, Wanted
from controller.words.documents import Frame, Shoot
from tests.results.dusk import SHOOT, shoot
from tests.results.nights import row
from tests.results.scenes import DAY_EV, save, scene
from tests.support.dng import dng


def raw(directory: Path, seq: int, blur: int) -> Frame:
    local = f"shoots/{SHOOT}/{seq:06d}.dng"
    path = directory / local
    path.parent.mkdir(parents=True, exist_ok=True)
    save(path.with_suffix(".jpg"), scene(seq, blur=blur))
    with Image.open(path.with_suffix(".jpg")) as picture:
        path.write_bytes(dng(np.full((32, 48, 3), 0.5, np.float32), preview=picture.convert("RGB")))
    return row(seq, local_file=local, exposure_ev=DAY_EV)


def test_the_picture_inside_is_measured_as_one_beside_it(tmp_path: Path) -> None:
    path = tmp_path / str(raw(tmp_path, 1, 0).local_file)
    inside, beside = measure(path, DAY_EV), measure(path.with_suffix(".jpg"), DAY_EV)
    assert inside is not None
    assert beside is not None
    assert abs(inside.light - beside.light) < 0.02
    assert abs(inside.sharp - beside.sharp) < 0.3  # encoded once more
    (tmp_path / "none.dng").write_bytes(dng(np.full((32, 48, 3), 0.5, np.float32)))
    assert measure(tmp_path / "none.dng", None) is None


def test_the_sharpest_of_an_hour_is_found(tmp_path: Path) -> None:
    frames = [raw(tmp_path, seq, blur=0 if seq == 3 else 2) for seq in range(1, 6)]
    for path in (tmp_path / f"shoots/{SHOOT}").glob("*.jpg"):
        path.unlink()

    async def rows(_: Shoot) -> AsyncIterator[list[Frame]]:
        yield frames

    choice = asyncio.run(choose(Wanted(HourBest()), [shoot(frames)], rows, tmp_path, None))
    assert [frame.seq for frame in choice.frames] == [3]
    assert choice.remarks[0] == "the best frame of 1 of 1 hours"


@pytest.mark.parametrize(
    ("zone", "times", "best"),
    [
        ("Asia/Kolkata", ("04:40", "05:20", "05:40"), [2, 3]),  # 10:10, 10:50, 11:10; by UTC's hours 1 would be there
        ("Europe/Stockholm", ("00:10", "00:40", "01:40"), [2, 3]),  # 2:10, 2:40, and 2:40 an hour later
        ("America/St_Johns", ("11:20", "11:40", "12:20"), [1, 2]),  # 8:50, 9:10, 9:50
    ],
)
def test_hours_are_those_of_the_places_clock(
    tmp_path: Path, zone: str, times: tuple[str, ...], best: list[int]
) -> None:
    """On 25 October 2026, when clocks go back in Europe; zones are of the IANA database."""
    frames = [raw(tmp_path, seq, blur) for seq, blur in ((1, 1), (2, 0), (3, 1))]
    for frame, time in zip(frames, times, strict=True):
        frame.due_utc = datetime.fromisoformat(f"2026-10-25T{time}Z").timestamp()

    async def rows(_: Shoot) -> AsyncIterator[list[Frame]]:
        yield frames

    there = shoot(frames, plan={"name": "hall", "site": {"timezone": zone}})
    choice = asyncio.run(choose(Wanted(HourBest()), [there], rows, tmp_path, None))
    assert [frame.seq for frame in choice.frames] == best
