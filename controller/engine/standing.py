"""A run as it stands, for what is foretold of it."""

from __future__ import annotations

from controller.decide.effect import Standing
from controller.engine.run import ShootRun


def standing(run: ShootRun) -> Standing:
    """Of several cameras the first one's run speaks for all."""
    return Standing(
        plan=run.plan,
        adjust=run.adjust,
        window=run.window,
        progress=run.slots.progress,
        body=run.body(),
        now=run.moment(),
        done=run.book.counts.done,
        created_utc=run.shoot.created_utc,
        stopping=run.stopping,
        hold_s=run.holding.left_s,
    )
