"""The rig's time: judged when it starts, told by a person where the machine does not know it, and kept over restarts.

The machine's clock is never set from here: the service holds no privilege for it. What a person tells is held against
the clock that never steps, until the network has set the machine's: docs/decisions/0012.
"""

from __future__ import annotations

import asyncio
import json
import logging
from collections.abc import Callable
from pathlib import Path

from controller.decide.clock_trust import MADE_UTC, PATIENCE_S, ClockFacts, Judged, judge
from controller.engine.facts import machine
from controller.store.files import write_atomic
from controller.words.clock import Clock, WallClock
from controller.words.documents import ClockState, KeptBy, RigClock
from controller.words.errors import BadInput, Conflict, StoreError

log = logging.getLogger(__name__)

FILE = "clock.json"
LOOK_EVERY_S, KEEP_EVERY_S = 10.0, 600.0
_FAR_UTC = MADE_UTC + 100 * 365.25 * 86_400.0
_STEP_S = 1.0
_TOLD = (KeptBy.PHONE, KeptBy.CAMERA)


class RigTime:
    """What the rig knows of its clock. Clocks of demos and tests are right. `changed` is called when that changes.

    Files of the machine are looked for below `root`.
    """

    def __init__(self, clock: Clock, directory: Path, changed: Callable[[], object], root: Path = Path("/")) -> None:
        self._clock = clock if isinstance(clock, WallClock) else None
        self._any, self._path, self._root = clock, directory / FILE, root
        self._changed = changed
        self._judged = Judged(ClockState.RIGHT)
        self._known_utc: float | None = None
        self._kept_mono = -KEEP_EVERY_S
        self._offset = 0.0
        self.unread: str | None = None  # why what was written down could not be taken up

    # ---- what is

    def now(self) -> RigClock:
        """The rig's time, and what is known of it."""
        told = self._judged
        waits = self.unset() is not None
        return RigClock(utc=self._any.utc(), state=told.state, kept_by=told.kept_by, why=told.why, windows_wait=waits)

    @property
    def sure(self) -> bool:
        """Somebody keeps it right."""
        return self._judged.kept_by is not None

    def unset(self) -> str | None:
        """Why planned windows wait: it is not known what time it is. None where they need not wait."""
        state = self._judged.state
        if state is ClockState.RIGHT or (state is ClockState.UNSURE and self._any.awake() >= PATIENCE_S):
            return None
        return (
            f"the rig does not know what time it is: {self._judged.why}. Planned windows wait. Take your phone's time "
            "on the page"
        )

    def attention(self) -> str | None:
        """What a person is told of it."""
        if self._judged.state is ClockState.RIGHT:
            return None
        if (waits := self.unset()) is not None:
            return waits[0].upper() + waits[1:]
        return (
            f"The rig does not know for sure what time it is: {self._judged.why}. Planned windows go by its guess, and "
            "may begin at the wrong time. Take your phone's time on the page"
        )

    # ---- told by a person

    async def tell(self, utc: float, by: KeptBy) -> RigClock:
        """Take the time from a person's phone, or a camera. Raises BadInput (bad-time), Conflict (clock-kept)."""
        if not MADE_UTC <= utc <= _FAR_UTC:
            remedy = "Set the clock there first"
            raise BadInput("bad-time", "it cannot be that time", f"the {by}'s clock", remedy)
        if self._clock is None or self._judged.kept_by is KeptBy.NETWORK:
            what = "the network keeps this clock right" if self._clock is not None else "this clock is a demo's"
            raise Conflict("clock-kept", what, "the rig's clock", "Leave it so")
        log.warning("the rig's clock is told the time by the %s", by)
        self._clock.tell(utc)
        self._judged = Judged(ClockState.RIGHT, by)
        self._changed()
        self._known_utc = utc
        await self._keep()
        return self.now()

    # ---- looking

    async def open(self) -> None:
        """Judge the machine's clock; a time that was told since the machine was started still holds."""
        if self._clock is None:
            return
        kept, self.unread = _read(self._path)
        self._known_utc = _number(kept.get("known_utc"))
        told, boot = _number(kept.get("told_s")), machine.boot_id(self._root)
        self._offset = self._clock.machine_utc() - self._clock.awake()
        facts = await self._facts()
        if told is not None and boot is not None and kept.get("boot_id") == boot and not facts.synchronised:
            self._clock.tell(self._clock.awake() + told)
            by = KeptBy.CAMERA if kept.get("by") == KeptBy.CAMERA else KeptBy.PHONE
            self._judged = Judged(ClockState.RIGHT, by)
        else:
            self._take(judge(facts))
        await self._keep()

    async def look(self) -> None:
        """Look again, where that can change anything; keep the time now and then."""
        if self._clock is None:
            return
        right = self._judged.state is ClockState.RIGHT
        if not right or self._judged.kept_by in (*_TOLD, KeptBy.HAND):
            facts = await self._facts()
            if not right or facts.synchronised:
                self._take(judge(facts))
        if self._clock.awake() - self._kept_mono >= KEEP_EVERY_S:
            await self._keep()

    async def close(self) -> None:
        """Write down until when the time is known."""
        if self._clock is not None:
            await self._keep()

    async def _facts(self) -> ClockFacts:
        clock, root = self._clock, self._root
        assert clock is not None
        synchronised = await asyncio.to_thread(machine.synchronised, root)
        utc = clock.machine_utc()
        offset = utc - clock.awake()
        by_hand, self._offset = abs(offset - self._offset) >= _STEP_S, offset
        off_s = machine.battery_off_s(utc, root)
        return ClockFacts(utc, self._known_utc, synchronised, off_s, by_hand)

    def _take(self, judged: Judged) -> None:
        assert self._clock is not None
        before = self._judged
        if judged.state is ClockState.RIGHT:
            self._clock.tell(None)
        elif before.state is ClockState.UNSURE and before.from_utc is not None:
            return  # time goes on from there until something sets the clock
        elif judged.from_utc is not None:
            self._clock.tell(judged.from_utc)
        self._set(judged)

    def _set(self, judged: Judged) -> None:
        before, self._judged = self._judged, judged
        if (before.state, before.kept_by) != (judged.state, judged.kept_by):
            why = f": {judged.why}" if judged.why else ""
            log.info("the rig's clock is %s, kept by %s%s", judged.state, judged.kept_by or "nobody known", why)
            self._changed()

    async def _keep(self) -> None:
        """Write down what is known; a clock that is wrong teaches nothing."""
        clock = self._clock
        assert clock is not None
        self._kept_mono = clock.awake()
        if self._judged.state is not ClockState.WRONG:
            self._known_utc = clock.utc()
        document: dict[str, object] = {"known_utc": self._known_utc}
        if self._judged.kept_by in _TOLD:
            told_s = clock.utc() - clock.awake()
            document |= {"boot_id": machine.boot_id(self._root), "told_s": told_s, "by": self._judged.kept_by}
        try:
            await asyncio.to_thread(write_atomic, self._path, json.dumps(document).encode())
        except StoreError as error:
            log.warning("the time is not written down: %s", error)


def _read(path: Path) -> tuple[dict[str, object], str | None]:
    """What was written down; nothing of it where it cannot be read, and why."""
    try:
        kept = json.loads(path.read_bytes())
        if not isinstance(kept, dict):
            raise ValueError("it holds no table")
    except FileNotFoundError:
        return {}, None
    except (OSError, ValueError, RecursionError) as error:
        return {}, f"{path} cannot be read, and until when the rig knew the time is forgotten: {error!r}"
    return kept, None


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and abs(value) < 1e11 else None
