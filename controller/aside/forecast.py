"""What a plan comes to, for a phone."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import date
from typing import Any

from controller.aside.bodies import body_of, choices_of
from controller.aside.process import Aside
from controller.decide.advice.needs import Known
from controller.decide.advice.questions import Question
from controller.decide.exposure import Body
from controller.decide.plan import Plan, plan_from
from controller.words.advice import PlanSummary
from controller.words.bodies import BodySeen


async def forecast_aside(
    aside: Aside,
    plan: Plan,
    asked: float | date,
    *,
    now_utc: float,
    body: Body | None,
    known: Known,
    question: Question | None,
) -> PlanSummary:
    """As `advise`, which tells what each of these is; raises as that does, and as `Aside.answer`."""
    seen = None if known.body is None else known.body.model_dump(mode="json")
    came = await aside.answer(
        plan=plan.document(),
        asked=asked if isinstance(asked, float) else asked.isoformat(),
        now_utc=now_utc,
        body=choices_of(body),
        known={**asdict(replace(known, body=None)), "body": seen},
        question=None if question is None else asdict(question),
    )
    return PlanSummary.model_validate(came)


def work_out(task: dict[str, Any]) -> PlanSummary:
    """In the process of its own, which alone loads what it needs for that. Raises BadInput."""
    from controller.decide.advice.advise import advise

    asked, question, known = task["asked"], task["question"], task["known"]
    seen = None if known["body"] is None else BodySeen.model_validate(known["body"])
    return advise(
        plan_from(task["plan"]),
        asked if isinstance(asked, float) else date.fromisoformat(asked),
        now_utc=task["now_utc"],
        body=body_of(task["body"]),
        known=Known(**{**known, "body": seen}),
        question=None if question is None else Question(**question),
    )
