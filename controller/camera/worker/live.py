"""Live view: small pictures of what is before the lens, while nothing is to be released."""

from __future__ import annotations

import time

from controller.camera.messages import LiveImage, LookThrough
from controller.camera.worker.faults import Fault, Kind, plain
from controller.camera.worker.session import Session

_BUSY_S = 0.1  # until a body that was not ready is asked again
_SETTLES_S = 0.6  # after it was switched off: a body tells so as an event, and the library goes by what it heard
_FAILS = 20  # in a row, after which it is given up


class LiveView:
    """`due_mono` is when the next picture is wanted; infinite while nobody looks."""

    kind = "live"

    def __init__(self) -> None:
        self.due_mono = float("inf")
        self.on = False
        self._every_s = 1.0
        self._fails = 0
        self._ended_mono = 0.0

    def look(self, order: LookThrough, session: Session) -> None:
        """Begin, change the rate, or end; raises Fault where the session is lost."""
        if order.per_s <= 0:
            self.end(session)
            return
        self.on, self._every_s, self._fails = True, 1.0 / order.per_s, 0
        self.due_mono = max(time.monotonic(), self._ended_mono + _SETTLES_S)

    def step(self, session: Session) -> LiveImage | None:
        """The next picture; one without bytes says that the body gives none, and why. Raises Fault where it is lost."""
        begun = time.monotonic()
        try:
            image = session.live_image()
        except Fault as fault:
            if fault.kind is Kind.LOST:
                raise
            self._fails += 1
            self.due_mono = begun + _BUSY_S
            if fault.kind is Kind.BUSY and self._fails < _FAILS:
                return None
            self.end(session)
            return LiveImage(b"", plain(fault.reason) or "the camera gives no live view")
        self._fails = 0
        self.due_mono = max(begun + self._every_s, time.monotonic())
        return LiveImage(image)

    def end(self, session: Session) -> None:
        """Switch it off on the body too, whose mirror may be up; raises Fault where the session is lost."""
        self.due_mono = float("inf")
        if self.on:
            self.on, self._ended_mono = False, time.monotonic()
            session.end_live_view()
