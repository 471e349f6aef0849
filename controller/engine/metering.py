"""Metering for one shoot: through the body's own tone curve where it is known, which the shoot's pictures may teach."""

from __future__ import annotations

import asyncio
import logging
import math
import time
from collections import deque
from collections.abc import Awaitable, Callable, Collection, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from typing import TYPE_CHECKING, Protocol

import numpy as np

from controller.camera.messages import Opened, Preview
from controller.decide.health.pictures import Look, look
from controller.decide.meter import SRGB, Curve, Reading, meter
from controller.decide.response import STEP_EV, Learned, NotLearned, Shot, cells, from_steps
from controller.decide.step import Slot
from controller.engine.log import Log
from controller.engine.response_bracket import ResponseBracket
from controller.store.files import preview_path, write_atomic
from controller.store.tone_curves import UNKNOWN_STYLE, BodyKey, ToneCurve
from controller.words.errors import CameraError, StoreError

if TYPE_CHECKING:
    from controller.engine.run import ShootRun

log = logging.getLogger(__name__)

EVERY_CELL = 6
"""Of a shoot's pictures every so many cells are kept for learning, to be light on a small machine."""

SHOTS_KEPT = 300
_AROUND = 3  # frames before and after a step of exposure that are kept

BRACKET_ENDS_S = 10.0
"""Plan seconds before a window in which the bracket must not begin another picture."""

BRACKET_S = 90.0
"""Wall seconds that a bracket may take where the window is open already."""

LOOKS_KEPT, LOOKS_APART_S = 30, 4.0
"""Pictures of which it is remembered how sharp they are, and the wall seconds between two: enough to see a lens fog up,
and light on a small machine."""

KEEP_S = 0.25
"""Wall seconds for which a picture's way to the disk is waited for: what the camera tells next must not wait longer."""

KEEPING_AT_ONCE = 3
"""Pictures on their way to a disk that stands still; further ones are let go, for each of them holds a thread."""


def body_key(opened: Opened) -> BodyKey:
    """Whose curve it is."""
    return BodyKey(opened.model, opened.serial, opened.style or UNKNOWN_STYLE)


async def keep_curve(store: Log, body: BodyKey, learned: Learned, source: str, utc: float) -> None:
    """Write a learned curve for the next opening. Raises StoreError."""
    linear = tuple(float(value) for value in learned.curve.linear)
    await store.put_curve(body, ToneCurve(linear, learned.quality_ev, source, utc))


async def kept_curve(store: Log, body: BodyKey) -> Curve | None:
    """The curve of a body and style as it was learned, None where it was not. Raises StoreError."""
    kept = await store.curve(body)
    return None if kept is None else Curve(np.array(kept.linear, dtype=np.float32))


@cache
def _threads() -> ThreadPoolExecutor:
    """For pictures alone: what a camera tells next waits behind them, and a disk that stands still takes every other
    thread that the loop has, one for each who waits for it."""
    return ThreadPoolExecutor(2, thread_name_prefix="metering")


class Meter(Protocol):
    """What the engine asks of metering: pictures in, readings out."""

    @property
    def keeping(self) -> Collection[int]:
        """Slots whose picture is still on its way to the disk."""
        ...

    @property
    def looks(self) -> Sequence[Look]:
        """What the last pictures tell of the lens and what is before it, the newest last."""
        ...

    async def take(self, report: Preview, slot: Slot | None) -> Reading:
        """Meter the picture of a slot. Raises MeterError."""
        ...

    async def keep(self, report: Preview, late: Callable[[int, bool], Awaitable[None]]) -> bool:
        """Whether the picture is kept on the rig by now; the light rule does without.

        A slow disk is not waited for: where the picture is in `keeping` when this returns, `late` is called with its
        slot once it is known whether it could be kept.
        """
        ...

    async def learn_from_steps(self) -> None:
        """At the end of a window."""
        ...

    async def learn_from_bracket(self, start_utc: float) -> None:
        """Before a window that begins at `start_utc`, where the plan asks for it."""
        ...


