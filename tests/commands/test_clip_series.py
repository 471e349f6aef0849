"""`clip` of months: several shoots, one frame a day, the best of each hour, without fog and night; on real files."""

from __future__ import annotations

import asyncio
import itertools
import json
import re
from datetime import date
from pathlib import Path
from typing import Any

import av
import pytest

from controller.commands import main
from controller.commands.clip_series import suffix
from controller.results.series.wanted import Wanted, series_of, skip_of
from controller.store import Store
from controller.store.files import clip_path, database_path
from tests.results.months import FIRST, HOURS, SECOND, log, put


@pytest.fixture(scope="module")
def rig(tmp_path_factory: pytest.TempPathFactory) -> Path:
    directory = tmp_path_factory.mktemp("site")

    async def open_and_log() -> None:
        async with await Store.open(database_path(directory)) as store:
            await log(store, directory)

    asyncio.run(open_and_log())
    return directory


def clip(rig: Path, capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    assert main(["clip", *words, "--dir", str(rig), "--no-steady", "--json", "--size", "162x108"]) == 0
    return dict(json.loads(capsys.readouterr().out))


def shown(path: str) -> int:
    with av.open(path) as film:
        return sum(1 for _ in film.decode(video=0))


def test_one_frame_a_day_of_two_shoots(rig: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = clip(rig, capsys, SECOND, FIRST, "--series", "sun-azimuth=175", "--within", "8", "--skip", "fog")
    assert made["out"] == str(
        rig / clip_path(FIRST).with_name(f"{FIRST}-joined-sun-azimuth-175-within-8-without-fog.mp4")
    )
    assert made["frames"] == shown(made["out"]) == 12  # of 13 days
    assert made["remarks"][0] == "2026-12-05: fog"
    assert made["gaps"] == []


def test_what_other_cameras_have_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The second shoot is of another camera than the one that has the most frames: none of it is shown."""

    async def two() -> None:
        async with await Store.open(database_path(tmp_path)) as store:
            for name, camera, count in ((FIRST, "camera-1", 6), (SECOND, "camera-2", 3)):
                made, frames = put(tmp_path, name)
                await store.add_shoot(made)
                await store.add_missed([frame.model_copy(update={"camera": camera}) for frame in frames[:count]])

    asyncio.run(two())
    made = clip(tmp_path, capsys, FIRST, SECOND, "--series", "hour-best")
    assert made["remarks"][0] == "frames of camera-1 only; for camera-2 make another with --camera"
    assert made["remarks"][1] == "the best frame of 2 of 2 hours"
    made = clip(tmp_path, capsys, FIRST, SECOND, "--camera", "camera-1")
    assert [line for line in made["remarks"] if "camera-2" in line] == []


def test_the_best_of_each_hour_by_day(rig: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = clip(rig, capsys, FIRST, SECOND, "--series", "hour-best", "--skip", "fog,night")
    assert made["frames"] == shown(made["out"]) == 13 * 3 - 2  # without the nights, and the hours of the fog
    assert made["remarks"][:3] == [
        "39 of 156 frames left out: night",
        "6 of 156 frames left out: fog",
        "the best frame of 37 of 52 hours",
    ]


def test_some_days_alone(rig: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = clip(rig, capsys, FIRST, "--days", "2026-12-02..2026-12-03")
    assert made["frames"] == 2 * len(HOURS) * 3
    assert made["out"].endswith(f"/{FIRST}-from-2026-12-02-to-2026-12-03.mp4")
    made = clip(rig, capsys, FIRST, "last", "--days", "2026-12-07..", "--out", str(rig / "both.mp4"))
    assert made["frames"] == 7 * len(HOURS) * 3
    assert (rig / "both.mp4").is_file()


def test_films_of_other_frames_have_other_names() -> None:
    """Else one would take the other's place."""
    days = [(None, None), (date(2026, 12, 2), None), (None, date(2026, 12, 2))]
    series = (None, series_of("sun-azimuth=180"), series_of("hour-best"))
    skips = (frozenset[str](), skip_of("fog"), skip_of("drops,fog"))
    asked = [
        Wanted(one, skip, *of, within) for one, of, skip, within in itertools.product(series, days, skips, (3.0, 2.5))
    ]
    names = [suffix(one, False) for one in asked] + [suffix(one, True) for one in asked]
    assert len(set(names)) == len(names)
    assert suffix(None, False) == suffix(Wanted(), False) == ""
    assert all(re.fullmatch(r"(-[a-z0-9.]+)*", name) for name in names), names


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--series", "noon"], "--series: 'noon' is no series of frames. Write sun-azimuth=180"),
        (["--skip", "rain"], "--skip: 'rain' cannot be told from a picture"),
        (["--days", "2027-01-01.."], "no frame is left for the film. Ask for other days"),
        (["--within", "2"], "--within: this is how far the sun may be off"),
        (
            ["--series", "sun-altitude=60,morning"],
            "no frame is left for the film (2026-12-01 – 2026-12-07: the sun was",
        ),
    ],
)
def test_what_does_not_fit_ends_in_a_line(
    rig: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    assert main(["clip", FIRST, *words, "--dir", str(rig)]) == 2
    lines = [line for line in capsys.readouterr().err.splitlines() if not line.startswith("frames: ")]
    assert len(lines) == 1
    assert said in lines[0]
