"""Questions of the daemon, answered in steps and in gaps only."""

from __future__ import annotations

import logging
import time

from controller.camera.messages import Answer, AskSettings, AskStatus, ChangeSetting, Erase, ListFiles
from controller.camera.messages import Question as Asked
from controller.camera.worker.erasing import Erasing
from controller.camera.worker.faults import Fault, Kind
from controller.camera.worker.frames import Frames
from controller.camera.worker.listing import Listing
from controller.camera.worker.opening import Body
from controller.camera.worker.settings import Change, Reading
from controller.camera.worker.timing import Durations

log = logging.getLogger("camera")

_AGAIN_S = 1.0

MOST = 32
"""Questions that wait; of more the oldest is let fall, for whoever asked it has long given up. Between releases that
leave no time a rig asks every minute, for months."""

Question = Listing | AskStatus | Reading | Change | Erasing


class Questions:
    """What is still to be answered, oldest first; `took` knows how long each kind takes."""

    def __init__(self, took: Durations, frames: Frames) -> None:
        """`frames` are told what the body's clock shows where it was set."""
        self._took, self._frames = took, frames
        self._open: list[Question] = []
        self._not_before = 0.0

    def ask(self, asked: Asked) -> None:
        while len(self._open) >= MOST:
            del self._open[0]
        match asked:
            case ListFiles():
                self._open.append(Listing(asked.request, asked.fresh, self._frames.is_told))
            case AskStatus():
                self._open.append(asked)
            case AskSettings():
                self._open.append(Reading(asked))
            case ChangeSetting():
                self._open.append(Change(asked))
            case Erase():
                self._open.append(Erasing(asked))

    @property
    def card_wanted(self) -> bool:
        """Whether the card's listing is asked for."""
        return any(isinstance(question, Listing) for question in self._open)

    def fresh_wanted(self, opened_mono: float) -> bool:
        """Whether a listing is asked for that a session of that age cannot give."""
        return any(_waits(question, opened_mono) for question in self._open)

    def step(self, body: Body, now: float, limit: float) -> tuple[bool, Answer | None]:
        """One step for the first question for which there is time until `limit`: whether one was made, and an answer.

        What takes a file off the card comes after all that somebody waits for.
        A body that will not answer now is asked again in a moment; raises Fault where the session is lost.
        """
        for question in sorted(self._open, key=lambda each: isinstance(each, Erasing)):
            if now < self._not_before or now + self._cost(question, now) > limit or _waits(question, body.opened_mono):
                continue
            try:
                answer = self._one(question, body)
            except Fault as fault:
                if fault.kind is Kind.LOST:
                    raise
                log.warning("%s; asked again in a moment", fault)
                self._not_before = now + _AGAIN_S
                return True, None
            if answer is not None:
                self._open.remove(question)
            return True, answer
        return False, None

    def _cost(self, question: Question, now: float) -> float:
        if isinstance(question, Listing | Erasing):
            return question.cost_s
        return self._took.expected(_kind(question), now)

    def _one(self, question: Question, body: Body) -> Answer | None:
        if isinstance(question, Listing | Erasing):
            return question.step(body.session)
        begun = time.monotonic()
        if isinstance(question, AskStatus):
            answer: Answer | None = body.status(question.request)
        else:
            answer = question.step(body.session)
            if isinstance(question, Change):
                body.exposure.stale = True
                if question.clock_s is not None:
                    self._frames.clock_set(question.clock_s)
        self._took.took(_kind(question), time.monotonic() - begun, begun)
        return answer


def _waits(question: Question, opened_mono: float) -> bool:
    return isinstance(question, Listing) and question.fresh and opened_mono < question.asked_mono


def _kind(question: AskStatus | Reading | Change) -> str:
    return "status" if isinstance(question, AskStatus) else question.kind
