"""What cameras of one shoot share of a slot, so that it is one moment for all."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from controller.decide.exposure import Triple
from controller.words.brackets import index_of

if TYPE_CHECKING:
    from controller.decide.plan import Plan
    from controller.decide.step import Progress, Slot


@dataclass(frozen=True, slots=True)
class Beat:
    """A slot as the first camera that ordered it had it.

    `cycle_s` is the slot's interval, or that of the whole bracket which begins with it; `exposure` is set where the
    camera that leads has ordered it.
    """

    due_mono: float
    cycle_s: float
    exposure: Triple | None


def beat_of(slot: Slot, *, leads: bool) -> Beat:
    """What the others need of a slot; `leads`: its exposure is for all."""
    whole = slot.bracket
    return Beat(slot.due_mono, slot.interval_s if whole is None else whole.interval_s, slot.base if leads else None)


def shared(plan: Plan, progress: Progress, beat: Beat | None) -> Progress:
    """The progress at the moment that is shared. Within a bracket each camera's exposures give their own moments."""
    if beat is None or index_of(progress.seq, plan.light.offsets) > 0:
        return progress
    return replace(progress, due_mono=beat.due_mono)
