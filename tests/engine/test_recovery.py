"""Order after a loss, before a card and a log of this test's own."""

from __future__ import annotations

import asyncio
import contextlib
from collections import deque
from types import SimpleNamespace
from typing import Any

import pytest

from controller.camera.messages import TOOK_NONE, CardFile
from controller.engine import recovery as recovery_module
from controller.engine.recovery import LOST_AFTER_S, MISSED_AFTER_S, Recovery
from controller.words.documents import Frame, FrameState
from controller.words.errors import CameraError

START = 1_000_000.0


def path(number: int) -> str:
    return f"/DCIM/100DUSKH/DUSK{number:04d}.JPG"


class Rig:
    """As much of a run as recovery asks for. The card shows `hidden` files only to who asks for a fresh look."""

    def __init__(self, frames: list[Frame], utc: float) -> None:
        self.card: list[CardFile] = []
        self.hidden: list[CardFile] = []
        self.asked: list[bool] = []
        self.notes: list[tuple[str, dict[str, Any]]] = []
        self.frames = {frame.seq: frame for frame in frames}
        self.no_time = 0  # times that no fresh look is to be had
        self.shoot = SimpleNamespace(id="dusk")
        self.clock = SimpleNamespace(utc=lambda: utc, mono=lambda: 0.0, rate=1.0)
        self.camera = SimpleNamespace(opened=object(), files=self.files)
        self.book = SimpleNamespace(
            frames=self.frames, take_up=self.take_up, noted=self.noted, lately_missed=deque(),
            lately_lost=deque(), last=None, open_frames=self.open, rows_since=self.rows, note=self.note,
            change=self.change, forget=lambda seq: None, baseline=self.baseline, unnamed=self.unnamed,
        )  # fmt: skip
        self.reports = SimpleNamespace(
            gone_cause="it was lost", on_card=self.on_card, fetching=SimpleNamespace(ask=self.fetch)
        )
        self.recovery = Recovery(self)  # type: ignore[arg-type]

    def open(self) -> list[Frame]:
        return [f for f in self.frames.values() if f.state in (FrameState.DUE, FrameState.RELEASED)]

    async def files(self, fresh: bool = False) -> list[CardFile]:
        self.asked.append(fresh)
        if fresh and self.no_time:
            self.no_time -= 1
            raise CameraError("camera-no-answer", "no time", retryable=True)
        return [*self.card, *(self.hidden if fresh else [])]

    async def rows(self, _seq: int, *, named: bool = False) -> list[Frame]:
        return [frame for frame in self.frames.values() if frame.camera_file is not None or not named]

    async def unnamed(self, paths: list[str]) -> set[str]:
        return set(paths) - {frame.camera_file for frame in self.frames.values()}

    async def baseline(self) -> str:
        return ""

    async def noted(self, *kinds: str) -> list[str]:
        return [file for kind, facts in self.notes if kind in kinds for file in facts["files"]]

    def take_up(self, frame: Frame) -> None:
        self.frames.setdefault(frame.seq, frame)

    async def note(self, kind: str, _text: str, _utc: float, **facts: Any) -> None:
        self.notes.append((kind, facts))

    async def change(self, seq: int, **fields: Any) -> Frame:
        self.frames[seq] = self.frames[seq].model_copy(update=fields)
        self.book.lately_lost = deque(frame for frame in self.frames.values() if frame.state is FrameState.LOST)
        return self.frames[seq]

    async def fetch(self, *_: object) -> None: ...

    async def on_card(self, seq: int, paths: list[str], **more: Any) -> None:
        both = {"camera_file": paths[0], "companion_file": paths[1] if len(paths) > 1 else None}
        await self.change(seq, state=FrameState.WRITTEN, **both, **more)
        self.recovery.ashore(seq)


def frame(seq: int, state: FrameState, file: int | None = None) -> Frame:
    due = START + 10.0 * seq
    return Frame(
        shoot="dusk", seq=seq, camera="camera-1", due_utc=due, interval_s=10.0, shutter_s=1.0, state=state,
        released_utc=None if state is FrameState.DUE else due, camera_file=path(file) if file else None,
    )  # fmt: skip


