"""A camera as the engine sees it: a process of its own, watched, killed where it hangs, and replaced."""

from __future__ import annotations

import asyncio
import contextlib
import itertools
import logging
import tempfile
import time
from collections.abc import AsyncGenerator
from contextlib import aclosing
from pathlib import Path

from controller.camera.address import parse_address
from controller.camera.choices import REFUSED_REMEDY, named, the_choice, told
from controller.camera.messages import (
    Alive,
    Answer,
    AskSettings,
    AskStatus,
    Cancel,
    CardFile,
    ChangeSetting,
    Close,
    Command,
    Fetch,
    Files,
    Gone,
    Hello,
    ListFiles,
    LiveImage,
    LookThrough,
    Missed,
    Opened,
    PauseFetching,
    Question,
    Release,
    Released,
    Report,
    Shown,
    Status,
    Trouble,
    Written,
)
from controller.camera.process import WorkerProcess
from controller.camera.protocol import Listener
from controller.camera.viewers import Viewers
from controller.camera.watch import REMEDY, Watch
from controller.camera.wire import VERSION, Message
from controller.words.errors import BadInput, CameraError, Conflict
from controller.words.settings import Setting, SettingNow

log = logging.getLogger(__name__)

_AGAIN_S = 2.0  # between processes, where the last one had no camera or did not live
_LIVED_S = 5.0
_WATCH_S = 0.25
_ANSWER_S = 60.0  # questions wait for a gap between releases
_STOP_S = 3.0


