"""A steady beat with a camera that answers at once, as a model body on paper would."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from controller.camera.messages import Gone, Missed, Preview, Release, Released, Report, Settled, Trouble, Written
from controller.decide.exposure import triple
from controller.decide.safe_interval import Needs
from controller.decide.steady_beat import FRAMES, Run
from controller.engine.steady_beat import SteadyBeat
from controller.words.clock import WallClock
from controller.words.errors import CameraError, Conflict

EXPOSURE = triple(1 / 64, 5.6, 100.0)
NEEDS = Needs(0.0, 0.5, "")


class Paper:
    """Takes 0.1 s to read out and 0.4 s to write, one frame after the other; `instead` of an answer, by frame."""

    id, address, opened, trouble = "camera-1", "paper", None, None

    def __init__(self, instead: dict[int, Callable[[Release], list[Report]]] | None = None) -> None:
        self.beat: SteadyBeat
        self.orders: list[Release] = []
        self.cancelled: list[int] = []
        self.released = 0
        self._ready = self._idle = 0.0
        self._instead = instead or {}

    async def release(self, order: Release) -> None:
        self.orders.append(order)
        if len(self.orders) % FRAMES == 1:  # it has had time to write those of the run before
            self._ready = self._idle = 0.0
        answer = self._instead.get(len(self.orders), self._answer)
        for report in answer(order):
            self.beat.heard(report)

    async def cancel(self, seq: int) -> None:
        self.cancelled.append(seq)
        self.beat.heard(Missed(seq, "cancelled"))

    def _answer(self, order: Release) -> list[Report]:
        at = max(order.due_mono, self._ready)
        if at > order.latest_mono:
            return [Missed(order.seq, "the camera was still writing")]
        self.released += 1
        self._ready = at + order.exposure_s + 0.1
        self._idle = max(self._ready, self._idle) + 0.4
        settled = Settled(order.seq, order.shutter_s, 5.6, 100.0, 0.01)
        files = [f"/card/A_{order.seq}.NEF", f"/card/A_{order.seq}.JPG"]
        written = Written(order.seq, files, self._idle)
        return [settled, Released(order.seq, at, 0.001), written, Preview(order.seq, b"")]


def beat_with(paper: Any, **options: Any) -> SteadyBeat:
    paper.beat = SteadyBeat(paper, WallClock(), Path("/nowhere"), **options)
    return paper.beat


async def test_what_is_found_and_told():
    """0.4 s, since the body writes that long for each frame; on paper."""
    paper, runs = Paper(), list[Run]()
    found = await beat_with(paper, tell=runs.append).find(EXPOSURE, NEEDS)
    assert found.held_s is not None
    assert found.failed_s is not None
    assert 0.38 <= found.held_s <= 0.45
    assert found.failed_s < 0.4
    assert "its buffer would fill" in str(found.cause)
    assert (found.files, found.exposure_s, found.frames) == ("JPG+NEF", 1 / 64, paper.released)
    assert len(runs) * FRAMES == len(paper.orders)
    first = paper.orders[:FRAMES]
    steps = {round(after.due_mono - before.due_mono, 6) for before, after in pairwise(first)}
    assert steps == {runs[0].interval_s} == {0.62}
    assert all(order.fetch == "preview" and order.seq < 0 for order in paper.orders)
    assert not paper.cancelled


async def test_an_exposure_that_the_body_keeps_is_the_one_told():
    def other(order: Release) -> list[Report]:
        settled = Settled(order.seq, 1 / 32, 5.6, 100.0, 0.01)
        return [settled, Released(order.seq, order.due_mono, 0.001), Written(order.seq, ["a.JPG"], order.due_mono + 1)]

    paper = Paper(dict.fromkeys(range(1, 500), other))
    assert (await beat_with(paper).find(EXPOSURE, NEEDS)).exposure_s == 1 / 32


def gone(order: Release) -> list[Report]:
    return [Gone("camera-lost", "the camera is gone", "Plug it in", [order.seq])]


def full(order: Release) -> list[Report]:
    return [Trouble("card-full", "the camera's card is full", "Another card", order.seq)]


@pytest.mark.parametrize(("answer", "code"), [(gone, "camera-lost"), (full, "card-full")])
async def test_a_camera_that_can_go_on_no_more_ends_it(answer: Callable[[Release], list[Report]], code: str):
    """An interval did not fail because of that; what was ordered and not released is taken back."""
    paper = Paper({FRAMES + 3: answer, **dict.fromkeys(range(FRAMES + 4, 2 * FRAMES + 1), lambda order: [])})
    with pytest.raises(CameraError) as told:
        await beat_with(paper).find(EXPOSURE, NEEDS)
    assert told.value.code == code
    assert paper.cancelled == [order.seq for order in paper.orders[FRAMES + 2 :]]
    assert len(paper.orders) == 2 * FRAMES


async def test_a_shoot_that_wants_the_camera_ends_it():
    paper = Paper(dict.fromkeys(range(3, 500), lambda order: []))
    with pytest.raises(Conflict) as told:
        await beat_with(paper, go_on=lambda: len(paper.orders) < FRAMES).find(EXPOSURE, NEEDS)
    assert told.value.code == "shoot-has-camera"
    assert {order.seq for order in paper.orders[2:]} <= set(paper.cancelled)
    assert len(paper.orders) == FRAMES


async def test_a_caller_that_goes_away_ends_it():
    paper = Paper(dict.fromkeys(range(1, 500), lambda order: []))
    looking = asyncio.create_task(beat_with(paper).find(EXPOSURE, NEEDS))
    while len(paper.orders) < FRAMES:
        await asyncio.sleep(0)
    looking.cancel()
    with pytest.raises(asyncio.CancelledError):
        await looking
    assert paper.cancelled == [order.seq for order in paper.orders]
    assert len(paper.orders) == FRAMES


async def test_the_first_frame_that_is_missed_ends_its_run():
    """And its cause is told, not that the others were taken back; once alone, the interval is tried again."""
    missed = {3: lambda order: [Missed(order.seq, "the camera was busy")], **dict.fromkeys(range(4, 9), lambda o: [])}
    paper, runs = Paper(missed), list[Run]()
    found = await beat_with(paper, tell=runs.append).find(EXPOSURE, NEEDS)
    assert [run.cause is None for run in runs[:2]] == [False, True]
    assert runs[0].cause == f"frame 3 of {FRAMES} was missed: the camera was busy"
    assert runs[0].interval_s == runs[1].interval_s
    assert paper.cancelled == [order.seq for order in paper.orders[3:FRAMES]]
    assert found.held_s is not None


async def test_a_frame_that_is_not_on_the_card_fails_its_run():
    lost = dict.fromkeys(
        range(1, 500),
        lambda order: [
            Released(order.seq, order.due_mono, 0.001),
            Trouble("no-file", "the card has no file of it", "Look", order.seq),
        ],
    )
    with pytest.raises(CameraError, match="the card has no file of it") as told:
        await beat_with(Paper(lost)).find(EXPOSURE, NEEDS)
    assert told.value.code == "no-test-frame"


def test_reports_of_slots_are_not_its_own():
    beat = beat_with(Paper())
    assert beat.heard(Released(-10_001, 1.0, 0.1))
    assert not beat.heard(Released(1, 1.0, 0.1))
    assert not beat.heard(Gone("x", "x", "x", []))
