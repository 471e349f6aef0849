"""The search for the shortest interval that a body holds, against model bodies whose shortest is known on paper."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.decide.safe_interval import Needs
from controller.decide.steady_beat import (
    FRAMES,
    RUNS,
    Run,
    Taken,
    cause_of,
    failed_s,
    held_s,
    judged,
    next_interval,
    tolerance_s,
)


@dataclass(frozen=True)
class Model:
    """Exposes, reads out, and writes one frame after the other behind a buffer that holds so many."""

    exposure_s: float
    readout_s: float
    write_s: float
    buffer: int

    @property
    def shortest_s(self) -> float:
        """A frame that is being written takes up a place of the buffer, so that with one place all comes in a row."""
        alone = self.exposure_s + self.readout_s
        return alone + self.write_s if self.buffer == 1 else max(alone, self.write_s)

    def shoot(self, interval_s: float) -> list[Taken]:
        taken: list[Taken] = []
        ready, writes = 0.0, [0.0]
        for n in range(FRAMES):
            due = n * interval_s
            room = writes[-self.buffer] if len(writes) > self.buffer else 0.0
            at = max(due, ready, room)
            if at > due + tolerance_s(interval_s):
                taken.append(Taken(due, cause="the camera was still writing"))
                break
            ready = at + self.exposure_s + self.readout_s
            writes.append(max(ready, writes[-1]) + self.write_s)
            taken.append(Taken(due, at, writes[-1]))
        return taken


def search(model: Model, needs: Needs | None, hiccups: frozenset[int] = frozenset()) -> list[Run]:
    """All runs; those numbered in `hiccups` fail, whatever the body."""
    runs: list[Run] = []
    while (interval_s := next_interval(runs, model.exposure_s, needs)) is not None:
        cause = "a hiccup" if len(runs) in hiccups else judged(model.shoot(interval_s), interval_s)
        runs.append(Run(interval_s, cause))
        assert len(runs) <= RUNS
    return runs


MODELS = st.builds(
    Model,
    exposure_s=st.floats(1 / 8000, 4.0),
    readout_s=st.floats(0.0, 0.5),
    write_s=st.floats(0.01, 3.0),
    buffer=st.integers(1, 12),
)
NEEDS = st.one_of(st.none(), st.builds(lambda gap: Needs(0.0, gap, ""), st.floats(0.1, 4.0)))


@given(MODELS, NEEDS)
def test_the_shortest_interval_of_a_body_is_found(model: Model, needs: Needs | None):
    runs = search(model, needs)
    held, failed, shortest = held_s(runs), failed_s(runs), model.shortest_s
    assert held is not None
    assert held + max(0.01, 0.02 * held) + 0.01 >= shortest  # what gets behind by less in a frame does not show
    if failed is None:
        assert held - model.exposure_s <= 0.06
    else:
        assert failed < shortest + 0.01
        if len(runs) < RUNS:
            assert held - failed <= max(0.05, 0.05 * held) + 0.011
        assert cause_of(runs, failed)


@given(MODELS, st.frozensets(st.integers(0, RUNS), max_size=3))
def test_one_slow_moment_of_the_rig_does_not_make_an_interval_fail(model: Model, hiccups: frozenset[int]):
    if any(n + 1 in hiccups for n in hiccups):
        return
    runs = search(model, None, hiccups)
    failed = failed_s(runs)
    assert failed is None or failed < model.shortest_s + 0.01


def test_a_body_that_holds_nothing_is_given_up():
    runs = search(Model(1.0, 60.0, 1.0, 1), None)
    assert held_s(runs) is None
    assert [run.interval_s for run in runs] == [3.0, 3.0, 5.0, 5.0, 9.0, 9.0, 17.0, 17.0]
    assert failed_s(runs) == 17.0


def test_it_ends_after_so_many_runs():
    """Each interval of a body that holds any is held at the second try only."""
    runs = search(Model(1 / 64, 0.0, 0.01, 6), None, frozenset(range(0, 100, 2)))
    assert len(runs) == RUNS
    assert held_s(runs) == min(run.interval_s for run in runs)


def test_a_search_on_paper():
    """0.8 s: from the safe 1.32 s half, then the middle, each failure tried twice."""
    runs = search(Model(0.1, 0.1, 0.8, 6), Needs(0.0, 1.22 / 1.2, ""))
    assert [(run.interval_s, run.cause is None) for run in runs] == [
        (1.32, True),
        (0.71, False),
        (0.71, False),
        (1.02, True),
        (0.86, True),
        (0.78, False),
        (0.78, False),
        (0.82, True),
    ]


@pytest.mark.parametrize(
    ("frames", "words"),
    [
        ([Taken(0, 0, 1), Taken(1, None, None, "the card was full")], "frame 2 of 2 was missed: the card was full"),
        ([Taken(0, 0, None, "no file"), Taken(1, 1, 2)], "frame 1 of 2 is not on the card: no file"),
        ([Taken(n, n + 0.3, n + 0.9) for n in range(8)], "not ready in time"),
        ([Taken(n, n, n + 0.5 + 0.1 * n) for n in range(8)], "its buffer would fill"),
        ([Taken(n, n + 0.3 * (n == 4), n + 0.5 + (n in (0, 7))) for n in range(8)], None),
        ([Taken(n, n, n + 5.0 - 0.1 * n) for n in range(8)], None),
    ],
)
def test_what_counts_as_steady(frames: list[Taken], words: str | None):
    cause = judged(frames, 1.0)
    assert (cause is None) == (words is None)
    assert words is None or words in str(cause)
