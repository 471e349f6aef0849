"""Is this rig ready: what the checks find, and what of it can be mended from here."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from pydantic import Field

from api.asked import while_asked
from api.rig import Rig, TheRig
from controller.aside.check import plan_facts_aside
from controller.aside.process import Aside
from controller.decide.advice.needs import Known
from controller.engine.checking import Checking
from controller.words.checks import Checked
from controller.words.documents import Document, ShootState
from controller.words.errors import Conflict

router = APIRouter(prefix="/check", tags=["check"])

PATIENCE_S = 60.0
_AT_WORK = (ShootState.CHECKING, ShootState.SHOOTING, ShootState.RECOVERING)


class CheckWanted(Document):
    plan: str | dict[str, Any] | None = Field(None, description="name of a plan kept on the rig, or a whole plan")
    fix: bool = Field(False, description="set what can be set, and look again")


@router.get("")
async def check_rig(
    rig: TheRig, request: Request, plan: Annotated[str | None, Query(description="a plan kept on the rig")] = None
) -> Checked:
    """Every finding, the worst first; cameras are asked between releases."""
    return await while_asked(request, _check(rig, request, CheckWanted(plan=plan)))


@router.post("")
async def check_and_fix(rig: TheRig, request: Request, wanted: CheckWanted) -> Checked:
    """The same, for a plan that is not kept too; with `fix` what can be set is set. 409 while a shoot is at work."""
    if wanted.fix:
        for shoot in await rig.store.open_shoots():
            if shoot.state in _AT_WORK:
                remedy = "Look without it, hold the shoot, or wait for its end"
                raise Conflict("rig-shooting", "nothing is set while a shoot is at work", f"shoot {shoot.id}", remedy)
    return await while_asked(request, _check(rig, request, wanted))


async def _check(rig: Rig, request: Request, wanted: CheckWanted) -> Checked:
    seen, facts = await rig.bodies.known(rig.store), None
    if wanted.plan is not None:
        plan = await rig.plans.chosen(wanted.plan)
        aside: Aside = request.app.state.checks
        known = Known(seen[0] if seen else None)
        facts = await plan_facts_aside(aside, plan, rig.clock.utc(), rig.body(), known)
    places, trouble = rig.copying.now(), rig.copying.trouble
    checking = Checking(rig.links, rig.dials, rig.directory, seen, rig.wires.troubles(), places, trouble)
    return await checking.check(facts, fix=wanted.fix)
