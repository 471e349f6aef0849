"""Steadying over slots without a picture, against dusks of known truth: in a gap light goes on, the film does not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from controller.results.clip.over_gaps import MOST_SLOTS, SPREAD_EV, Gaps, OnSlots
from controller.results.clip.steady import steady
from tests.results.films import levels
from tests.results.judging import Truth, levels_of, steadied, with_gaps
from tests.results.nights import INTERVAL_S, Floats, Night, dusk, row, styled
from tests.results.test_clip import clip
from tests.results.test_steady_film import SIZE, save

NIGHTS = {
    "stairs alone": dusk(clouds=0.3),
    "all at once": dusk(flicker=0.03, jitter=0.01, clouds=0.3, lightning=True, headlights=True, curve=styled),
}


@pytest.mark.parametrize("lacking", [1, 2, 5, 10])
@pytest.mark.parametrize("name", NIGHTS)
def test_a_gap_leaves_no_step(name: str, lacking: int) -> None:
    """Beside the same without steadying, and steadied as if frames were slots."""
    night, kept = NIGHTS[name], with_gaps(240, lacking)
    truth = Truth(night, kept=kept)
    after = levels_of(steadied(night, truth.taken, kept))
    ours, nothing = truth.judge(after), truth.judge(truth.before)
    blind = truth.judge(levels_of(steadied(night, truth.taken, kept, blind=True)))
    assert ours.rms <= 0.01
    assert ours.step <= 0.03
    assert ours.drift <= 0.1
    assert ours.rms < nothing.rms / 5
    assert np.abs(at_gaps(after, kept)[~beside_events(night.event_ev, kept)]).max() <= 0.03
    if name == "stairs alone":
        assert blind.step > (0.03 if lacking > 1 else 2 * ours.step)


def at_gaps(levels: Floats, kept: np.ndarray) -> Floats:
    """The film's own steps there."""
    return np.asarray(np.diff(levels)[np.diff(kept) > 1])


def beside_events(event_ev: Floats, kept: np.ndarray) -> np.ndarray:
    flashes = event_ev[kept] != 0
    return np.asarray((flashes[1:] | flashes[:-1])[np.diff(kept) > 1])


def test_a_film_with_gaps_once_it_is_decoded(tmp_path: Path) -> None:
    """Slots are missed, each gap longer than the one before; the film tells of them, and shows no step."""
    night = dusk(150, flicker=0.02, clouds=0.2, curve=styled)
    kept = np.array([number for number in range(150) if number not in {40, 65, 66, *range(85, 90), *range(115, 125)}])
    truth = Truth(night, SIZE, kept)
    rows = save(tmp_path, truth.taken, night.exposure_ev[kept], [100] * kept.size)
    rows = [
        slot.model_copy(update={"seq": number + 1, "due_utc": row(number + 1).due_utc})
        for slot, number in zip(rows, kept.tolist(), strict=True)
    ]
    assert clip(tmp_path, rows, steady=True).remarks == []
    after = levels(tmp_path / "clip.mp4")
    ours = truth.judge(after)
    assert ours.rms <= 0.01
    assert ours.step <= 0.03
    assert ours.drift <= 0.1
    assert np.abs(at_gaps(after, kept)).max() <= 0.03


def test_light_that_moved_far_in_a_gap_keeps_what_is_too_much_to_spread() -> None:
    """By arithmetic: 20 slots of 0.05 EV are 1 EV, of which a tenth goes to either side."""
    number = np.r_[0:100, 120:220]
    light = -0.05 * (np.clip(number, 100, 120) - 100.0)
    track = steady(light, np.full(200, 9.0), Gaps.of(INTERVAL_S * number, np.full(200, INTERVAL_S)))
    assert np.abs(track.wanted - light).max() <= SPREAD_EV + 0.02
    assert track.wanted[100] - track.wanted[99] == pytest.approx(-1 + 2 * SPREAD_EV, abs=0.05)


def test_a_cut_that_steps_is_told(tmp_path: Path) -> None:
    """Ten minutes of a fall of light, of which nothing was seen; the log has the same setting before and after."""
    night = Night(np.repeat([0.0, -1.0], 10), *(np.zeros(20) for _ in range(4)))
    rows = night.save(tmp_path, (96, 64))
    assert clip(tmp_path, rows, steady=True).remarks == []  # as frames in a row it is a step of the scene's own
    late = [slot.model_copy(update={"due_utc": slot.due_utc + 600 * (slot.seq > 10)}) for slot in rows]
    (remark,) = clip(tmp_path, late, steady=True).remarks
    assert remark.startswith("brightness steps by up to 0.9")
    assert "after frame 10:" in remark


def test_what_counts_as_a_gap() -> None:
    def missing(
        due: list[float], interval: list[float], shoots: list[str] | None = None
    ) -> tuple[list[int], list[int]]:
        gaps = Gaps.of(due, interval, shoots)
        return gaps.missing.tolist(), np.flatnonzero(gaps.cut).tolist()

    assert missing([0, 5, 10, 25, 30], [5] * 5) == ([0, 0, 2, 0], [])
    assert missing([0, 50, 100, 150, 250], [5] * 5) == ([0, 0, 0, 1], [])  # of a film of every tenth slot
    assert missing([0, 86_400, 172_700, 259_200], [5] * 4) == ([0, 0, 0], [])  # of one a day
    assert missing([0, 86_400, 172_700, 345_400], [5] * 4) == ([0, 0, 0], [2])  # where a day is missing
    assert missing([0, 2, 4, 34, 64], [2, 2, 30, 30, 30]) == ([0, 0, 0, 0], [])  # the pace changed
    assert missing([0, 5, 10, 10 + 5 * (MOST_SLOTS + 2), 325], [5] * 5) == ([0, 0, 0, 0], [2])
    assert missing([0, 5, 10, 10 + 5 * 51, 270], [5] * 5) == ([0, 0, 50, 0], [])  # more slots than frames
    assert missing([0, 5, 10, 20, 25], [5] * 5, ["a", "a", "a", "b", "b"]) == ([0, 0, 0, 0], [2])
    assert missing([7], [5]) == ([], [])
    assert missing([7, 7, 7], [0, 0, 0]) == ([0, 0], [])


def test_many_long_gaps_do_not_cost_more_than_the_frames() -> None:
    """Every third frame stands before a gap of 50 slots: those that cannot be afforded are cuts."""
    due = np.cumsum(np.where(np.arange(3000) % 3 == 0, 51.0, 1.0))
    gaps = Gaps.of(due, np.ones(3000))
    assert gaps.missing.sum() <= 3000
    assert np.count_nonzero(gaps.cut) + np.count_nonzero(gaps.missing) == 999


def test_stairs_go_over_a_gap_as_settings_would() -> None:
    """A third of a stop at a time, evenly."""
    slots = OnSlots(Gaps(np.array([0, 5, 0]), np.zeros(3, bool)))
    assert slots.seen.tolist() == [True, True, False, False, False, False, False, True, True]
    assert slots.stairs(np.array([0, 0, 1 / 3, 1 / 3])).tolist() == pytest.approx([0, 0, 0, 0] + [1 / 3] * 5)
    assert slots.stairs(np.array([0, 0, 1, 1.0])).tolist() == pytest.approx([0, 0, 1 / 3, 1 / 3, 2 / 3, 2 / 3, 1, 1, 1])
