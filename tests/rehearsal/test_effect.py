"""What a change is foretold to come to, against what the engine then shoots: pictures metered before a model sky."""

from __future__ import annotations

import asyncio
import itertools
from collections.abc import Callable
from dataclasses import replace

import pytest

from controller.decide.changes import own_light, own_pace, paced
from controller.decide.effect import Change, Standing, effect
from controller.decide.pace import PaceChange
from controller.decide.plan import Plan
from controller.decide.step import Adjust
from controller.engine.now import Forecasts
from controller.engine.standing import standing
from controller.rehearsal.camera import CameraModel
from controller.rehearsal.loop import VirtualLoop
from controller.rehearsal.rehearse import _Stage
from controller.rehearsal.sky import flat
from controller.rehearsal.weather import clear
from controller.words.documents import Frame, FrameState
from controller.words.effect import Effect, Limit
from tests.decide import changed, example, utc

NOON = utc("2026-12-03T10:00:00")
AT = 50  # the row of the log with which the change is made; it is handed on some hundred slots later
SLOTS = 3  # by which a limit may be met earlier or later: the exposure moves in thirds, and pictures are metered

Wanted = Callable[[Standing], Change]


class Changed(_Stage):
    """A rehearsal in which a person looks at a change once row AT is handed on, and makes it. `now` says the same."""

    wanted: Wanted
    told: Effect | None = None
    held: Effect | None = None  # how it stands once it is held, and what going on at once would come to
    by_itself = False

    def _take(self, frame: Frame) -> None:
        super()._take(frame)
        if self.told is None and frame.seq == AT:
            run = self._run
            assert run is not None
            at = standing(run)
            change = self.wanted(at)
            self.told = effect(at, change)
            shown = Forecasts().of(run)
            assert shown is not None
            assert self.told.stands.window_frames_to_come == pytest.approx(shown.frames_left, abs=1)
            assert self.told.stands.window_end_utc == pytest.approx(shown.end_utc, abs=1)
            asyncio.get_running_loop().create_task(self._make(change))

    async def _make(self, change: Change) -> None:
        run = self._run
        assert run is not None
        if change.adjust != run.adjust:
            await run.change(change.adjust, "by hand")
        if change.hold_s and self.by_itself:
            await run.hold(change.hold_s)
            at = standing(run)
            self.held = effect(at, Change(at.adjust, hold_s=0.0))
            shown = Forecasts().of(run)
            assert shown is not None
            assert self.held.stands.window_frames_to_come == pytest.approx(shown.frames_left, abs=1)
        elif change.hold_s:
            await run.hold()
            await asyncio.sleep(change.hold_s)
            await run.resume()


def shoot(
    plan: Plan, wanted: Wanted, over_ev: float = 0.0, before: Adjust | None = None, *, by_itself: bool = False
) -> tuple[Effect, list[Frame]]:
    """What was foretold, and the frames of the whole shoot. `before` was changed before all that; a hold ends
    `by_itself`, or is ended."""
    frames: list[Frame] = []
    stage = Changed(plan, NOON, clear(), CameraModel(), 0, None, 1, flat(over_ev), frames.append)
    stage._shoot.adjust = (before or Adjust()).document()
    stage.wanted, stage.by_itself = wanted, by_itself
    VirtualLoop(stage.clock).run_until_complete(stage.play())  # type: ignore[abstract]
    assert stage.told is not None
    if by_itself:
        assert stage.held is not None
        assert stage.held.stands.frames == pytest.approx(stage.told.then.frames, abs=1)
        assert stage.held.then.frames == pytest.approx(stage.told.stands.frames, abs=1)
    return stage.told, [frame for frame in frames if frame.state is not FrameState.MISSED]


def to(to_s: float, over_s: float) -> Wanted:
    return lambda at: Change(replace(at.adjust, pace=paced(at.progress, to_s, over_s, at.now.utc)))


def light(**limits: object) -> Wanted:
    return lambda at: Change(replace(at.adjust, **limits))  # type: ignore[arg-type]


def first(frames: list[Frame], is_so: Callable[[Frame], bool]) -> Frame:
    return next(frame for frame in frames if is_so(frame))


def at_limit(told: Effect, frames: list[Frame], limit: Limit, is_so: Callable[[Frame], bool]) -> None:
    """The first slot at a limit comes when it was foretold, within SLOTS."""
    (found,) = [each for each in told.then.limits if each.limit is limit]
    came = first(frames, is_so)
    assert found.from_utc == pytest.approx(came.due_utc, abs=SLOTS * came.interval_s)


