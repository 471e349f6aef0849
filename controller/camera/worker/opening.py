"""Finding a body at an address and opening a session that is ready to shoot."""

from __future__ import annotations

import contextlib
import logging
import time
from collections.abc import Callable, Iterator
from typing import Any, NamedTuple, TypeVar

import gphoto2 as gp

from controller.camera.messages import Opened, Status
from controller.camera.worker import widgets
from controller.camera.worker.exposure import Exposure
from controller.camera.worker.faults import Fault, Kind
from controller.camera.worker.kept import Kept, kept_file
from controller.camera.worker.release import Trigger
from controller.camera.worker.session import Session, choices_of
from controller.camera.worker.wired import trigger_of
from controller.words.no_number import battery_percent, count

log = logging.getLogger("camera")

_NETWORK_MODEL = "PTP/IP Camera"
_NONE_FOUND = -105
QUIET_OPENING_S = 120.0
"""What reading a card may take: some ten thousand files, on USB up to 5 ms each."""

_Value = TypeVar("_Value")


class Body:
    """An open session with all that was learned on opening it.

    `files` are the card's paths, `took_s` is what opening cost; `trigger` is there once it is open.
    """

    trigger: Trigger

    def __init__(self, model: Any, ports: Any, port: Any) -> None:
        # The library keeps pointers into the list of ports, so the list must live as long as the session.
        self._model, self._ports, self._port = model, ports, port
        self.address = str(port.get_path())
        self.session = Session(model, port)
        self.exposure = Exposure()
        self.name = self.serial = self.style = ""
        self.files: list[str] = []
        self.clock_s: float | None = None  # the body's clock, as its files' times count it, at `opened_mono`
        self.opened_mono = self.took_s = 0.0

    def open(self, answers: Callable[[], None] = lambda: None, shutter_open: bool = False, again: bool = False) -> None:
        """Open the session and make it ready; raises Fault. `answers` is called once the body has answered.

        `again`: a session before this one was lost, with `shutter_open` while it held the shutter open.
        """
        begun = time.monotonic()
        self.session.open()
        try:
            answers()
            self._make_ready(shutter_open, again)
        except BaseException:  # a body gives no other session while it holds this one, nor does USB
            with contextlib.suppress(Fault):
                self.session.close()
            raise
        self.opened_mono = time.monotonic()
        self.took_s = self.opened_mono - begun

    def _make_ready(self, shutter_open: bool, again: bool) -> None:
        self.serial = self.session.text(widgets.SERIAL) or ""
        self.name = self.session.text(widgets.MODEL) or self._model.model
        self.style = self.session.text(widgets.STYLE) or ""
        if shutter_open:
            _unless_refused(lambda: self.session.hold_open(False))
        _aim_at_card(self.session)
        self.session.end_live_view(again)  # the session that was lost, or another program, may have left it on
        self.exposure.read(self.session)
        self.trigger = trigger_of(self.session, f"{self.name} {self.serial}".rstrip(), Kept(kept_file()))
        # On the first file of a session the library reads the whole folder, 0.5 to 5 ms a file: here it costs no frame.
        self.files = list(self.session.walk())
        event = self.session.poll()  # a fault here means that controls seemed absent because the line was dead
        if event is not None and event.kind == "file":
            self.files.append(event.path)
        self.clock_s = _unless_refused(self.session.clock)

    @property
    def answers_in_vain(self) -> bool:
        """The last release went through the library's code for Nikons: see `doubt`. The finer shutter is theirs."""
        nikon = "nikon" in self._model.model.lower() or self.exposure.shutter.name == widgets.NIKON_SHUTTER
        return nikon and self.trigger.by_call

    def take_files(self) -> list[str]:
        """The card's paths on opening, once: a card holds tens of thousands."""
        files, self.files = self.files, []
        return files

    def reopen(self) -> Body:
        """A new session in place of this one, which learns the card afresh; raises Fault."""
        self.session.close()
        body = Body(self._model, self._ports, self._port)
        body.open()
        return body

    def opened(self) -> Opened:
        exposure, status = self.exposure, self.status(0)
        return Opened(
            model=self.name,
            serial=self.serial,
            shutter_s=list(exposure.shutter.choices),
            aperture=list(exposure.aperture.choices),
            iso=list(exposure.iso.choices),
            shutter_now_s=exposure.shutter.now,
            aperture_now=exposure.aperture.now,
            iso_now=exposure.iso.now,
            battery_percent=status.battery_percent,
            free_bytes=status.free_bytes,
            free_frames=status.free_frames,
            style=self.style,
            bulb=exposure.bulb,
            clock_s=self.clock_s,
            clock_mono=self.opened_mono,
        )

    def status(self, request: int) -> Status:
        """Battery and room; some of these calls hold the interpreter. Raises Fault where the session is lost."""
        free_bytes, free_frames = _unless_refused(self.session.free) or (None, None)
        shots = count(self._told(widgets.SHOTS_LEFT))
        return Status(request, self.battery(), free_bytes, free_frames if shots is None else shots)

    def _told(self, control: tuple[str, ...]) -> str:
        """A control's text; empty where the body has none, or does not tell it."""
        text: str | None = _unless_refused(lambda: self.session.text(control))
        return text or ""

    def ask(self) -> None:
        """Something small that goes all the way to the body; raises Fault where the session is lost."""
        before = self.session.last_call_mono
        self.battery()
        if self.session.last_call_mono == before:  # it has no such control
            _unless_refused(self.session.free)

    def battery(self) -> int | None:
        return battery_percent(self._told(widgets.BATTERY))


