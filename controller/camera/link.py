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
from controller.camera.choices import REFUSED_REMEDY, as_clock_runs, named, the_choice, told, with_clock
from controller.camera.keeper import Keeper
from controller.camera.messages import (
    Alive,
    Answer,
    AskSettings,
    AskStatus,
    Cancel,
    CardFile,
    ChangeSetting,
    Command,
    Erase,
    Erased,
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
from controller.camera.power import PowerCycle
from controller.camera.process import WorkerProcess
from controller.camera.protocol import CONNECTING, Listener
from controller.camera.viewers import Viewers
from controller.camera.wire import VERSION, Message
from controller.words.errors import BadInput, CameraError, Conflict
from controller.words.phrases import with_remedy
from controller.words.settings import Setting, SettingNow

log = logging.getLogger(__name__)

_ANSWER_S = 60.0  # questions wait for a gap between releases
_ERASE_S = 900.0  # a file is read whole in gaps before


class CameraLink:
    """Implements protocol.Camera. `address` as in `parse_address`, which raises BadInput.

    `settings` is a directory for libgphoto2's own files; without one it gets a temporary one. `power` takes the
    camera's power away for a moment, where nothing else has helped.
    """

    def __init__(
        self, address: str, *, id: str = "camera", settings: Path | None = None, power: PowerCycle | None = None
    ) -> None:
        self.id, self.address = id, parse_address(address)
        self.opened: Opened | None = None
        self.trouble: str | None = CONNECTING
        self._listener: Listener | None = None
        self._reports: asyncio.Queue[Report | None] = asyncio.Queue()
        self._questions: dict[int, asyncio.Future[Answer]] = {}
        self._numbers = itertools.count(1)
        self._settings = settings
        self._temporary: tempfile.TemporaryDirectory[str] | None = None
        self._told: tuple[str, str] | None = None
        self._paused = False
        self._viewers = Viewers(id)
        self._passing: asyncio.Task[None] | None = None
        self._keeper = Keeper(self, self._reports.put_nowait, power)

    @property
    def _process(self) -> WorkerProcess | None:
        return self._keeper.process

    @property
    def kept(self) -> bool:
        """Whether the camera is looked after, there or not."""
        return self._keeper.at_work

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
        self.trouble = CONNECTING
        self._passing = asyncio.create_task(self._pass_on(), name=f"camera {self.id} listener")
        self._keeper.start(self._settings)

    def session(self) -> Opened:
        """The camera that is open. Raises CameraError where none is."""
        if self.opened is None:
            raise self._no_session()
        return self.opened

    async def release(self, order: Release) -> None:
        """Hand the order over, ahead of its time. Raises CameraError where there is no session."""
        watch = self._keeper.watch
        self._viewers.show(None)
        if self.opened is not None and self.opened.bulb and order.shutter_s > max(self.opened.shutter_s, default=0.0):
            self._keeper.held_open.add(order.seq)
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

    async def files(self, fresh: bool = False) -> list[CardFile]:
        """The card's files, `fresh` as a new session sees them, which needs a gap. Raises CameraError."""
        number = next(self._numbers)
        answer = await self._ask(number, ListFiles(number, fresh))
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

    async def set(self, setting: Setting, value: str, ahead_s: float = 0.0) -> SettingNow:
        """Set one of the body's settings between releases, and read it back.

        `value` is one of its choices, in any case, or a number that only one of them stands for; `ahead_s`, of its
        clock, by how much the rig's is ahead of the machine's. Raises BadInput where there is no such choice, Conflict
        where the body refuses, CameraError where it is not there.
        """
        number = next(self._numbers)
        answer = await self._ask(number, AskSettings(number, [setting]))
        assert isinstance(answer, Shown)
        if not answer.settings:
            what = f"this body has no control of its {named(setting)}"
            raise BadInput("no-such-setting", what, where=self.id, remedy="Set it on the camera itself")
        chosen = the_choice(told(answer.settings[0]), value, where=self.id)
        number = next(self._numbers)
        answer = await self._ask(number, ChangeSetting(number, setting, chosen, ahead_s))
        assert isinstance(answer, Shown)
        if answer.refusal:
            what = f"{named(setting)} could not be set to {chosen}: {answer.refusal}"
            remedy = REFUSED_REMEDY.get(setting, "Set it on the camera itself")
            raise Conflict("setting-refused", what, where=self.id, remedy=remedy)
        return told(answer.settings[0])

    async def erase(self, path: str, sha256: str) -> Erased:
        """Delete a file of the card, if what is read of it there has this SHA-256; what came of it.

        Raises CameraError: then it is not known whether the file is still there.
        """
        number = next(self._numbers)
        answer = await self._ask(number, Erase(number, path, sha256), _ERASE_S)
        assert isinstance(answer, Erased)
        return answer

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
        if self._passing is None:
            return
        await self._keeper.stop()
        self._reports.put_nowait(None)
        await self._passing
        self._passing = None
        if self._temporary is not None:
            self._temporary.cleanup()
            self._temporary = self._settings = None

    # ---- speaking

    async def _send(self, command: Command) -> None:
        process = self._keeper.process
        if self.opened is None or process is None:
            raise self._no_session()
        try:
            await process.send(command)
        except OSError as error:
            raise self._no_session() from error

    def _no_session(self) -> CameraError:
        return CameraError("no-camera", self.trouble or "the camera was just lost", where=self.id, retryable=True)

    async def _ask(self, number: int, question: Question, patience_s: float = _ANSWER_S) -> Answer:
        future: asyncio.Future[Answer] = asyncio.get_running_loop().create_future()
        self._questions[number] = future
        try:
            await self._send(question)
            return await asyncio.wait_for(future, patience_s + self._keeper.watch.longest_s)
        except TimeoutError:
            what = "the camera had no time to answer between releases"
            raise CameraError("camera-no-answer", what, where=self.id, retryable=True) from None
        finally:
            del self._questions[number]

    # ---- hearing

    def take(self, message: Message) -> None:
        """What the process says."""
        self._keeper.watch.heard(time.monotonic(), message.quiet_s if isinstance(message, Alive) else 0.0)
        match message:
            case Hello():
                if message.version != VERSION:
                    what = f"the camera process speaks version {message.version}, this service {VERSION}"
                    self._keeper.kill(Trouble("camera-process-version", what, "Start the service again", fatal=True))
                log.debug("%s: process %d, %s priority", self.id, message.pid, message.priority)
            case Files() | Status() | Shown() | Erased():
                if isinstance(message, Shown) and self.opened is not None:
                    self.opened = with_clock(self.opened, message, time.monotonic())
                    message = as_clock_runs(self.opened, message, time.monotonic())
                if isinstance(message, Files):
                    self._reports.put_nowait(message)  # after the frames whose files are in it have been taken up
                else:
                    self._answer(message)
            case Trouble(fatal=True) if self.opened is not None:
                self.gone(message)
                self._keeper.go_on(message)
            case Trouble() if self.opened is None:
                self.absent(message)
                self._keeper.go_on(message)
            case LiveImage():
                self._viewers.show(message)
            case Alive():
                pass
            case _ if isinstance(message, Report):
                self._heard(message)

    def _answer(self, answer: Answer) -> None:
        future = self._questions.get(answer.request)
        if future is not None and not future.done():
            future.set_result(answer)

    def _heard(self, report: Report) -> None:
        if isinstance(report, Opened):
            self._opened(report)
            self._keeper.held_open.clear()
        elif isinstance(report, Written):
            self._keeper.held_open.discard(report.seq)
        elif isinstance(report, Released | Missed):
            self._keeper.watch.answered(report.seq)
            if isinstance(report, Missed):
                self._keeper.held_open.discard(report.seq)
        self._reports.put_nowait(report)

    def _opened(self, opened: Opened) -> None:
        self.opened = self._keeper.known = opened
        self.trouble = self._told = None
        self._keeper.there()
        if self._paused:
            self._pausing = asyncio.create_task(self._go_on_pausing())
        log.info("%s: %s at %s is open", self.id, opened.model, self.address)

    async def _go_on_pausing(self) -> None:
        with contextlib.suppress(CameraError):  # lost again: the next session is told
            await self._send(PauseFetching(True))

    def absent(self, trouble: Trouble) -> None:
        """No camera yet: tried again and again, told once."""
        self.trouble = with_remedy(trouble.what, trouble.remedy)
        if self._told != (trouble.code, trouble.what):
            self._told = (trouble.code, trouble.what)
            log.warning("%s: %s", self.id, with_remedy(self.trouble, "Tried again until it is there"))
            self._reports.put_nowait(trouble)

    async def _pass_on(self) -> None:
        while (report := await self._reports.get()) is not None:
            if isinstance(report, Files):
                self._answer(report)
                continue
            if self._listener is None:
                continue
            try:
                await self._listener(report)
            except Exception:  # one report that cannot be taken up must not stop those after it
                log.exception("%s: %s was not taken up", self.id, type(report).__name__)

    def gone(self, trouble: Trouble | None) -> None:
        """The session is lost, or the process has ended: tell what is known of it."""
        had_camera, self.opened = self.opened is not None, None
        self._viewers.show(None)
        for future in self._questions.values():
            if not future.done():
                future.set_exception(self._no_session())
        if trouble is None:
            return
        if not had_camera:
            self.absent(trouble)
            return
        self.trouble = with_remedy(trouble.what, trouble.remedy)
        log.warning("%s: %s", self.id, self.trouble)
        in_hand = self._keeper.watch.in_hand
        self._keeper.lost()
        self._reports.put_nowait(Gone(trouble.code, trouble.what, trouble.remedy, in_hand))
