"""Rehearsals for a phone."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import Field, Strict

from controller.aside.bodies import body_of, choices_of
from controller.aside.process import Aside
from controller.decide.exposure import Body
from controller.decide.plan import Plan, plan_from
from controller.decide.wiring.motion import with_gap
from controller.engine.starting import first_window
from controller.results.report.curves import Collector, Curves
from controller.words.documents import Document, Note
from controller.words.errors import BadInput, Conflict
from controller.words.rehearsal import RehearsalSummary

if TYPE_CHECKING:
    from controller.rehearsal import Weather

Share = Annotated[float, Field(ge=0, le=2, allow_inf_nan=False)]
Minute = Annotated[float, Field(ge=0, le=1_000_000, allow_inf_nan=False)]
Seconds = Annotated[float, Field(ge=0, le=3600, allow_inf_nan=False)]


class RehearsalWanted(Document):
    """What to rehearse a plan with. What is left out is a clear sky and a camera that keeps up."""

    sky: Literal["clear", "cloudy"] = "clear"
    clouds: Annotated[list[tuple[Minute, Share]], Field(min_length=1, max_length=20_000)] | None = Field(
        None,
        description="in place of `sky`: minutes from the first window's start, and the share of light let through",
    )
    seed: Annotated[int, Strict(), Field(ge=0, le=2**31)] = Field(0, description="which of the cloudy skies")
    windows: Annotated[int, Strict(), Field(ge=1, le=31)] = Field(1, description="windows of a plan that has several")
    write_s: Seconds = Field(0.5, description="seconds that the camera takes to write a frame")
    sleep_s: Seconds | None = Field(None, description="seconds after which the camera falls asleep; none: never")
    wake_s: Seconds = Field(2.0, description="seconds that it takes to wake up")
    card_bytes: Annotated[int, Field(gt=0, le=10**18)] | None = Field(None, description="room on its card")
    frame_bytes: Annotated[int, Field(gt=0, le=10**11)] = Field(30_000_000, description="bytes of a frame")


class RehearsalAnswer(Document):
    """What came of a rehearsal."""

    summary: RehearsalSummary
    notes: list[Note]
    curves: Curves


async def rehearse_aside(
    aside: Aside, plan: Plan, wanted: RehearsalWanted, now_utc: float, body: Body | None, moves_s: float | None = None
) -> RehearsalAnswer:
    """Rehearse `plan` as if started at `now_utc`, on a rig whose moves take `moves_s` from the end of an exposure.

    Raises BadInput as `rehearse_now` does, Conflict (rehearsal-busy) while another runs, and as `Aside.answer`.
    """
    if aside.busy:
        remedy = f"Ask again in a while; it takes {aside.patience_s:.0f} s at most"
        raise Conflict("rehearsal-busy", "another rehearsal is running", "rehearsal", remedy)
    task = {"plan": plan.document(), "wanted": wanted.model_dump(), "now_utc": now_utc, "body": choices_of(body)}
    came = await aside.answer(**task, moves_s=moves_s)
    return RehearsalAnswer.model_validate(came)


def work_out(task: dict[str, Any]) -> RehearsalAnswer:
    """In the process of its own, which alone loads what it needs for that. Raises BadInput."""
    from controller.rehearsal import CameraModel, Spread, rehearse_now

    wanted = RehearsalWanted.model_validate(task["wanted"])
    plan, curves = with_gap(plan_from(task["plan"]), task["moves_s"]), Curves()
    came = rehearse_now(
        plan,
        now_utc=task["now_utc"],
        weather=_weather(wanted, first_window(plan, task["now_utc"]).start_utc),
        settings=CameraModel(
            write_s=Spread(wanted.write_s, 0.2),
            bytes_per_frame=wanted.frame_bytes,
            card_bytes=wanted.card_bytes,
            sleeps_after_s=wanted.sleep_s,
            wakes_in_s=wanted.wake_s,
        ),
        body=body_of(task["body"]),
        windows=wanted.windows,
        on_frame=Collector(curves),
    )
    return RehearsalAnswer(summary=came.summary, notes=came.notes, curves=curves)


def _weather(wanted: RehearsalWanted, start_utc: float) -> Weather:
    from controller.rehearsal import clear, cloudy, from_table

    if wanted.clouds is None:
        return clear() if wanted.sky == "clear" else cloudy(wanted.seed)
    minutes, shares = zip(*wanted.clouds, strict=True)
    for n, (before, after) in enumerate(pairwise(minutes), 1):
        if after <= before:
            what = f"minute {after:g} does not come after minute {before:g}"
            raise BadInput("bad-sky", what, f"clouds[{n}]", "Put them in order of time, each minute once")
    return from_table(minutes, shares, start_utc)
