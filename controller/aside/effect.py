"""What a change made while shooting would come to, for a phone."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from controller.aside.bodies import body_of, choices_of
from controller.aside.process import Aside
from controller.decide.effect import Change, Standing, effect
from controller.decide.follow import Light
from controller.decide.plan import plan_from
from controller.decide.safe_interval import Needs
from controller.decide.schedule import Window
from controller.decide.step import Adjust, Moment, Progress
from controller.words.effect import Effect


async def effect_aside(aside: Aside, at: Standing, change: Change, needs: Needs | None) -> Effect:
    """As `decide.effect`; raises as `Aside.answer`."""
    progress, now = at.progress, at.now
    came = await aside.answer(
        plan=at.plan.document(),
        adjust=at.adjust.document(),
        window=None if at.window is None else asdict(at.window),
        progress=None
        if progress is None
        else {
            "seq": progress.seq,
            "due_mono": progress.due_mono,
            "due_utc": progress.due_utc,
            "interval_s": progress.interval_s,
            "frames_done": progress.frames_done,
            "offset_ev": progress.light.offset_ev,
        },
        body=choices_of(at.body),
        now=[now.utc, now.mono],
        done=at.done,
        created_utc=at.created_utc,
        stopping=at.stopping,
        hold_s=at.hold_s,
        change={"adjust": change.adjust.document(), "hold_s": change.hold_s, "stop": change.stop},
        needs=None if needs is None else asdict(needs),
    )
    return Effect.model_validate(came)


def work_out(task: dict[str, Any]) -> Effect:
    """In the process of its own."""
    change, needs = task["change"], task["needs"]
    window = None if task["window"] is None else Window(**task["window"])
    at = Standing(
        plan=plan_from(task["plan"]),
        adjust=Adjust.from_document(task["adjust"]),
        window=window,
        progress=_progress(window, task["progress"]),
        body=body_of(task["body"]),
        now=Moment(*task["now"]),
        done=task["done"],
        created_utc=task["created_utc"],
        stopping=task["stopping"],
        hold_s=task["hold_s"],
    )
    wanted = Change(Adjust.from_document(change["adjust"]), change["hold_s"], change["stop"])
    return effect(at, wanted, None if needs is None else Needs(**needs))


def _progress(window: Window | None, given: dict[str, Any] | None) -> Progress | None:
    """As much of where a shoot stands as a forecast goes by."""
    if window is None or given is None:
        return None
    light = Light(offset_ev=given.pop("offset_ev"))
    return Progress(window=window, exposure=None, light=light, **given)
