"""Exposures longer than any on the dial: the shutter is opened, and closed again at its moment, by this process."""

from __future__ import annotations

import time

from controller.camera.messages import Release
from controller.camera.worker.exposure import Exposure
from controller.camera.worker.faults import Fault, Kind
from controller.camera.worker.session import Session
from controller.camera.worker.timing import AGAIN_S, wait_until

_BEYOND = 2 ** (1 / 6)  # half a third of a stop: anything nearer to the longest time is that time


class Bulb:
    """`closes_mono` is when the open shutter is to be closed, None while none is open."""

    def __init__(self) -> None:
        self.closes_mono: float | None = None

    def open(self, session: Session, order: Release) -> float:
        """Open the shutter for `order.exposure_s`; gives the moment when the body had taken it. Raises Fault."""
        session.hold_open(True)
        opened_mono = time.monotonic()
        self.closes_mono = opened_mono + order.exposure_s
        return opened_mono

    def close(self, session: Session) -> None:
        """Close it at its moment, or at once where that has passed; raises Fault, and may then be called again."""
        if self.closes_mono is not None:
            wait_until(self.closes_mono)
            session.hold_open(False)
            self.closes_mono = None

    def try_to_close(self, session: Session) -> None:
        """The same; a body that is busy is to be asked again at once, since the exposure runs on."""
        try:
            self.close(session)
        except Fault as fault:
            if fault.kind is not Kind.BUSY:
                raise Fault(fault.doing, fault.code, fault.reason, Kind.LOST) from None
            time.sleep(AGAIN_S)


def wanted(order: Release, exposure: Exposure) -> bool:
    """Whether the order asks for more than the dial has, of a body that can be held open."""
    longest_s = max(exposure.shutter.choices, default=0.0)
    return exposure.bulb and order.shutter_s > longest_s * _BEYOND
