"""A body whose releases leave no time for anything else: what waits for time in its process has a bound, for months."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

from controller.camera.messages import AskSettings, AskStatus, Preview, Released, Status, Trouble
from controller.camera.worker.frames import _PREVIEWS, Frames
from controller.camera.worker.questions import MOST, Questions
from controller.camera.worker.session import Event, FileInfo
from controller.camera.worker.timing import Durations
from tests.camera.test_roll import order


class Body:
    """Gives what it is asked for."""

    def info(self, _: str) -> FileInfo:
        return FileInfo(1000, None)

    def preview(self, path: str) -> bytes:
        return path.encode()


def shot(frames: Frames, number: int) -> None:
    at_mono = 10.0 * number
    frames.released(replace(order(number), fetch="preview"), at_mono, Released(number, at_mono, 0.2), False)
    path = f"/DCIM/100DUSKH/DUSK{number:04d}.JPG"
    frames.told(Event("file", path), Body(), at_mono + 3.0)  # type: ignore[arg-type]
    frames.told(Event("complete"), Body(), at_mono + 3.1)  # type: ignore[arg-type]


def test_small_pictures_that_are_never_fetched_do_not_pile_up() -> None:
    told: list[Any] = []
    body: Any = SimpleNamespace(take_files=list, clock_s=None, opened_mono=0.0)
    frames = Frames(told.append, None, body)  # type: ignore[arg-type]
    for number in range(1, 501):
        shot(frames, number)
    assert len(frames._previews) == _PREVIEWS
    assert [trouble.seq for trouble in told if isinstance(trouble, Trouble)] == [1]  # and not each of them
    frames.preview(Body())  # type: ignore[arg-type]
    assert told[-1].seq == 500
    assert isinstance(told[-1], Preview)
    for number in (501, 502):
        shot(frames, number)
    assert [trouble.seq for trouble in told if isinstance(trouble, Trouble)] == [1, 491]


def test_questions_that_find_no_gap_do_not_pile_up() -> None:
    """A rig asks for battery and room every minute, and asks again when it has waited in vain."""
    questions = Questions(Durations({"status": 0.2, "setting": 0.2}), SimpleNamespace())  # type: ignore[arg-type]
    for request in range(1, 10_001):
        questions.ask(AskStatus(request))
    questions.ask(AskSettings(10_001))
    assert len(questions._open) == MOST
    body: Any = SimpleNamespace(opened_mono=0.0, status=lambda request: Status(request, None, None, None))
    stepped, answer = questions.step(body, 10.0, 100.0)
    assert stepped
    assert answer == Status(10_002 - MOST, None, None, None)
