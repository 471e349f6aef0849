"""How the shutter is released: the ways that a body has, the gentlest first, and the one that works kept for it.

libgphoto2's own capture call throws away what a Canon EOS has to tell and adds 0.1 to 0.5 s. Such a body's button is
pressed instead, fully and at once, without the half press that would focus and wake before every frame.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from controller.camera.messages import Trouble
from controller.camera.worker import widgets
from controller.camera.worker.faults import Fault, Kind
from controller.camera.worker.kept import Kept
from controller.camera.worker.session import Session, choices_of

_CAPTURE_CALL = "trigger_capture"
_UNKNOWN_PARAMETER = -2  # a press whose parameters the body does not know; for presses the library tells no reason
_OFTEN = 3  # frames for which a way was refused without a reason while another worked: the body does not have it


@dataclass(frozen=True, slots=True)
class Way:
    """`name`: the button's text for a press, or the library's call; `lets_go`: its text that ends the press."""

    name: str
    lets_go: str = ""


# libgphoto2 2.5.34, then until 2.5.33 (config.c of camlibs/ptp2); of each the press without focus before the one with.
_PRESSES = (
    Way("Press Full MF", "Release"),
    Way("Press Full AF", "Release"),
    Way("Press Full", "Release Full"),
    Way("Press 3", "Release 3"),
)


def ways(texts: Iterable[str], first: str = "") -> list[Way]:
    """The ways of a body whose button has these texts, in the order in which to try them; `first` is what worked."""
    there = set(texts)
    able = [way for way in _PRESSES if {way.name, way.lets_go} <= there]
    return sorted([*able, Way(_CAPTURE_CALL)], key=lambda way: way.name != first)


class Trigger:
    """Releases one body's shutter. Its control is read here, so that nothing is read at the moment of a release."""

    def __init__(self, session: Session, body: str, kept: Kept) -> None:
        """`body` names the body among all that the rig has had. Raises Fault."""
        self._session, self._body, self._kept = session, body, kept
        self._button: tuple[str, Any] | None = session.widget(widgets.BUTTON)
        self._ways = ways(choices_of(self._button[1]) if self._button else (), kept.way(body))
        self._held = ""  # what ends the press that was made
        self._passed_over: Counter[Way] = Counter()
        self._found: Way | None = None  # in place of one that the body does not know, and not told yet
        self.news: Trouble | None = None  # what else is to be told with the next frame
        self.by_call = False  # whether the last release was by the library's own call

    @property
    def lead_s(self) -> float:
        """How long before its moment a release has to begin."""
        return 0.0

    def release(self) -> float:
        """Release the shutter; the moment of the call that did it.

        Where the body does not know a way, the next one is tried at once. Raises Fault: the refusal of a way that it
        knows, or of the last one.
        """
        self.let_go()
        unknown: dict[Way, bool] = {}  # whether that is sure
        for way in self._ways:
            at_mono = time.monotonic()
            try:
                self._use(way)
            except Fault as fault:
                sure = fault.kind is Kind.UNSUPPORTED or (fault.code == _UNKNOWN_PARAMETER and not fault.reason)
                unexplained = fault.kind is Kind.REFUSED and not fault.reason
                if way is self._ways[-1] or not (sure or unexplained):
                    raise
                unknown[way] = sure
            else:
                self._worked(way, unknown)
                return at_mono
        raise AssertionError("the last way returns or raises")

    def after(self, seq: int) -> Trouble | None:
        """Let the button go, once the release is told; what else is to be told. Raises Fault where the body is lost."""
        self.let_go()
        if self._found is None:
            news, self.news = self.news, None
            return None if news is None else replace(news, seq=seq)
        way, self._found = self._found, None
        what = f"the camera does not know the way in which it was to be released; '{way.name}' works"
        remedy = "Nothing to do: it is released so from now on"
        try:
            self._kept.keep(self._body, way.name)
        except OSError as error:
            remedy = f"That could not be kept for the next start ({error.strerror or error}): look at the rig's disk"
        return Trouble("release-way", what, remedy, seq)

    def let_go(self) -> None:
        """End a press that was not ended, as of a body that is busy; nothing where there is none. Raises Fault."""
        if not self._held:
            return
        try:
            self._push(self._held)
        except Fault as fault:
            if fault.kind is Kind.LOST:
                raise
        else:
            self._held = ""

    def _use(self, way: Way) -> None:
        if way.lets_go:
            self._push(way.name)
            self._held = way.lets_go
        else:
            self._session.trigger()
        self.by_call = not way.lets_go

    def _worked(self, way: Way, unknown: dict[Way, bool]) -> None:
        self._passed_over[way] = 0
        for other, sure in unknown.items():
            self._passed_over[other] += _OFTEN if sure else 1
        if unknown and all(self._passed_over[other] >= _OFTEN for other in unknown):
            self._ways.remove(way)
            self._ways.insert(0, way)
            self._found = way

    def _push(self, text: str) -> None:
        assert self._button is not None
        self._session.push(*self._button, text)
