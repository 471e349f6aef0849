"""The camera's own release contacts, closed through optocouplers: a second way to fire, for a body that refuses the
first. What the frame is exposed with, and where it goes, is set and followed over the cable as ever."""

from __future__ import annotations

import logging
import time
from functools import cache
from pathlib import Path
from typing import Any

from controller.camera.contacts import Contacts, told
from controller.camera.messages import Trouble
from controller.camera.worker.faults import Fault, Kind
from controller.camera.worker.kept import Kept
from controller.camera.worker.process import own_directory
from controller.camera.worker.release import Trigger
from controller.camera.worker.session import Session
from controller.words.pins import gpiozero_with_pins

log = logging.getLogger("camera")

_OFTEN = 3  # frames in a row that the camera refused and its contacts took: they go first from then on
_REFUSED = (Kind.REFUSED, Kind.UNSUPPORTED)
_PIN_REMEDY = "See that the pin is free, that this user is in the group gpio, and that lgpio is installed"


class PinFailed(Exception):
    """A contact could not be closed or opened; in words."""


class Wire:
    """The pins to one camera's contacts, taken at the first use and opened anew after a failure."""

    def __init__(self, rule: Contacts, directory: Path) -> None:
        """`directory` is the process's own."""
        self.rule, self._directory = rule, directory
        self._shutter: Any = None
        self._focus: Any = None
        self._closed_mono: float | None = None

    def open(self) -> None:
        """Take the pins, contacts open. Raises PinFailed."""
        try:
            self._take()
        except Exception as error:
            raise self._failed(error) from error

    def close_contacts(self) -> float:
        """Focus, then shutter; the moment at which the shutter's was closed. Raises PinFailed."""
        try:
            self._take()
            if self._focus is not None:
                self._focus.on()
                time.sleep(self.rule.lead_s)
            self._shutter.on()
        except Exception as error:
            raise self._failed(error) from error
        self._closed_mono = time.monotonic()
        return self._closed_mono

    def open_contacts(self) -> None:
        """Both, once the shutter's was closed for long enough. Raises PinFailed."""
        if self._closed_mono is None:
            return
        time.sleep(max(0.0, self._closed_mono + self.rule.hold_s - time.monotonic()))
        self._closed_mono = None
        try:
            self._shutter.off()
            if self._focus is not None:
                self._focus.off()
        except Exception as error:
            raise self._failed(error) from error

    def _take(self) -> None:
        if self._shutter is not None:
            return
        gpiozero = gpiozero_with_pins(self._directory)
        if self.rule.focus_pin is not None:
            self._focus = gpiozero.OutputDevice(self.rule.focus_pin, active_high=self.rule.high)
        self._shutter = gpiozero.OutputDevice(self.rule.shutter_pin, active_high=self.rule.high)

    def _failed(self, error: Exception) -> PinFailed:
        for device in (self._shutter, self._focus):
            if device is not None:
                try:
                    device.close()  # which lets the contact go
                except Exception as further:  # noqa: BLE001  each way to the pins has errors of its own
                    log.warning("a pin could not be let go: %s", further)
        self._shutter = self._focus = self._closed_mono = None
        return PinFailed(str(error) or type(error).__name__)


class WiredTrigger(Trigger):
    """Releases by the contacts, before the camera's own ways or where those are refused."""

    def __init__(self, session: Session, body: str, kept: Kept, wire: Wire) -> None:
        super().__init__(session, body, kept)
        self._wire, self._first = wire, wire.rule.first
        self._refused = 0
        self._pin_said = ""
        self._open_ahead()

    @property
    def lead_s(self) -> float:
        """How long before its moment a release has to begin."""
        return self._wire.rule.lead_s if self._first and self._wire.rule.focus_pin is not None else 0.0

    def release(self) -> float:
        self.by_call = False
        if self._first:
            try:
                return self._wire.close_contacts()
            except PinFailed as failure:
                self._say_pin(failure)
                return super().release()
        try:
            at_mono = super().release()
        except Fault as fault:
            if fault.kind not in _REFUSED:
                raise
            at_mono = self._instead(fault)
        else:
            self._refused = 0
        return at_mono

    def after(self, seq: int) -> Trouble | None:
        try:
            self._wire.open_contacts()
        except PinFailed as failure:
            self._say_pin(failure)
        return super().after(seq)

    def _instead(self, fault: Fault) -> float:
        """The contacts, where the camera has refused; raises its refusal where they fail too."""
        try:
            at_mono = self._wire.close_contacts()
        except PinFailed as failure:
            self._say_pin(failure)
            raise fault from None
        self._refused += 1
        if self._refused == 1:
            why = fault.reason or "without a reason"
            what = f"the camera refused to be released ({why}), and was fired by its contacts"
            self.news = Trouble("release-way", what, "Look at its mode dial and focus; frames go on meanwhile")
        if self._refused >= _OFTEN:
            self._first = True  # for this session: the next one asks the camera again
        return at_mono

    def _open_ahead(self) -> None:
        try:
            self._wire.open()
        except PinFailed as failure:
            self._say_pin(failure)

    def _say_pin(self, failure: PinFailed) -> None:
        """Told once, while it stays the same."""
        if str(failure) != self._pin_said:
            self._pin_said = str(failure)
            what = f"the camera's contacts cannot be closed: {failure}"
            self.news = Trouble("pin-failed", what, _PIN_REMEDY)


@cache
def _wire() -> Wire | None:
    """One for the process, however many sessions it has. Raises as `told`."""
    directory = own_directory()
    rule = None if directory is None else told(directory)
    return None if rule is None or directory is None else Wire(rule, directory)


def trigger_of(session: Session, body: str, kept: Kept) -> Trigger:
    """How this body is released; `body` names it among all that the rig has had. Raises Fault."""
    try:
        wire = _wire()
    except (OSError, ValueError, TypeError) as error:
        trigger = Trigger(session, body, kept)
        what = f"the camera's contacts are not known, what was kept of them cannot be read: {error}"
        trigger.news = Trouble("pin-failed", what, "Start the service again: it writes that anew")
        return trigger
    return Trigger(session, body, kept) if wire is None else WiredTrigger(session, body, kept, wire)
