"""Faults of our own in the middle of a night: the slot is given up, the night is not."""

import asyncio
import inspect
import itertools
from pathlib import Path

import pytest

from controller.engine import run as run_module
from controller.engine import slots as slots_module
from controller.engine.recovery import Recovery
from controller.engine.reports import SLOTS_KEPT, Reports
from controller.words.documents import FrameState, ShootState
from tests.support.endless import Endless
from tests.support.rigs import Evening, camera_there, ended, plan, rows
from tests.whole.truth import compare, missed, taken


async def shoot_with(tmp_path: Path):
    evening = Evening(rate=2)
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(plan(2.0, when={"start": "now", "frames": 8}))
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
            notes = await rig.store.notes(shoot.id)
        compare(log, camera)
    assert shoot.state is ShootState.DONE
    return log, notes


async def test_decisions_that_fail_cost_no_frame(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    real = slots_module.next_slot

    def fails(plan, adjust, progress, body, now, beat=None):
        if progress.seq in (4, 5, 6):
            raise ZeroDivisionError("planted")
        return real(plan, adjust, progress, body, now, beat)

    monkeypatch.setattr(slots_module, "next_slot", fails)
    log, notes = await shoot_with(tmp_path)
    assert [frame.state for frame in taken(log)] == [FrameState.WRITTEN] * 8
    assert {round(b.due_utc - a.due_utc, 3) for a, b in itertools.pairwise(log)} == {2.0}
    assert sum("planted" in note.text for note in notes) == 1


async def test_an_order_that_cannot_be_given_costs_its_slot_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    real = slots_module.Slots._order

    async def fails_once(self, slot):
        if slot.seq == 4:
            raise ZeroDivisionError("planted")
        await real(self, slot)

    monkeypatch.setattr(slots_module.Slots, "_order", fails_once)
    log, notes = await shoot_with(tmp_path)
    assert [frame.seq for frame in missed(log)] == [4]
    assert sum(frame.state is FrameState.WRITTEN for frame in log) == 8
    assert any("planted" in note.text for note in notes)


async def test_a_report_that_cannot_be_taken_up_does_not_end_the_shoot(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    real = Reports._preview

    async def fails_once(self, report):
        if report.seq == 3:
            raise ZeroDivisionError("planted")
        await real(self, report)

    monkeypatch.setattr(Reports, "_preview", fails_once)
    log, notes = await shoot_with(tmp_path)
    assert [frame.seq for frame in taken(log) if not frame.preview] == [3]
    (told,) = [note.text for note in notes if "planted" in note.text]
    assert told == "internal trouble: planted; a report of the camera (Preview) was let go"


async def test_trouble_in_what_looks_after_the_card_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    async def fails(self):
        raise ZeroDivisionError("planted")

    monkeypatch.setattr(Recovery, "watch", fails)
    log, notes = await shoot_with(tmp_path)
    assert len(taken(log)) == 8
    assert [note.kind for note in notes if "planted" in note.text] == ["engine-trouble"]


async def test_a_run_that_breaks_is_taken_up_again_from_its_log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """And its helpers, which would go on with frames as they were known to it, end with it."""
    real, broken, helpers, over = run_module.ShootRun._windows, [], [], []

    async def helps(run):
        try:
            await asyncio.Event().wait()
        finally:
            helpers.append(run)

    async def breaks_once(self):
        if not broken:
            broken.append(self)
            self.reports._spawn(helps(self))
            await asyncio.sleep(0)
            raise ZeroDivisionError("planted")
        over.append(helpers == broken)
        return await real(self)

    monkeypatch.setattr(run_module.ShootRun, "_windows", breaks_once)
    log, _ = await shoot_with(tmp_path)
    assert over == [True]
    assert sum(frame.state is FrameState.WRITTEN for frame in log) == 8


def test_slots_that_are_given_up_for_months_do_not_pile_up(tmp_path: Path):
    """No order can be given for long: the shoot goes on, and of those slots the log has rows."""
    rig, kept = Endless(tmp_path, 5), []
    real = rig.camera.release

    async def fails(order):
        kept.append(len(rig.run.book.frames))
        if 3 <= order.seq <= 200:
            raise ZeroDivisionError("planted")
        await real(order)

    rig.camera.release = fails  # type: ignore[method-assign]
    rig.shoot()
    given_up = [row for row in rig.page(0) if row.state is FrameState.MISSED]
    assert len(given_up) == 198
    assert max(kept) <= 2 * SLOTS_KEPT


async def test_what_is_put_away_before_it_began_leaves_no_warning() -> None:
    """A run that ends in the moment in which its camera was opened."""
    reports = Reports.__new__(Reports)
    reports._tasks = set()
    begun = []

    async def after_opening() -> None:
        begun.append(True)

    work = after_opening()
    reports._spawn(work)
    await reports.close()
    assert not begun
    assert inspect.getcoroutinestate(work) == inspect.CORO_CLOSED


def test_a_run_that_is_cleared_away_unfinished_waits_for_nothing(tmp_path: Path):
    """As where a rehearsal is broken off: there is no loop any more when its run is closed."""
    rig = Endless(tmp_path, 3)
    rig.shoot()
    asyncio.set_event_loop(None)
    with pytest.raises(StopIteration):
        rig.run.reports.close().send(None)
