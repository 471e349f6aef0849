"""Rehearsals: of a plan kept on the rig, and of one that is not."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from pydantic import Field

from api.asked import while_asked
from api.rig import Rig, TheRig
from controller.aside.rehearsal import RehearsalAnswer, RehearsalWanted, rehearse_aside
from controller.decide.plan import Plan

router = APIRouter(tags=["plans"])


class PlanRehearsalWanted(RehearsalWanted):
    """A plan, and what to rehearse it with."""

    plan: str | dict[str, Any] = Field(description="name of a plan kept on the rig, or a whole plan, which is not kept")


@router.post("/plans/{name}/rehearsal")
async def rehearse_plan(
    name: str, rig: TheRig, request: Request, wanted: RehearsalWanted | None = None
) -> RehearsalAnswer:
    """Run a plan in seconds before a model of sky and camera, from the rig's time on, with the body's own choices."""
    return await _rehearse(rig, request, await rig.plans.chosen(name), wanted or RehearsalWanted())


@router.post("/rehearsal")
async def rehearse_document(rig: TheRig, request: Request, wanted: PlanRehearsalWanted) -> RehearsalAnswer:
    """The same of a plan that need not be kept; what it leaves out is taken from the rig's defaults."""
    settings = RehearsalWanted.model_validate(wanted.model_dump(exclude={"plan"}))
    return await _rehearse(rig, request, await rig.plans.chosen(wanted.plan), settings)


async def _rehearse(rig: Rig, request: Request, plan: Plan, wanted: RehearsalWanted) -> RehearsalAnswer:
    work = rehearse_aside(rig.rehearsals, plan, wanted, rig.clock.utc(), rig.body(), rig.wires.wiring.moves_s)
    return await while_asked(request, work)
