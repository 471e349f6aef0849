"""Keeping a body awake between releases, and waking it ahead of one. What decides is pure; times are CLOCK_MONOTONIC.

A poll for events reaches the body over USB only, and many bodies are kept awake by no question at all. So a question is
asked every few seconds, and after a lull one more, so early before the release that a body which sleeps is awake then.
"""

from __future__ import annotations

import math
from collections import deque

from controller.camera.messages import Release, Trouble

LULL_S = 8.0
"""Without work for so long a body may sleep; timers of bodies begin at 10 s or more (common practice, no source)."""

LIFE_S = 5.0
"""Between questions; a body that has gone mute is noticed by them too, where a poll does not reach it."""

CACHED_S = 2.0
"""libgphoto2 (2.5.34, camlibs/ptp2) answers for a property from memory for so long after it was read."""

SLOW_S = 0.25
"""What a question takes longer than it mostly does, from which on the body is taken to have slept."""

_FIRST_LEAD_S, _FIRST_RELEASE_S = 2.5, 0.5
_REMEDY = "It may have slept: switch its power-off timer off; from now on it is woken earlier"
_MARGIN_S, _MARGIN = 0.3, 1.2
_KEPT = 5


def ask_at(asked_mono: float, worked_mono: float, due_mono: float | None, lead_s: float) -> float:
    """When the body is to be asked something next.

    `asked_mono` is when a call last reached it, `worked_mono` when it last did what keeps any body awake, `due_mono`
    the next release where one is known of, `lead_s` what waking takes.
    """
    life = asked_mono + LIFE_S
    if due_mono is None or due_mono - worked_mono <= LULL_S:
        return life
    wake = due_mono - lead_s
    if asked_mono >= wake:
        return max(life, due_mono)  # awake; nothing more stands between this and the release
    return wake if life > wake - CACHED_S else life


class Waking:
    """What is known of a body's sleep and of the next release."""

    def __init__(self, now_mono: float) -> None:
        self.worked_mono = now_mono
        self._due: deque[float] = deque(maxlen=2)
        self._took: deque[float] = deque(maxlen=_KEPT)
        self._release_s, self._slept = _FIRST_RELEASE_S, False

    @property
    def lead_s(self) -> float:
        """How long before a release the body is woken: more than the slowest of the last wakings took."""
        return max(self._took) * _MARGIN + _MARGIN_S if self._took else _FIRST_LEAD_S

    def woke(self, took_s: float) -> None:
        """A question that found the body asleep took so long."""
        self._took.append(took_s)

    def released(self, order: Release, call_s: float, exposed_until: float) -> Trouble | None:
        """The call that released took so long; what is to be told where it found the body asleep all the same.

        Some bodies answer when the exposure is over, so that its length counts for nothing.
        """
        slept = self.lulled(order.due_mono) and call_s > self._release_s + order.exposure_s + SLOW_S
        if slept:
            self.woke(call_s)
        else:
            self._release_s = call_s
        told, self._slept = self._slept, slept
        self._due.append(order.due_mono)
        self.worked_mono = exposed_until
        if not slept or told:
            return None
        what = f"the camera took {call_s:.1f} s to take the release of frame {order.seq}, which came so much later"
        return Trouble("camera-slept", what, _REMEDY, order.seq)

    def expected(self, now_mono: float) -> float | None:
        """When the next release will probably be due, of which no order has come yet; None where that is not known."""
        if len(self._due) < 2:
            return None
        due = self._due[1] + max(0.0, self._due[1] - self._due[0])
        return due if due > now_mono else None

    def lulled(self, now_mono: float) -> bool:
        """The body may be asleep."""
        return now_mono - self.worked_mono > LULL_S

    def ask_at(self, asked_mono: float, due_mono: float | None, now_mono: float) -> float:
        """As `ask_at` above; `due_mono` is that of the order in hand."""
        due = self.expected(now_mono) if due_mono is None else due_mono
        return ask_at(asked_mono, self.worked_mono, due, self.lead_s)

    def limit(self, limit_mono: float, now_mono: float) -> float:
        """Until when other work must probably end, which a body that is asleep would hold up by waking first."""
        return limit_mono - self.lead_s if self.lulled(now_mono) and limit_mono < math.inf else limit_mono
