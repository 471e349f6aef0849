"""Taking a file off the card: it is read whole in gaps, and goes only where it is, byte for byte, what was copied."""

from __future__ import annotations

import hashlib
import time

from controller.camera.messages import Erase, Erased
from controller.camera.worker.faults import Fault, Kind, plain
from controller.camera.worker.session import Session

_PIECE = 1 << 17
_CALL_S = 0.002
_NOT_THERE = (-107, -108)  # no such directory, no such file: gphoto2-result.h of libgphoto2 2.5.34


class Erasing:
    """One file. `step` until it gives the answer."""

    rate = 1e6  # bytes/s, as far as it is known of this body
    delete_s = 0.5  # what the call takes that deletes, in the same way

    def __init__(self, order: Erase) -> None:
        self._order = order
        self._buffer = memoryview(bytearray(_PIECE))
        self._digest = hashlib.sha256()
        self._offset = 0
        self._read = False

    @property
    def cost_s(self) -> float:
        """Seconds that the next step takes."""
        return self.delete_s if self._read else _CALL_S + 1.4 * _PIECE / self.rate

    def step(self, session: Session) -> Erased | None:
        """Read a piece more, or delete it. Raises Fault if the body is busy or lost: then it goes on from there."""
        begun = time.monotonic()
        try:
            if self._read:
                session.delete(self._order.path)
                Erasing.delete_s = max(time.monotonic() - begun, 0.7 * self.delete_s)
                return self._answer()
            if self._offset == 0:
                session.info(self._order.path)  # tells by its code that no such file is there; reading does not
            came = session.read(self._order.path, self._offset, self._buffer)
        except Fault as fault:
            if fault.kind in (Kind.LOST, Kind.BUSY):
                raise
            if fault.kind is Kind.UNSUPPORTED:
                return self._answer("the camera gives no parts of a file, or deletes none")
            return self._answer(plain(fault.reason) or str(fault), gone=fault.code in _NOT_THERE)
        took_s = time.monotonic() - begun
        if came == _PIECE:
            Erasing.rate += 0.3 * (came / max(took_s, 1e-4) - self.rate)
        self._digest.update(self._buffer[:came])
        self._offset += came
        if came < _PIECE:
            self._read = True
            if self._digest.hexdigest() != self._order.sha256:
                return self._answer("the file on the card is another one than was copied")
        return None

    def _answer(self, refusal: str = "", *, gone: bool = False) -> Erased:
        return Erased(self._order.request, refusal, gone)