class Known(NamedTuple):
    """The body that was open at an address before; empty where none was, the serial number also where it tells none.

    `shutter_open`: it was lost while its shutter was held open.
    """

    model: str = ""
    serial: str = ""
    shutter_open: bool = False


class Finder:
    """Looks for bodies. Its list of models takes 7 MB, so it is loaded once and dropped when a body is open."""

    def __init__(self) -> None:
        self._models = gp.CameraAbilitiesList()
        self._models.load()

    def open(self, address: str, known: Known, answers: Callable[[], None]) -> Body:
        """Open the body at an address; raises Fault.

        `usb:` is the first on the bus that can be opened. After a cable was pulled a body comes back under another
        number, so that where `usb:BUS,DEVICE` is not there the body that was `known` at it is taken.
        """
        fault = Fault("looking for the camera", _NONE_FOUND, "")
        for body in self._candidates(address, known):
            try:
                body.open(answers, known.shutter_open, bool(known.model))
            except Fault as error:
                fault = error
                continue
            if address in ("usb:", body.address) or (body.name, body.serial) == known[:2]:
                return body
            body.session.close()
        raise fault

    def _candidates(self, address: str, known: Known) -> Iterator[Body]:
        ports = gp.PortInfoList()
        ports.load()
        if address.startswith("ptpip:"):
            yield self._body(ports, _NETWORK_MODEL, address)
            return
        found = self._models.detect(ports)
        attached = [(found.get_name(i), found.get_value(i)) for i in range(found.count())]
        usb = [(name, path) for name, path in attached if path.startswith("usb:")]
        exact = [(name, path) for name, path in usb if address in ("usb:", path)]
        for name, path in exact or (usb if known.model else []):
            yield self._body(ports, name, path)

    def _body(self, ports: Any, name: str, path: str) -> Body:
        return Body(self._models[self._models.lookup_model(name)], ports, ports[ports.lookup_path(path)])


def reset_port(address: str) -> None:
    """Reset a USB port; where that cannot be done the opening after it will tell."""
    try:
        ports = gp.PortInfoList()
        ports.load()
        port = gp.GPPort()
        port.set_info(ports[ports.lookup_path(address)])
        port.open()
        try:
            port.reset()
        finally:
            port.close()
    except gp.GPhoto2Error as error:
        log.warning("the port %s could not be reset: %s", address, error)


def _aim_at_card(session: Session) -> None:
    """Let frames go to the card, where the body lets that be chosen. Raises Fault where it does not come true."""
    found = session.widget(widgets.TARGET)
    if found is None:
        return
    name, widget = found
    card = next((text for wanted in widgets.CARD for text in choices_of(widget) if text == wanted), None)
    if card is None or widget.get_value() == card:
        return
    session.write(name, widget, card)
    shows = session.text(widgets.TARGET)
    if shows != card:
        raise Fault(f"setting {name} to {card}", 0, f"the camera keeps {shows}", Kind.REFUSED)


def _unless_refused(read: Callable[[], _Value]) -> _Value | None:
    """What was read, None where the body will not tell; a lost session passes through."""
    try:
        return read()
    except Fault as fault:
        if fault.kind is Kind.LOST:
            raise
        return None
