"""What a plan comes to on this rig, before anything is shot."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from pydantic import Field

from api.asked import while_asked
from api.rig import Rig, TheRig
from controller.aside.forecast import forecast_aside
from controller.decide.advice.needs import Known
from controller.decide.advice.questions import Question
from controller.decide.anchors import FIRST_YEAR, LAST_YEAR
from controller.decide.plan import Plan
from controller.store.files import room
from controller.words.advice import PlanSummary
from controller.words.documents import Document
from controller.words.errors import BadInput

router = APIRouter(tags=["plans"])

Day = Annotated[date, Field(ge=date(FIRST_YEAR, 1, 1), le=date(LAST_YEAR, 12, 31))]
Length = Annotated[float, Field(ge=0.001, le=86400, allow_inf_nan=False)]
Bytes = Annotated[float, Field(ge=1, le=1e18, allow_inf_nan=False)]


class Asked(Document):
    """Of which day, and at most one of three questions. All may be left out."""

    date: Day | None = Field(None, description="for the window of this local day")
    clip_s: Length | None = Field(None, description="asks which intervals make a clip of so many seconds")
    interval_s: Length | None = Field(None, description="asks what this interval comes to, seconds")
    card_bytes: Bytes | None = Field(None, description="asks until when such a card lasts")
    frame_bytes: Bytes | None = Field(None, description="bytes of a frame, in place of what is known of them")

    def question(self) -> Question | None:
        """Raises BadInput where there are two."""
        given = [key for key in ("clip_s", "interval_s", "card_bytes") if getattr(self, key) is not None]
        if len(given) > 1:
            raise BadInput("bad-request", f"{' and '.join(given)} ask two things at once", given[0], "Ask for one")
        return Question(given[0], self.clip_s, self.interval_s, self.card_bytes) if given else None


class PlanAsked(Asked):
    """A plan, and what is asked of it."""

    plan: str | dict[str, Any] = Field(description="name of a plan kept on the rig, or a whole plan, which is not kept")


@router.get("/plans/{name}/forecast")
async def forecast_plan(name: str, rig: TheRig, request: Request, asked: Annotated[Asked, Query()]) -> PlanSummary:
    """What a plan comes to: times, frames, clip, storage, power, warnings by what they would cost, cautions.

    By the clock, the disk and the body of this rig; of a local day where `date` names one. One of `clip_s`,
    `interval_s` and `card_bytes` asks which intervals make that clip, what that interval comes to, and until when such
    a card lasts.
    """
    return await _forecast(rig, request, await rig.plans.chosen(name), asked)


@router.post("/forecast")
async def forecast_document(rig: TheRig, request: Request, asked: PlanAsked) -> PlanSummary:
    """The same of a plan that need not be kept; what it leaves out is taken from the rig's defaults."""
    return await _forecast(rig, request, await rig.plans.chosen(asked.plan), asked)


async def _forecast(rig: Rig, request: Request, plan: Plan, asked: Asked) -> PlanSummary:
    question, now_utc = asked.question(), rig.clock.utc()
    known = await _known(rig, asked.frame_bytes, now_utc if asked.date is None else None)
    work = forecast_aside(
        rig.forecasts,
        plan,
        asked.date or now_utc,
        now_utc=now_utc,
        body=rig.body(),
        known=known,
        question=question,
    )
    return await while_asked(request, work)


async def _known(rig: Rig, frame_bytes: float | None, on_utc: float | None) -> Known:
    seen = await rig.bodies.known(rig.store)
    body = seen[0] if seen else None
    room_bytes, moves_s = float(room(rig.directory)[0]), rig.wires.wiring.moves_s
    return Known(body, frame_bytes, rig_room_bytes=room_bytes, on_utc=on_utc, motion_s=moves_s)
