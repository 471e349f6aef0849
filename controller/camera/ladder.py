"""The way back to a camera that does not answer as it should: what is tried next, and after how long. Pure.

The order is from what costs least to what costs most. What is known of the cause leaves steps out: nothing can be reset
where nothing is attached, and a camera that another program holds is not taken from it by force.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum


class Rung(StrEnum):
    """What can be tried, in words that stand in notes."""

    DRAIN = "its events are heard and it is asked again"
    SESSION = "new session"
    PORT = "reset of the USB port, and new session"
    PROCESS = "new camera process"
    POWER = "power taken from the camera and given back, and new camera process"


class Cause(StrEnum):
    BUSY = "busy"  # the session stands, and the body will not
    LOST = "lost"  # the session is gone or out of step
    ABSENT = "absent"  # nothing at the address, or under another number
    CLAIMED = "claimed"  # another program has it
    UNOPENED = "unopened"  # it is there and no session comes about
    ENDED = "ended"  # its process broke, or was killed since it was mute


@dataclass(frozen=True, slots=True)
class Move:
    """What to try, in how many seconds."""

    rung: Rung
    wait_s: float


STEPS: dict[Cause, tuple[Rung, ...]] = {
    Cause.BUSY: (Rung.DRAIN,),
    Cause.LOST: (Rung.SESSION, Rung.SESSION, Rung.PORT, Rung.SESSION, Rung.PROCESS),
    Cause.ABSENT: (*[Rung.SESSION] * 14, Rung.PROCESS),
    Cause.CLAIMED: (*[Rung.SESSION] * 14, Rung.PROCESS),
    Cause.UNOPENED: (Rung.SESSION, Rung.PORT, Rung.SESSION, Rung.SESSION, Rung.PROCESS),
    Cause.ENDED: (Rung.PROCESS,),
}
"""By cause, the steps of one camera process in their order; the last one leads to the next process, and around again.

Looking for cameras leaks a little in libgphoto2 2.5, as does a camera that does not answer the opening, so that no
process tries for ever.
"""

AGAIN_S = 2.0
"""Between steps, but for the first after a session that stood: that one is made at once."""

BUSY_S = 60.0
"""Beyond twice the exposure, since some bodies take a dark frame: who is busy for longer needs a new session."""

POWER_AFTER_S, POWER_EVERY_S = 60.0, 600.0
"""After so many seconds of trying in vain the power is cut, and not again for so long."""

POWER_CLEAR_S = 10.0
"""No release of any camera of the rig may be due within so many seconds of a cut: a hub may feed several."""

_CODES = {"camera-lost": Cause.LOST, "camera-absent": Cause.ABSENT, "camera-claimed": Cause.CLAIMED}


def cause_of(code: str) -> Cause:
    """The cause that a trouble's code stands for."""
    return _CODES.get(code, Cause.UNOPENED)


def next_move(cause: Cause, tried: Sequence[Rung], *, usb: bool, power: bool) -> Move:
    """What is tried next. `tried` since the loss; `power`: cutting it is configured, due and harmless now."""
    begun = max((i for i, rung in enumerate(tried) if rung in (Rung.PROCESS, Rung.POWER)), default=-1)
    here = len(tried) - begun - 1
    steps = [rung for rung in STEPS[cause] if usb or rung is not Rung.PORT]
    rung = steps[min(here, len(steps) - 1)]
    if rung is Rung.PROCESS and power and cause is not Cause.CLAIMED:
        rung = Rung.POWER
    at_once = not tried and cause in (Cause.LOST, Cause.ENDED)
    return Move(rung, 0.0 if at_once else AGAIN_S)


def power_due(lost_s: float, since_last_s: float, clear_s: float) -> bool:
    """Whether a cut is due and harmless, by seconds since the loss, since the last cut, and to the next release."""
    return lost_s >= POWER_AFTER_S and since_last_s >= POWER_EVERY_S and clear_s > POWER_CLEAR_S


def when_busy(busy_s: float, exposure_s: float) -> Rung:
    """What helps a body that has answered 'busy' for so long after an exposure."""
    return Rung.SESSION if busy_s > BUSY_S + 2 * exposure_s else STEPS[Cause.BUSY][0]