class Metering:
    """Meters the pictures of one shoot; implements Meter.

    A curve is taken up when the body is first met, or from a bracket before the first slot. What the shoot's own steps
    teach is for the shoots after it: a change of curve in between would look like a change of light.
    """

    def __init__(self, run: ShootRun) -> None:
        self._run = run
        self.keeping: set[int] = set()
        self._tasks: set[asyncio.Task[None]] = set()
        self._body: BodyKey | None = None
        self._curve: Curve = SRGB
        self._shape: float | None = None  # of the picture, once bars have given it away
        self._recent: deque[Shot] = deque(maxlen=_AROUND)
        self._kept: list[Shot] = []
        self._last: Shot | None = None
        self._after = 0
        self.looks: deque[Look] = deque(maxlen=LOOKS_KEPT)
        self._looked_mono = -math.inf

    async def know_body(self) -> bool:
        """Take up the curve of the body that is there; whether one is known. A body met before keeps what it has."""
        opened = self._run.camera.opened
        if opened is not None and (body := body_key(opened)) != self._body:
            self._curve, self._shape = SRGB, None
            self._forget()
            try:
                self._curve = await kept_curve(self._run.book.store, body) or SRGB
            except StoreError as error:
                log.warning("the tone curve could not be read: %s", error)
            self._body = body
        return self._curve is not SRGB

    async def take(self, report: Preview, slot: Slot | None) -> Reading:
        """Meter the picture of a slot, in a thread; one picture at a time. Raises MeterError."""
        await self.know_body()
        return await asyncio.get_running_loop().run_in_executor(_threads(), self._read, report.jpeg, slot)

    async def keep(self, report: Preview, late: Callable[[int, bool], Awaitable[None]]) -> bool:
        """Whether the picture is written by now; see Meter."""
        seq = report.seq
        if len(self.keeping) >= KEEPING_AT_ONCE:
            log.warning("%s: preview %d was not kept: the disk does not keep up", self._run.shoot.id, seq)
            return False

        async def afterwards() -> None:
            try:
                kept = await writing
            finally:
                self.keeping.discard(seq)
            await late(seq, kept)

        writing = asyncio.create_task(self._write_picture(report))
        await asyncio.wait({writing}, timeout=KEEP_S)
        if writing.done():
            return writing.result()
        self.keeping.add(seq)
        task = asyncio.create_task(afterwards())
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        return False

    async def _write_picture(self, report: Preview) -> bool:
        path = self._run.directory / preview_path(self._run.shoot.id, report.seq, self._run.camera.id)
        try:
            await asyncio.to_thread(write_atomic, path, report.jpeg)
        except StoreError as error:
            log.warning("%s: preview %d was not kept: %s", self._run.shoot.id, report.seq, error)
            return False
        return True

    def _read(self, jpeg: bytes, slot: Slot | None) -> Reading:
        reading = meter(jpeg, self._curve, self._run.plan.light.metered_regions(), self._shape)
        self._shape = reading.shape or self._shape
        if slot is not None and len(self._kept) < SHOTS_KEPT:
            self._keep(Shot(cells(jpeg, self._shape, EVERY_CELL), slot.exposure.ev, slot.mid_utc, slot.sky_ev))
        if slot is not None and (mono := time.monotonic()) - self._looked_mono >= LOOKS_APART_S:
            self._looked_mono = mono
            self.looks.append(look(jpeg, reading, slot, self._curve))
        return reading

    def _keep(self, shot: Shot) -> None:
        """Pictures around steps of exposure; the others say nothing of the curve."""
        before, self._last = self._last, shot
        if before is not None and abs(shot.exposure_ev - before.exposure_ev) >= STEP_EV:
            self._kept.extend(self._recent)
            self._after = _AROUND + 1
        if self._after > 0:
            self._kept.append(shot)
            self._after -= 1
            self._recent.clear()
        else:
            self._recent.append(shot)

    def _forget(self) -> None:
        self._recent.clear()
        self._kept, self._last, self._after = [], None, 0

    # ---- learning

    async def learn_from_steps(self) -> None:
        """At the end of a window: keep the curve that the shoot's own steps give, where it is better."""
        shots = self._kept
        if self._body is None or not shots:
            return
        self._forget()
        try:
            found = await asyncio.to_thread(from_steps, shots, self._curve)
        except Exception:  # the shoot ends in good order without it
            log.exception("learning from steps failed")
            return
        if isinstance(found, NotLearned):
            log.info("no tone curve from this shoot's steps: %s", found.why)
            return
        if await self._write(found, "steps"):
            await self._note(found, f"from {len(shots)} frames of this shoot, for the shoots after it")

    async def learn_from_bracket(self, start_utc: float) -> None:
        """Where the plan asks for it and no curve is known: take a bracket, and use what it teaches at once.

        Over before the window starts, or within BRACKET_S where it has started.
        """
        run = self._run
        wall_s = BRACKET_S * run.clock.rate
        until = (
            run.clock.utc() + wall_s if run.clock.utc() >= start_utc - BRACKET_ENDS_S else start_utc - BRACKET_ENDS_S
        )

        def go_on() -> bool:
            return run.clock.utc() < until and run.stop_cause is None and not run.held

        while run.camera.opened is None and go_on():
            await run.waker.until(run.clock.mono() + run.clock.rate)
        if not go_on() or await self.know_body():
            return
        beside = run.reports.beside
        before = len(beside.files)
        bracket = ResponseBracket(run.camera, beside)
        found: Learned | NotLearned
        beside.looking = True
        try:
            found = await bracket.learn(self._curve, go_on)
        except CameraError as error:
            found = NotLearned(str(error))
        except Exception as error:  # a curve is worth no frame
            log.exception("the bracket failed")
            found = NotLearned(f"internal trouble: {error or type(error).__name__}")
        finally:
            beside.looking = False
        files = beside.files[before:]
        if isinstance(found, NotLearned):
            text = f"no tone curve from a bracket of {bracket.taken} frames: {found.why}; sRGB is used"
            await run.book.note("tone-curve", text, run.clock.utc(), frames=bracket.taken, files=files)
        else:
            self._curve = found.curve
            await self._write(found, "bracket")
            how = f"from a bracket of {bracket.taken} frames, which stay on the card"
            await self._note(found, how, frames=bracket.taken, files=files)

    async def _write(self, found: Learned, source: str) -> bool:
        assert self._body is not None
        try:
            await keep_curve(self._run.book.store, self._body, found, source, self._run.clock.utc())
        except StoreError as error:
            log.warning("the tone curve could not be kept: %s", error)
            return False
        return True

    async def _note(self, found: Learned, how: str, **more: object) -> None:
        assert self._body is not None
        text = f"the tone curve of {self._body.model}, picture style {self._body.style}, is known: {how}"
        facts = {"quality_ev": found.quality_ev, "residual_ev": found.residual_ev, "before_ev": found.before_ev}
        await self._run.book.note(
            "tone-curve", text, self._run.clock.utc(), **{k: round(v, 4) for k, v in facts.items()}, **more
        )