@pytest.mark.parametrize(("to_s", "over_s", "over_ev"), [(25.0, 1200.0, 0.0), (20.0, 0.0, -1.5), (4.0, 600.0, 2.0)])
def test_a_change_of_pace(to_s: float, over_s: float, over_ev: float) -> None:
    plan = example("quay_at_dusk")
    told, frames = shoot(plan, to(to_s, over_s), over_ev)
    assert told.then.frames == pytest.approx(len(frames), rel=0.01)
    assert abs(told.stands.frames - told.then.frames) > 0.1 * told.then.frames  # it is the change that was foretold
    last = frames[-1]
    assert told.then.end_utc == pytest.approx(last.due_utc + last.interval_s, abs=last.interval_s + 0.01)
    assert told.then.interval_s == pytest.approx(last.interval_s, rel=0.01) == to_s
    at_limit(told, frames, Limit.HIGHEST_ISO, lambda frame: (frame.iso or 0) > 3199)
    if to_s > 19:  # both have room for the longest one
        at_limit(told, frames, Limit.LONGEST_SHUTTER, lambda frame: (frame.shutter_s or 0) > 15.9)


def test_as_it_stands() -> None:
    told, frames = shoot(example("quay_at_dusk"), lambda at: Change(at.adjust))
    assert told.stands == told.then
    assert told.then.frames == pytest.approx(len(frames), abs=2)
    at_limit(told, frames, Limit.HIGHEST_ISO, lambda frame: (frame.iso or 0) > 3199)


def test_lower_limits_are_met_earlier() -> None:
    told, frames = shoot(example("quay_at_dusk"), light(iso=(100, 800)))
    assert told.then.frames == pytest.approx(len(frames), rel=0.01)
    at_limit(told, frames, Limit.HIGHEST_ISO, lambda frame: (frame.iso or 0) > 799)


def test_a_brighter_bias_meets_them_earlier() -> None:
    told, frames = shoot(example("quay_at_dusk"), light(bias_ev=1.0))
    stands, then = (
        next(each.from_utc for each in course.limits if each.limit is Limit.HIGHEST_ISO)
        for course in (told.stands, told.then)
    )
    assert then < stands - 120
    at_limit(told, frames, Limit.HIGHEST_ISO, lambda frame: (frame.iso or 0) > 3199)


@pytest.mark.parametrize(("was_s", "max_change"), [(15.0, 0.02), (4.0, 0.005)])
def test_the_way_back_to_the_plans_pace(was_s: float, max_change: float) -> None:
    """What the engine then shoots is what it shoots of the plan itself, from there on."""
    plan = changed(example("quay_at_dusk"), pace={"max_change": max_change})
    before = Adjust(pace=PaceChange(was_s, was_s, NOON, 0.0))
    told, frames = shoot(plan, lambda at: Change(own_pace(at.adjust)), before=before)
    assert told.then.frames == pytest.approx(len(frames), rel=0.01)
    assert abs(told.stands.frames - told.then.frames) > 0.05 * told.then.frames
    _, of_plan = shoot(plan, lambda at: Change(at.adjust))
    assert told.then.interval_s == pytest.approx(frames[-1].interval_s, rel=0.01)
    assert frames[-1].interval_s == pytest.approx(of_plan[-1].interval_s, rel=1e-3)


def test_the_way_back_to_the_plans_light() -> None:
    before = Adjust(bias_ev=-1.0, iso=(100, 400), pace=PaceChange(20.0, 20.0, NOON, 0.0))
    told, frames = shoot(example("quay_at_dusk"), lambda at: Change(own_light(at.adjust)), before=before)
    assert told.then.frames == pytest.approx(len(frames), abs=3)  # its pace stays as it was changed
    at_limit(told, frames, Limit.HIGHEST_ISO, lambda frame: (frame.iso or 0) > 3199)
    assert told.stands.limits != told.then.limits


@pytest.mark.parametrize("by_itself", [False, True])
def test_a_hold(by_itself: bool) -> None:
    told, frames = shoot(example("quay_at_dusk"), lambda at: Change(at.adjust, hold_s=900.0), by_itself=by_itself)
    assert told.then.frames == pytest.approx(len(frames), abs=3)
    assert told.stands.frames - told.then.frames > 60
    pauses = [(after.due_utc - before.due_utc, before.interval_s) for before, after in itertools.pairwise(frames)]
    pause_s, interval_s = max(pauses)
    assert 900.0 <= pause_s <= 900.0 + interval_s + 1.0
    assert all(pause_s >= interval_s - 1e-6 for pause_s, interval_s in pauses)


def test_a_hold_shorter_than_the_interval_costs_no_frame() -> None:
    plan = example("quay_at_dusk")
    _, frames = shoot(plan, lambda at: Change(at.adjust, hold_s=1.0), by_itself=True)
    _, unheld = shoot(plan, lambda at: Change(at.adjust))
    assert len(frames) == len(unheld)


def test_a_count_of_frames_ends_when_it_was_foretold() -> None:
    plan = changed(example("quay_at_dusk"), when={"stop": None, "frames": 900})
    told, frames = shoot(plan, to(20.0, 600.0))
    assert (told.then.frames, len(frames)) == (900, 900)
    last = frames[-1]
    assert told.then.end_utc == pytest.approx(last.due_utc + last.interval_s, abs=5 * last.interval_s)