def file(number: int, utc: float) -> CardFile:
    return CardFile(path(number), 1000, utc)


async def watched(rig: Rig, monkeypatch: pytest.MonkeyPatch, looks: int) -> None:
    """Let it look so many times at most."""
    waits = iter(range(looks - 1))

    async def no_wait(*_: object) -> None:
        if next(waits, None) is None:
            raise asyncio.CancelledError

    monkeypatch.setattr(recovery_module, "sleep_until", no_wait)
    rig.recovery.set_adrift()
    with contextlib.suppress(asyncio.CancelledError):
        await rig.recovery.watch()


async def test_a_file_that_only_a_fresh_look_shows_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    for state in (FrameState.DUE, FrameState.RELEASED):
        rig = Rig([frame(1, FrameState.WRITTEN, 1), frame(2, state)], START + 300.0)
        rig.card, rig.hidden = [file(1, START + 11)], [file(2, START + 21)]
        await watched(rig, monkeypatch, 3)
        assert rig.frames[2].camera_file == path(2)
        assert rig.asked == [False, True]


async def test_what_is_not_found_is_waited_for_and_then_lost_or_missed(monkeypatch: pytest.MonkeyPatch) -> None:
    for state, after_s, end in (
        (FrameState.DUE, MISSED_AFTER_S, FrameState.MISSED),
        (FrameState.RELEASED, LOST_AFTER_S, FrameState.LOST),
    ):
        for late_s, expected in ((after_s - 5.0, state), (after_s + 5.0, end)):
            rig = Rig([frame(1, FrameState.WRITTEN, 1), frame(2, state)], START + 22.0 + late_s)
            rig.card = [file(1, START + 11)]
            await watched(rig, monkeypatch, 1)
            assert rig.frames[2].state is state  # the first look may come before the file
            await watched(rig, monkeypatch, 2)
            assert rig.frames[2].state is expected


async def test_the_second_file_of_a_pair_that_comes_later_is_its_slots(monkeypatch: pytest.MonkeyPatch) -> None:
    """Bodies write the files of a pair one after the other; a name apart from its extension is a frame's (DCF, CIPA
    DC-009, section 3)."""
    raw = [CardFile(path(n).replace("JPG", "NEF"), 9000, START + 10 * n + 1) for n in (1, 2)]
    for last in (FrameState.WRITTEN, FrameState.RELEASED):
        rig = Rig([frame(1, FrameState.WRITTEN, 1), frame(2, FrameState.RELEASED)], START + 23.0)
        rig.frames[1].companion_file = raw[0].path
        rig.card, rig.hidden = [file(1, START + 11), raw[0], file(2, START + 21)], [raw[1]]
        if last is FrameState.RELEASED:  # another slot waits for a file too, and takes no half of its neighbour's
            rig.frames[3] = frame(3, last).model_copy(update={"released_utc": START + 21.0})
        await watched(rig, monkeypatch, 3)
        assert (rig.frames[2].camera_file, rig.frames[2].companion_file) == (path(2), raw[1].path)
        assert rig.notes == []
        assert last is FrameState.WRITTEN or rig.frames[3].camera_file is None


