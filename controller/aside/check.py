"""What a plan asks of camera and rig, for a check over REST."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any

from controller.aside.bodies import body_of, choices_of
from controller.aside.process import Aside
from controller.decide.advice.needs import Known
from controller.decide.checks.facts import PlanFacts
from controller.decide.exposure import Body
from controller.decide.plan import Plan, plan_from
from controller.words.bodies import BodySeen


async def plan_facts_aside(aside: Aside, plan: Plan, now_utc: float, body: Body | None, known: Known) -> PlanFacts:
    """As `plan_facts`, which tells what each of these is; raises as that does, and as `Aside.answer`."""
    seen = None if known.body is None else known.body.model_dump(mode="json")
    came = await aside.answer(
        plan=plan.document(),
        now_utc=now_utc,
        body=choices_of(body),
        known={**asdict(replace(known, body=None)), "body": seen},
    )
    return PlanFacts.model_validate(came)


def work_out(task: dict[str, Any]) -> PlanFacts:
    """In the process of its own, which alone loads what it needs for that. Raises BadInput."""
    from controller.decide.checks.plan_facts import plan_facts

    known = task["known"]
    seen = None if known["body"] is None else BodySeen.model_validate(known["body"])
    return plan_facts(plan_from(task["plan"]), task["now_utc"], body_of(task["body"]), Known(**{**known, "body": seen}))
