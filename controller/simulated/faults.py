"""Misbehaviour: what stands between a request and its answer, by the script or by word from the control port."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

from controller.simulated.body import Body, Refused
from controller.simulated.canon import FULLY
from controller.simulated.ptp import Operation, Response
from controller.simulated.script import FLAWS, Fault, Step, play
from controller.simulated.sleeping import Sleep

RELEASES = frozenset(
    {
        Operation.INITIATE_CAPTURE,
        Operation.INITIATE_OPEN_CAPTURE,
        Operation.NIKON_CAPTURE_TO_MEDIA,
        Operation.CANON_REMOTE_RELEASE_ON,
        Operation.CANON_BULB_START,
    }
)
_PRESSES = frozenset({Operation.CANON_REMOTE_RELEASE_ON, Operation.CANON_REMOTE_RELEASE_OFF})
_KEPT = 100
_SETS = frozenset({Operation.SET_DEVICE_PROP_VALUE, Operation.CANON_SET_PROP_VALUE})
#: Short names for what can be refused; any operation's own name in lower case serves too.
OPERATIONS: dict[str, frozenset[int]] = {
    "release": RELEASES,
    "set": _SETS,
    "get": frozenset({Operation.GET_DEVICE_PROP_VALUE}),
    "describe": frozenset({Operation.GET_DEVICE_PROP_DESC}),
    "thumb": frozenset({Operation.GET_THUMB}),
    "file": frozenset({Operation.GET_OBJECT}),
    "list": frozenset({Operation.GET_OBJECT_HANDLES}),
    "storage": frozenset({Operation.GET_STORAGE_INFO}),
    "open": frozenset({Operation.OPEN_SESSION}),
}


class Unanswered(Exception):
    """The camera says nothing to this request."""


class Cut(Exception):
    """The connection ends in place of an answer."""


@dataclass
class Refusal:
    """`params`: only a request with these first parameters is meant."""

    operations: frozenset[int]
    code: int
    times: int
    params: tuple[int, ...]


def response_code(text: str) -> int:
    """A PTP response by its name or in hexadecimal; raises ValueError."""
    try:
        return int(Response[text.upper()])
    except KeyError:
        pass
    try:
        code = int(text, 16)
    except ValueError as error:
        names = " ".join(r.name.lower() for r in Response)
        raise ValueError(f"'{text}' is no PTP response: use hexadecimal or one of {names}") from error
    if not 0x2000 <= code <= 0x3FFF and not 0xA000 <= code <= 0xAFFF:
        raise ValueError(f"'{text}' is no PTP response: they are 2000…3fff and a000…afff")
    return code


def operation_codes(text: str) -> frozenset[int]:
    """Operations by a short name, or one by its own; raises ValueError."""
    if text in OPERATIONS:
        return OPERATIONS[text]
    try:
        return frozenset({Operation[text.upper()]})
    except KeyError as error:
        raise ValueError(f"'{text}' is no operation: use one of {' '.join(OPERATIONS)}") from error


class Faults:
    """Thread-safe for one session at a time; the server hangs itself in as `drop`, `stop_listening`, `listen`."""

    def __init__(self, body: Body, script: str = "") -> None:
        self._body = body
        self._lock = threading.RLock()
        self._steps = play(script)
        self._silent_until = self._busy_until = 0.0
        self._refusals: list[Refusal] = []
        self._timers: list[threading.Timer] = []
        self.pressed: deque[tuple[str | int, ...]] = deque(maxlen=_KEPT)  # requests that release or end a release
        self.drop: Callable[[], None] = lambda: None
        self.stop_listening: Callable[[], None] = lambda: None
        self.listen: Callable[[], None] = lambda: None
        self.sleep = Sleep(lambda: body.exposed_until, lambda: self.drop())

    def script(self, text: str) -> None:
        """Put a new script in place of what is left of the old one; raises ValueError."""
        steps = play(text)
        with self._lock:
            self._steps = steps

    def refuse(self, operation: str, code: str, times: int, params: tuple[int, ...] = ()) -> None:
        refusal = Refusal(operation_codes(operation), response_code(code), times, params)
        with self._lock:
            self._refusals.append(refusal)

    def silent(self) -> bool:
        return time.monotonic() < self._silent_until

    # ---- around one request

    def before(self, operation: int, params: tuple[int, ...] = ()) -> Step:
        """What is planned for a release, () for other requests; raises Unanswered or Refused."""
        releases = operation in RELEASES
        if operation == Operation.CANON_REMOTE_RELEASE_ON:  # half a press releases nothing
            releases = bool(params and params[0] & FULLY)
        if releases or operation in _PRESSES:
            self.pressed.append((Operation(operation).name.lower(), *params))
        with self._lock:
            now = time.monotonic()
            if now < self._silent_until:
                raise Unanswered
            wait_s = self.sleep.request(operation, operation in RELEASES)
            if wait_s is None:
                self._silent_until = max(self._silent_until, self.sleep.waking_until)
                raise Unanswered
        if wait_s:
            time.sleep(wait_s)
            now += wait_s
        with self._lock:
            for refusal in self._refusals:
                meant = operation in refusal.operations and params[: len(refusal.params)] == refusal.params
                if meant and refusal.times > 0:
                    refusal.times -= 1
                    raise Refused(refusal.code)
            if (releases or operation in _SETS) and now < self._busy_until:
                raise Refused(Response.DEVICE_BUSY)
            if not releases:
                return ()
            step = next(self._steps)
        for fault in step:
            if fault.name == "deaf":
                self.silence(fault.number())
                raise Unanswered
            if fault.name == "refuse":
                raise Refused(response_code(fault.args[0]))
            if fault.name in ("full", "free", "battery"):
                self.apply(fault)
        return step

    def instead_of_answer(self, step: Step) -> None:
        """Raises Unanswered or Cut, or holds the answer back."""
        for fault in step:
            if fault.name == "mute":
                self.silence(fault.number())
                raise Unanswered
            if fault.name == "cut":
                raise Cut
            if fault.name == "late":
                time.sleep(fault.number())

    def after_answer(self, step: Step) -> None:
        for fault in step:
            if fault.name in ("drop", "gone", "busy", "sleep", "doze", "leave"):
                self.apply(fault)

    @staticmethod
    def flaws(step: Step) -> frozenset[str]:
        return frozenset(fault.name for fault in step) & FLAWS

    # ---- single faults

    def silence(self, seconds: float) -> None:
        with self._lock:
            self._silent_until = time.monotonic() + seconds

    def apply(self, fault: Fault) -> None:
        """Make a fault happen now; raises ValueError for those that belong to a release or a frame."""
        match fault.name:
            case "mute" | "deaf":
                self.silence(fault.number())
            case "drop" | "cut":
                self.drop()
            case "gone":
                self.stop_listening()
                self.drop()
                self._later(fault.number(), self.listen)
            case "busy":
                self._busy_until = time.monotonic() + fault.number()
            case "sleep" | "doze" | "leave":
                self.sleep.begin(fault.name, fault.number(0), fault.number(1))
            case "battery":
                self._body.battery.set(fault.number(), self._body.clock.utc())
            case "full" | "free":
                self._body.card.fill = fault.name == "full"
            case "ok":
                self._silent_until = self._busy_until = 0.0
                self.sleep.end()
                self._refusals.clear()
            case _:
                raise ValueError(f"'{fault.name}' belongs to a frame: put it into the script")

    def _later(self, seconds: float, action: Callable[[], None]) -> None:
        timer = threading.Timer(seconds, action)
        timer.daemon = True
        self._timers.append(timer)
        timer.start()

    def stop(self) -> None:
        self.sleep.end()
        for timer in self._timers:
            timer.cancel()