class CameraLink:
    """Implements protocol.Camera. `address` as in `parse_address`, which raises BadInput.

    `settings` is a directory for libgphoto2's own files; without one it gets a temporary one.
    """

    def __init__(self, address: str, *, id: str = "camera", settings: Path | None = None) -> None:
        self.id, self.address = id, parse_address(address)
        self.opened: Opened | None = None
        self.trouble: str | None = "connecting"
        self._listener: Listener | None = None
        self._reports: asyncio.Queue[Report | None] = asyncio.Queue()
        self._process: WorkerProcess | None = None
        self._watch = Watch(time.monotonic())
        self._questions: dict[int, asyncio.Future[Answer]] = {}
        self._numbers = itertools.count(1)
        self._settings = settings
        self._temporary: tempfile.TemporaryDirectory[str] | None = None
        self._known: Opened | None = None  # the camera that was open last
        self._held_open: set[int] = set()  # slots whose exposure is held open, until their file is there
        self._fatal: Trouble | None = None
        self._told: tuple[str, str] | None = None
        self._paused = False
        self._stopping = asyncio.Event()
        self._viewers = Viewers(id)
        self._tasks: list[asyncio.Task[None]] = []

    # ---- what the engine calls

    def listen(self, listener: Listener) -> None:
        """Reports go to `listener`, one at a time and in order; it may be set again."""
        self._listener = listener

    async def start(self) -> None:
        """Begin to connect; returns at once."""
        if self._settings is None:
            self._temporary = tempfile.TemporaryDirectory(prefix="duskhand-camera-")
            self._settings = Path(self._temporary.name)
        self._settings.mkdir(parents=True, exist_ok=True)
        self._stopping.clear()
        self.trouble = "connecting"
        self._tasks = [
            asyncio.create_task(self._pass_on(), name=f"camera {self.id} listener"),
            asyncio.create_task(self._supervise(), name=f"camera {self.id} supervisor"),
        ]

    async def release(self, order: Release) -> None:
        """Hand the order over, ahead of its time. Raises CameraError where there is no session."""
        watch = self._watch
        self._viewers.show(None)
        if self.opened is not None and self.opened.bulb and order.shutter_s > max(self.opened.shutter_s, default=0.0):
            self._held_open.add(order.seq)
        watch.ordered(order)  # before it is sent: the answer may come first
        try:
            await self._send(order)
        except CameraError:
            watch.answered(order.seq)
            raise

    async def cancel(self, seq: int) -> None:
        await self._send(Cancel(seq))

    async def fetch(self, seq: int, camera_file: str, directory: str, stem: str) -> None:
        await self._send(Fetch(seq, camera_file, directory, stem))

    async def pause_fetching(self, paused: bool) -> None:
        """Holds for later sessions too, and needs none."""
        self._paused = paused
        if self.opened is not None:
            await self._send(PauseFetching(paused))

    async def files(self) -> list[CardFile]:
        """The card's files. Raises CameraError."""
        number = next(self._numbers)
        answer = await self._ask(number, ListFiles(number))
        assert isinstance(answer, Files)
        return answer.files

    async def status(self) -> Status:
        """Battery and storage. Raises CameraError."""
        number = next(self._numbers)
        answer = await self._ask(number, AskStatus(number))
        assert isinstance(answer, Status)
        return answer

    async def settings(self) -> list[SettingNow]:
        """Every setting that the body has, read afresh between releases. Raises CameraError."""
        number = next(self._numbers)
        answer = await self._ask(number, AskSettings(number))
        assert isinstance(answer, Shown)
        return [told(shown) for shown in answer.settings]

    async def set(self, setting: Setting, value: str) -> SettingNow:
        """Set one of the body's settings between releases, and read it back.

        `value` is one of its choices, in any case, or a number that only one of them stands for. Raises BadInput where
        there is no such choice, Conflict where the body refuses, CameraError where it is not there.
        """
        number = next(self._numbers)
        answer = await self._ask(number, AskSettings(number, [setting]))
        assert isinstance(answer, Shown)
        if not answer.settings:
            what = f"this body has no control of its {named(setting)}"
            raise BadInput("no-such-setting", what, where=self.id, remedy="Set it on the camera itself")
        chosen = the_choice(told(answer.settings[0]), value, where=self.id)
        number = next(self._numbers)
        answer = await self._ask(number, ChangeSetting(number, setting, chosen))
        assert isinstance(answer, Shown)
        if answer.refusal:
            what = f"{named(setting)} could not be set to {chosen}: {answer.refusal}"
            remedy = REFUSED_REMEDY.get(setting, "Set it on the camera itself")
            raise Conflict("setting-refused", what, where=self.id, remedy=remedy)
        return told(answer.settings[0])

    async def live(self, per_s: float) -> AsyncGenerator[bytes]:
        """JPEGs of live view, at most so many a second, until a release or the end of the session ends it.

        Switched off on the body when the last one who looks is gone. Raises CameraError.
        """
        queue = self._viewers.join(per_s)
        try:
            await self._send(LookThrough(self._viewers.per_s))
            async with aclosing(self._viewers.pictures(queue)) as pictures:
                async for jpeg in pictures:
                    yield jpeg
        finally:
            if self._viewers.leave(queue):
                with contextlib.suppress(CameraError):
                    await self._send(LookThrough(self._viewers.per_s))

    async def stop(self) -> None:
        """Close the session and end the process, within 3 s in good order, by force after that."""
        if not self._tasks:
            return
        self._stopping.set()
        listener, supervisor = self._tasks
        if self._process is not None:
            with contextlib.suppress(OSError):
                await self._process.send(Close())
        done, _ = await asyncio.wait({supervisor}, timeout=_STOP_S)
        if not done and self._process is not None:
            self._process.kill()
        await supervisor
        self._reports.put_nowait(None)
        await listener
        self._tasks = []
        if self._temporary is not None:
            self._temporary.cleanup()
            self._temporary = self._settings = None

    # ---- speaking

    async def _send(self, command: Command) -> None:
        if self.opened is None or self._process is None:
            raise self._no_session()
        try:
            await self._process.send(command)
        except OSError as error:
            raise self._no_session() from error

    def _no_session(self) -> CameraError:
        return CameraError("no-camera", self.trouble or "the camera was just lost", where=self.id, retryable=True)

    async def _ask(self, number: int, question: Question) -> Answer:
        future: asyncio.Future[Answer] = asyncio.get_running_loop().create_future()
        self._questions[number] = future
        try:
            await self._send(question)
            return await asyncio.wait_for(future, _ANSWER_S + self._watch.longest_s)
        except TimeoutError:
            what = "the camera had no time to answer between releases"
            raise CameraError("camera-no-answer", what, where=self.id, retryable=True) from None
        finally:
            del self._questions[number]

    # ---- hearing

    def _take(self, message: Message) -> None:
        self._watch.heard(time.monotonic(), message.quiet_s if isinstance(message, Alive) else 0.0)
        match message:
            case Hello():
                if message.version != VERSION:
                    what = f"the camera process speaks version {message.version}, this service {VERSION}"
                    self._kill(Trouble("camera-process-version", what, "Start the service again", fatal=True))
                log.debug("%s: process %d, %s priority", self.id, message.pid, message.priority)
            case Files() | Status() | Shown():
                future = self._questions.get(message.request)
                if future is not None and not future.done():
                    future.set_result(message)
            case Trouble(fatal=True):
                self._fatal = message
            case Trouble() if self.opened is None:
                self._not_there(message)
            case LiveImage():
                self._viewers.show(message)
            case Alive():
                pass
            case _ if isinstance(message, Report):
                self._heard(message)

    def _heard(self, report: Report) -> None:
        if isinstance(report, Opened):
            self._opened(report)
            self._held_open.clear()
        elif isinstance(report, Written):
            self._held_open.discard(report.seq)
        elif isinstance(report, Released | Missed):
            self._watch.answered(report.seq)
            if isinstance(report, Missed):
                self._held_open.discard(report.seq)
        self._reports.put_nowait(report)

    def _opened(self, opened: Opened) -> None:
        self.opened = self._known = opened
        self.trouble = self._told = None
        self._watch.opened()
        if self._paused:
            self._pausing = asyncio.create_task(self._go_on_pausing())
        log.info("%s: %s at %s is open", self.id, opened.model, self.address)

    async def _go_on_pausing(self) -> None:
        with contextlib.suppress(CameraError):  # lost again: the next session is told
            await self._send(PauseFetching(True))

    def _not_there(self, trouble: Trouble) -> None:
        """No camera yet: tried every 2 s, told once."""
        self.trouble = f"{trouble.what}. {trouble.remedy}"
        if self._told != (trouble.code, trouble.what):
            self._told = (trouble.code, trouble.what)
            log.warning("%s: %s. Tried again until it is there", self.id, self.trouble.rstrip("."))
            self._reports.put_nowait(trouble)

    async def _pass_on(self) -> None:
        while (report := await self._reports.get()) is not None:
            if self._listener is None:
                continue
            try:
                await self._listener(report)
            except Exception:  # one report that cannot be taken up must not stop those after it
                log.exception("%s: %s was not taken up", self.id, type(report).__name__)

    # ---- keeping a process

    async def _supervise(self) -> None:
        while not self._stopping.is_set():
            begun, had_camera = time.monotonic(), False
            try:
                had_camera = await self._one_process()
            except Exception:  # whatever it was, the camera is wanted again
                log.exception("%s: its process could not be kept", self.id)
                self._lost(0)
            at_once = had_camera and time.monotonic() - begun > _LIVED_S
            if not at_once and not self._stopping.is_set():
                with contextlib.suppress(TimeoutError):
                    await asyncio.wait_for(self._stopping.wait(), _AGAIN_S)

    async def _one_process(self) -> bool:
        """From start to end of a process; whether it had a camera."""
        assert self._settings is not None
        self._fatal = None
        self._watch = Watch(time.monotonic())
        try:
            self._process = await WorkerProcess.start(
                self.id, self.address, self._known, self._settings, self._take, shutter_open=bool(self._held_open)
            )
        except OSError as error:
            what = f"no camera process could be started: {error}"
            self._not_there(Trouble("no-process", what, "Free some memory, or start the service again"))
            return False
        watching = asyncio.create_task(self._keep_watch(), name=f"camera {self.id} watch")
        try:
            if self._stopping.is_set():
                self._process.kill()
            status = await self._process.ended()
        finally:
            watching.cancel()
            await asyncio.wait({watching})
            await self._process.close()
            self._process = None
        return self._lost(status)

    async def _keep_watch(self) -> None:
        asked = time.monotonic()
        while True:
            await asyncio.sleep(_WATCH_S)
            now = time.monotonic()
            self._watch.slept_over(now - asked - _WATCH_S)
            asked = now
            wrong = self._watch.wrong(now)
            if wrong is not None:
                self._kill(wrong)
                return

    def _kill(self, why: Trouble) -> None:
        log.error("%s: %s; its process is killed", self.id, why.what)
        self._fatal = self._fatal or why
        if self._process is not None:
            self._process.kill()

    def _lost(self, status: int) -> bool:
        """A process has ended: tell what is known of it. Whether it had a camera."""
        had_camera, self.opened = self.opened is not None, None
        self._viewers.show(None)
        for future in self._questions.values():
            if not future.done():
                future.set_exception(self._no_session())
        fatal = self._fatal
        if fatal is None and had_camera and not self._stopping.is_set():
            fatal = Trouble("camera-process-ended", f"the camera process ended ({_ending(status)})", REMEDY)
        if fatal is None:
            return had_camera
        if not had_camera:
            self._not_there(fatal)
            return False
        self.trouble = f"{fatal.what}. {fatal.remedy}"
        log.warning("%s: %s", self.id, self.trouble)
        self._reports.put_nowait(Gone(fatal.code, fatal.what, fatal.remedy, self._watch.in_hand))
        return True


def _ending(status: int) -> str:
    return f"signal {-status}" if status < 0 else f"status {status}"
