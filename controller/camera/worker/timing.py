"""Waiting for an exact moment, and knowing how long a thing takes before it is begun."""

from __future__ import annotations

import time

READ_TRIES, READ_AGAIN_S = 5, 0.03
"""Looks at a control after it was set: some bodies show a new value a moment after they took it."""

AGAIN_S = 0.02
"""Between tries while the camera is busy."""

_SPIN_S = 0.0008  # a sleep may run over by scheduling; the last stretch is spent awake
_HALF_LIFE_S = 60.0


def wait_until(mono: float) -> float:
    """Return at CLOCK_MONOTONIC second `mono`, or at once where it has passed; gives the time of return."""
    while (left := mono - time.monotonic()) > _SPIN_S:
        time.sleep(left - _SPIN_S / 2)
    while (now := time.monotonic()) < mono:
        pass
    return now


class Durations:
    """How long each kind of camera call takes here, so that none is begun that would run into a release.

    The estimate follows the slowest of late and is forgotten slowly, so that one slow call does not shut a kind of
    work out for good. Of a `lasting` kind it is not forgotten: what is seldom done takes as long the next time.
    """

    def __init__(self, first_s: dict[str, float], lasting: frozenset[str] = frozenset()) -> None:
        self._lasting = lasting
        self._known = {kind: (took_s, 0.0) for kind, took_s in first_s.items()}

    def took(self, kind: str, took_s: float, now_mono: float) -> None:
        self._known[kind] = (max(took_s, 0.7 * self.expected(kind, now_mono) + 0.3 * took_s), now_mono)

    def expected(self, kind: str, now_mono: float) -> float:
        """Seconds that a call of this kind will probably take at most."""
        took_s, at_mono = self._known[kind]
        if at_mono == 0.0 or kind in self._lasting:
            return took_s
        return float(took_s * 0.5 ** ((now_mono - at_mono) / _HALF_LIFE_S))