async def test_a_look_for_which_there_is_no_time_is_made_later(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = Rig([frame(1, FrameState.WRITTEN, 1), frame(2, FrameState.RELEASED)], START + 3000.0)
    rig.card, rig.hidden, rig.no_time = [file(1, START + 11)], [file(2, START + 21)], 2
    await watched(rig, monkeypatch, 6)
    assert rig.frames[2].camera_file == path(2)
    assert rig.asked == [False, True, True, True]


async def test_files_of_no_slot_are_named_once_at_the_end() -> None:
    rig = Rig([frame(1, FrameState.WRITTEN, 1), frame(2, FrameState.DUE)], START + 300.0)
    rig.card = [file(1, START + 11), file(2, START + 90)]
    await rig.recovery.learn_baseline()
    await rig.recovery.close()
    assert rig.frames[2].state is FrameState.MISSED
    assert rig.frames[2].cause == "it was lost"
    rig.frames[3] = frame(3, FrameState.DUE)
    await rig.recovery.close()
    assert rig.notes == [("unknown-files", {"files": [path(2)]})]


async def test_a_frame_that_was_taken_after_all_is_its_slots() -> None:
    """A body answered a release and showed no file in time; the slot counts as missed, and then the file is there."""
    rig = Rig([frame(1, FrameState.WRITTEN, 1), frame(3, FrameState.WRITTEN, 3)], START + 300.0)
    missed = frame(2, FrameState.MISSED).model_copy(update={"cause": TOOK_NONE, "released_utc": None})
    rig.book.lately_missed.append(missed)
    rig.card = [file(n, START + 10 * n + 1) for n in (1, 2, 3)]
    await rig.recovery.learn_baseline()
    await rig.recovery.close()
    assert (rig.frames[2].state, rig.frames[2].camera_file) == (FrameState.WRITTEN, path(2))
    assert rig.frames[2].cause is not None
    assert "planned" in rig.frames[2].cause
    assert rig.notes == []
    assert not rig.book.lately_missed


async def lost_in_the_middle(monkeypatch: pytest.MonkeyPatch) -> Rig:
    """Slot 2 was released, and its file did not come within the patience."""
    rig = Rig([frame(1, FrameState.WRITTEN, 1), frame(2, FrameState.RELEASED)], START + 27.0 + LOST_AFTER_S)
    rig.card = [file(1, START + 11)]
    await rig.recovery.learn_baseline()
    await watched(rig, monkeypatch, 2)
    assert rig.frames[2].state is FrameState.LOST
    rig.frames[3] = frame(3, FrameState.WRITTEN, 3)
    return rig


@pytest.mark.parametrize("told_before", [False, True])
async def test_a_frame_called_lost_whose_file_comes_all_the_same_is_found_at_the_end(
    monkeypatch: pytest.MonkeyPatch, told_before: bool
) -> None:
    rig = await lost_in_the_middle(monkeypatch)
    rig.card += [file(2, START + 21), file(3, START + 31)]
    told = [("unknown-files", {"files": [path(2)]})] if told_before else []
    rig.notes += told
    await rig.recovery.close()
    found = rig.frames[2]
    assert (found.state, found.camera_file) == (FrameState.WRITTEN, path(2))
    assert found.released_utc == START + 20.0
    assert "later" in str(found.cause)
    assert rig.notes == told
    assert not rig.book.lately_lost


async def test_it_is_found_while_the_shoot_goes_on_where_the_card_is_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = await lost_in_the_middle(monkeypatch)
    rig.frames[3] = frame(3, FrameState.RELEASED)
    rig.card += [file(2, START + 21), file(3, START + 31)]
    await watched(rig, monkeypatch, 2)
    assert [rig.frames[seq].camera_file for seq in (2, 3)] == [path(2), path(3)]
    assert rig.notes == []


async def test_a_file_of_another_time_is_not_that_of_a_lost_frame(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = await lost_in_the_middle(monkeypatch)
    rig.frames[3] = frame(30, FrameState.WRITTEN, 3).model_copy(update={"seq": 3})
    rig.card += [file(2, START + 150), file(3, START + 301)]
    await rig.recovery.close()
    assert rig.frames[2].state is FrameState.LOST
    assert rig.notes == [("unknown-files", {"files": [path(2)]})]


async def test_a_file_of_no_slot_is_named_where_nothing_was_lost_too() -> None:
    rig = Rig([frame(1, FrameState.WRITTEN, 1), frame(3, FrameState.WRITTEN, 3)], START + 300.0)
    rig.card = [file(n, START + 10 * n + 1) for n in (1, 2, 3)]
    await rig.recovery.learn_baseline()
    await rig.recovery.close()
    assert rig.notes == [("unknown-files", {"files": [path(2)]})]
