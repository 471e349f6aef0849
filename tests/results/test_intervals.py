"""Bracketed shoots: one frame of each interval makes the clip, and is what the report's brightness goes by."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from controller.results.clip.make import ClipResult, make_clip
from controller.results.clip.options import clip_options
from controller.results.report.make import report
from controller.results.report.text import WIDTH, render
from controller.words.documents import Frame, FrameState, Shoot
from tests.results.dusk import PLAN, SHOOT, shoot
from tests.results.films import frames, jpeg
from tests.results.nights import row

GREYS = {-2.0: 30, -1.0: 60, 0.0: 118, 1.0: 160, 2.0: 220, 3.0: 240}
GAPS_S = (0.5, 1.5, 8.0)


def bracketed(directory: Path, offsets: list[float], brackets: int) -> list[Frame]:
    """Fetched pictures, each as light as its offset says; EV 10 at an offset of 0, a third less with each bracket."""
    slots = []
    for seq in range(1, brackets * len(offsets) + 1):
        number, index = divmod(seq - 1, len(offsets))
        name = f"shoots/{SHOOT}/2026-12-01/{seq:06d}.jpg"
        jpeg(directory / name, colour=(GREYS[offsets[index]],) * 3)
        ev = 10 - number / 3 - offsets[index]
        more: dict[str, Any] = {"sun_altitude_deg": -1.0, "sun_azimuth_deg": 250.0, "scene_ev": 10 - number / 3}
        slots.append(row(seq, local_file=name, exposure_ev=ev, interval_s=GAPS_S[index % 3], **more))
    return slots


def planned(slots: list[Frame], offsets: list[float] | None) -> Shoot:
    return shoot(slots, plan=PLAN | {"light": {"kind": "follow", "bracket_ev": offsets}})


def clip(directory: Path, slots: list[Frame], offsets: list[float] | None) -> ClipResult:
    return make_clip(
        planned(slots, offsets), slots, directory, directory / "clip.mp4", clip_options(fps=25, steady="off")
    )


def greys(directory: Path) -> list[float]:
    return [float(frame.mean()) for frame in frames(directory / "clip.mp4")]


@pytest.mark.parametrize(
    ("offsets", "shown", "said"),
    [
        ([-2.0, 0.0, 2.0], 0.0, "those at 0 EV of brackets of 3"),
        ([0.0, -2.0, 2.0], 0.0, "those at 0 EV of brackets of 3"),
        ([3.0, -1.0], -1.0, "those at −1 EV of brackets of 2"),
        ([2.0, 1.0, -1.0], 1.0, "those at +1 EV of brackets of 3"),
    ],
)
def test_the_clip_takes_one_frame_of_each_bracket(
    tmp_path: Path, offsets: list[float], shown: float, said: str
) -> None:
    made = clip(tmp_path, bracketed(tmp_path, offsets, 12), offsets)
    assert (made.frames, made.source, made.gaps) == (12, f"12 fetched pictures, {said}", [])
    assert greys(tmp_path) == pytest.approx([GREYS[shown]] * 12, abs=2.5)


def test_without_a_bracket_the_clip_takes_every_frame(tmp_path: Path) -> None:
    made = clip(tmp_path, bracketed(tmp_path, [-2.0, 0.0, 2.0], 4), None)
    assert (made.frames, made.source) == (12, "12 fetched pictures")
    assert max(greys(tmp_path)) - min(greys(tmp_path)) > 150


def test_a_bracket_that_lacks_its_middle_is_a_gap_and_no_flash(tmp_path: Path) -> None:
    offsets = [-2.0, 0.0, 2.0]
    slots = bracketed(tmp_path, offsets, 6)
    slots[7] = slots[7].model_copy(update={"state": FrameState.MISSED, "cause": "asleep", "local_file": None})
    slots[9] = slots[9].model_copy(update={"state": FrameState.MISSED, "cause": "asleep", "local_file": None})
    made = clip(tmp_path, slots, offsets)
    assert made.frames == 5
    assert [(gap.slots, gap.first_seq) for gap in made.gaps] == [(1, 8)]
    assert greys(tmp_path) == pytest.approx([GREYS[0.0]] * 5, abs=2.5)


def test_the_report_counts_the_clip_by_brackets(tmp_path: Path) -> None:
    """Steps of a third from bracket to bracket; the ±2 EV within one are none, nor is their brightness flicker."""
    offsets = [-2.0, 0.0, 2.0]
    slots = bracketed(tmp_path, offsets, 12)
    slots[6] = slots[6].model_copy(update={"state": FrameState.MISSED, "cause": "asleep"})  # no middle
    found = report(planned(slots, offsets), slots, [])
    assert (found.slots, found.frames) == (36, 35)
    assert found.clip_s == pytest.approx(12 / 25)
    assert found.exposure_steps.sizes == {"0.33": 11}
    assert found.brightness is not None
    assert found.brightness.largest_step_ev == pytest.approx(0.0, abs=1e-9)
    assert [(line.frames, line.interval_s) for line in found.over_sun] == [(12, sum(GAPS_S))]
    text = render(found)
    assert "0.5 s at 25 fps, those at 0 EV of brackets of 3" in text
    assert all(len(line) <= WIDTH for line in text.splitlines())
    plain = report(planned(slots, None), slots, [])
    assert plain.clip_s == pytest.approx(35 / 25)
    assert "brackets" not in render(plain)
