"""One libgphoto2 session with one body: the calls that are made, each failing as a Fault with the body's reason."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import gphoto2 as gp

from controller.camera.worker import widgets
from controller.camera.worker.faults import Fault, Kind
from controller.camera.worker.process import pin_stdin

_POLL_MS = 1
_SILENT_S = 2.0  # a failed look-up that took this long was a time-out, whatever its code says
_NO_NAME = "<none>"  # the library's name for an object that it could not learn about
_EXPOSURE = {*widgets.SHUTTER, *widgets.APERTURE, *widgets.ISO, *widgets.SETTINGS["exposure_mode"]}
_FULL_EVENT = "event 400a"  # StoreFull, ISO 15740 section 12


@dataclass(frozen=True, slots=True)
class Event:
    """What the body told: kind is file, complete, changed (a property), full or other."""

    kind: str
    path: str = ""


@dataclass(frozen=True, slots=True)
class FileInfo:
    size: int
    mtime_s: float | None


class Session:
    """`model` are the library's abilities of the body, `port` its port; both must outlive the session."""

    def __init__(self, model: Any, port: Any) -> None:
        self._reason = ""
        self._context = gp.Context()
        # The binding forgets the callback unless its handle is kept.
        self._handle = self._context.set_error_func(self._heard, None)
        self._camera = gp.Camera()
        self._camera.set_abilities(model)
        self._camera.set_port_info(port)
        self._there: set[str] = set()  # controls that the body has
        self._bulb: tuple[str, Any] | None = None
        self.last_call_mono = 0.0  # when a call went all the way to the body

    def _heard(self, _context: object, text: bytes | str, _data: object) -> None:
        if not self._reason:  # the first word is the cause, later ones follow from it
            self._reason = text.decode(errors="replace") if isinstance(text, bytes) else str(text)

    def _do(self, doing: str, call: Any, *args: Any) -> Any:
        self._reason = ""
        begun = time.monotonic()
        try:
            result = call(*args, self._context)
        except gp.GPhoto2Error as error:
            kind = Kind.LOST if time.monotonic() - begun > _SILENT_S and not self._reason else None
            raise Fault(doing, int(error.code), self._reason, kind) from None
        self.last_call_mono = time.monotonic()
        return result

    # ---- opening and closing

    def open(self) -> None:
        self._do("opening the camera", self._camera.init)

    def close(self) -> None:
        """End the session; the object is of no use after it."""
        try:
            self._do("closing the camera", self._camera.exit)
        finally:
            pin_stdin()

    # ---- releasing and listening

    def trigger(self) -> None:
        """Release the shutter; returns when the body has taken the request."""
        self._do("releasing", self._camera.trigger_capture)

    def push(self, name: str, button: Any, text: str) -> None:
        """Press a release button or let it go, by one of its control's texts; asks the body for nothing before."""
        button.set_value(text)
        self._do("releasing", self._camera.set_single_config, name, button)

    def can_hold_open(self) -> bool:
        """Whether the body has a control for it, which is read here and not at the moment when it is used."""
        self._bulb = self.widget(widgets.BULB)
        return self._bulb is not None

    def hold_open(self, opened: bool) -> None:
        """Open the shutter until further notice, or close it."""
        if self._bulb is None and not self.can_hold_open():
            raise Fault("holding the shutter open", 0, "the camera has no control for it", Kind.UNSUPPORTED)
        assert self._bulb is not None
        name, widget = self._bulb
        widget.set_value(int(opened))
        doing = "opening the shutter" if opened else "closing the shutter"
        self._do(doing, self._camera.set_single_config, name, widget)

    def live_image(self) -> bytes:
        """A JPEG of what is before the lens now; the body's live view comes on with the first."""
        file = gp.CameraFile()
        self._do("looking through the camera", self._camera.capture_preview, file)
        return bytes(file.get_data_and_size())  # copied while the file lives, which owns the bytes

    def end_live_view(self, surely: bool = True) -> None:
        """Switch live view off, where the body has a control for it; raises Fault where the session is lost.

        Not `surely`: only where the control says that it is on, which for some makers the library knows of its own
        session alone.
        """
        try:
            found = self.widget(widgets.LIVE_VIEW)
            if found is not None and (surely or found[1].get_value()):
                found[1].set_value(0)
                self._do("switching live view off", self._camera.set_single_config, *found)
        except Fault as fault:
            if fault.kind is Kind.LOST:
                raise

    def poll(self) -> Event | None:
        """The next thing that the body has to tell, None where there is nothing; returns within milliseconds."""
        last_call_mono = self.last_call_mono
        try:
            kind, data = self._do("listening to the camera", self._camera.wait_for_event, _POLL_MS)
        except Fault as fault:
            if fault.kind is Kind.BUSY:
                return None
            raise Fault(fault.doing, fault.code, fault.reason, Kind.LOST) from None
        if kind == gp.GP_EVENT_TIMEOUT:
            self.last_call_mono = last_call_mono  # over PTP/IP nothing was asked of the body
            return None
        if kind == gp.GP_EVENT_FILE_ADDED:
            if data.name == _NO_NAME:
                raise Fault("listening to the camera", -7, "the session is out of step", Kind.LOST)
            return Event("file", f"{data.folder.rstrip('/')}/{data.name}")
        if kind == gp.GP_EVENT_CAPTURE_COMPLETE:
            return Event("complete")
        text = str(data).lower()
        if _FULL_EVENT in text:
            return Event("full")
        return Event("changed" if "property" in text and of_exposure(text) else "other")

    # ---- controls

    def widget(self, names: tuple[str, ...]) -> tuple[str, Any] | None:
        """The first control that the body has of these names, read afresh; None where it has none."""
        for name in names:
            try:
                widget = self._do(f"reading {name}", self._camera.get_single_config, name)
            except Fault as fault:
                if fault.kind is Kind.LOST or fault.reason:
                    raise
                if name in self._there:  # the library says the same of a dead line as of a control that is not there
                    raise Fault(fault.doing, fault.code, "no answer", Kind.LOST) from None
            else:
                if widget is not None:  # of a Canon EOS the library finds a control that is not there, and gives none
                    self._there.add(name)
                    return name, widget
        return None

    def write(self, name: str, widget: Any, value: Any) -> None:
        """Set a control to one of its own texts. That it returns is no proof: read it back."""
        widget.set_value(value)
        self._do(f"setting {name} to {value}", self._camera.set_single_config, name, widget)

    def text(self, names: tuple[str, ...]) -> str | None:
        """A control's value as the body writes it, None where it has no such control."""
        found = self.widget(names)
        return None if found is None else str(found[1].get_value())

    def clock(self) -> float | None:
        """The body's clock in seconds, on the scale of its files' times; None where it does not tell."""
        found = self.widget(widgets.CLOCK)
        if found is None or found[1].get_type() != gp.GP_WIDGET_DATE:
            return None
        return float(found[1].get_value()) or None

    def free(self) -> tuple[int | None, int | None]:
        """Bytes and frames that the card still takes. Holds the interpreter, so only where there is time."""
        stores = self._do("reading the card's room", self._camera.get_storageinfo)
        room = [s for s in stores if s.fields & gp.GP_STORAGEINFO_FREESPACEKBYTES]
        if not room:
            return None, None
        frames = [s.freeimages for s in room if s.fields & gp.GP_STORAGEINFO_FREESPACEIMAGES]
        return sum(s.freekbytes for s in room) * 1024, sum(frames) if frames else None

    # ---- files

    def walk(self, folder: str = "/") -> Iterator[str]:
        """Paths of all files on the card, as far as the library knows; only a new session learns afresh."""
        for name in self._names(f"listing {folder}", self._camera.folder_list_files, folder):
            yield f"{folder.rstrip('/')}/{name}"
        for name in self._names(f"listing {folder}", self._camera.folder_list_folders, folder):
            yield from self.walk(f"{folder.rstrip('/')}/{name}")

    def _names(self, doing: str, call: Any, folder: str) -> list[str]:
        found = self._do(doing, call, folder)
        return [found.get_name(i) for i in range(found.count())]

    def info(self, path: str) -> FileInfo:
        """Size and time of a file; mostly known to the library without asking the body."""
        folder, _, name = path.rpartition("/")
        found = self._do(f"looking at {path}", self._camera.file_get_info, folder, name).file
        mtime = float(found.mtime) if found.fields & gp.GP_FILE_INFO_MTIME and found.mtime > 0 else None
        return FileInfo(int(found.size) if found.fields & gp.GP_FILE_INFO_SIZE else 0, mtime)

    def preview(self, path: str) -> bytes:
        """The small JPEG that belongs to a file."""
        file = self._get(f"fetching the small picture of {path}", path, gp.GP_FILE_TYPE_PREVIEW)
        return bytes(file.get_data_and_size())  # copied while the file lives, which owns the bytes

    def whole(self, path: str) -> tuple[memoryview, object]:
        """A whole file at once, which nothing can interrupt: its bytes, and what must live as long as they are used."""
        file = self._get(f"fetching {path}", path, gp.GP_FILE_TYPE_NORMAL)
        return memoryview(file.get_data_and_size()), file

    def _get(self, doing: str, path: str, kind: int) -> Any:
        folder, _, name = path.rpartition("/")
        return self._do(doing, self._camera.file_get, folder, name, kind, None)

    def delete(self, path: str) -> None:
        """Take a file off the card, for good."""
        folder, _, name = path.rpartition("/")
        self._do(f"deleting {path}", self._camera.file_delete, folder, name)

    def read(self, path: str, offset: int, into: memoryview) -> int:
        """Read a piece of a file from `offset`; gives how many bytes came, fewer than asked at its end."""
        folder, _, name = path.rpartition("/")
        doing = f"fetching {path}"
        return int(self._do(doing, self._camera.file_read, folder, name, gp.GP_FILE_TYPE_NORMAL, offset, into))


def of_exposure(text: str) -> bool:
    """Whether a change concerns the exposure: a Canon EOS tells of every frame less that fits. Unnamed, it may."""
    named = text.partition('"')[2].partition('"')[0]
    return not named or named in _EXPOSURE


def choices_of(widget: Any) -> list[str]:
    """The texts that a control can be set to; none for one that only shows a value."""
    if widget.get_type() not in (gp.GP_WIDGET_RADIO, gp.GP_WIDGET_MENU):
        return []
    return [str(text) for text in widget.get_choices()]
