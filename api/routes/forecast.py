"""What a kept plan comes to on this rig, before anything is shot."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Query, Request

from api.asked import while_asked
from api.rig import Rig, TheRig
from controller.aside.forecast import forecast_aside
from controller.decide.advice.needs import Known
from controller.decide.advice.questions import Question
from controller.decide.anchors import FIRST_YEAR, LAST_YEAR
from controller.decide.plan import plan_from
from controller.store.files import room
from controller.words.advice import PlanSummary
from controller.words.errors import BadInput

router = APIRouter(prefix="/plans", tags=["plans"])

Length = Annotated[float | None, Query(ge=0.001, le=86400, allow_inf_nan=False)]
Bytes = Annotated[float | None, Query(ge=1, le=1e18, allow_inf_nan=False)]
Day = Annotated[date | None, Query(ge=date(FIRST_YEAR, 1, 1), le=date(LAST_YEAR, 12, 31))]


@router.get("/{name}/forecast")
async def forecast_plan(
    name: str,
    rig: TheRig,
    request: Request,
    date: Day = None,
    clip_s: Length = None,
    interval_s: Length = None,
    card_bytes: Bytes = None,
    frame_bytes: Bytes = None,
) -> PlanSummary:
    """What a plan comes to: times, frames, clip, storage, power, warnings by what they would cost, cautions.

    By the clock, the disk and the body of this rig; of a local day where `date` names one. One of `clip_s`,
    `interval_s` and `card_bytes` asks which intervals make that clip, what that interval comes to, and until when such
    a card lasts.
    """
    plan = plan_from(await rig.plans.get(name))
    asked = {"clip_s": clip_s, "interval_s": interval_s, "card_bytes": card_bytes}
    given = {key: value for key, value in asked.items() if value is not None}
    if len(given) > 1:
        raise BadInput("bad-request", f"{' and '.join(given)} ask two things at once", next(iter(given)), "Ask for one")
    question = Question(next(iter(given)), clip_s, interval_s, card_bytes) if given else None
    now_utc = rig.clock.utc()
    known = await _known(rig, frame_bytes, now_utc if date is None else None)
    work = forecast_aside(
        rig.forecasts,
        plan,
        date or now_utc,
        now_utc=now_utc,
        body=rig.body(),
        known=known,
        question=question,
    )
    return await while_asked(request, work)


async def _known(rig: Rig, frame_bytes: float | None, on_utc: float | None) -> Known:
    seen = await rig.bodies.known(rig.store)
    body = seen[0] if seen else None
    room_bytes, motion = float(room(rig.directory)[0]), rig.wires.wiring.motion
    moves_s = None if motion is None else motion.needs_s
    return Known(body, frame_bytes, rig_room_bytes=room_bytes, on_utc=on_utc, motion_s=moves_s)
