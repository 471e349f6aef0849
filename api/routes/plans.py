"""Plans kept on the rig: keep, copy, rename; their versions, and what they leave to the rig."""

from __future__ import annotations

from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Header, Response

from api.rig import TheRig
from api.toml_body import IN_TOML, TomlRoute
from controller.store import content_hash
from controller.words.documents import Document, PlanVersion
from controller.words.errors import BadInput, Conflict, NotFound

router = APIRouter(prefix="/plans", tags=["plans"], route_class=TomlRoute)
defaults_router = APIRouter(prefix="/defaults", tags=["plans"])

Plan = dict[str, Any]
IfMatch = Annotated[
    str | None, Header(description="the plan's ETag as it was read; refused where it has changed since")
]


class NewName(Document):
    name: str


@router.get("")
async def list_plans(rig: TheRig) -> list[Plan]:
    """Every plan kept on the rig, whole, by name."""
    return list((await rig.plans.all()).values())


@router.post("", status_code=201, openapi_extra=IN_TOML)
async def add_plan(plan: Plan, rig: TheRig, response: Response) -> Plan:
    """Keep a new plan under the name that it carries. The answer is the plan with its defaults filled in.

    The plan is the body itself, as JSON, or as TOML with Content-Type application/toml.
    """
    name = _name(plan)
    try:
        await rig.plans.get(name)
    except NotFound:
        return _tagged(await rig.plans.put(name, plan), response, at=True)
    raise Conflict(
        "plan-exists",
        f"a plan named {name} is kept on the rig already",
        where="name",
        remedy=f"PUT /api/v1/plans/{quote(name, safe='')} replaces it; or give this one another name",
    )


@router.get("/{name}")
async def get_plan(name: str, rig: TheRig, response: Response) -> Plan:
    """One plan; its version is in the ETag."""
    return _tagged(await rig.plans.get(name), response)


@router.put("/{name}", openapi_extra=IN_TOML)
async def put_plan(name: str, plan: Plan, rig: TheRig, response: Response, if_match: IfMatch = None) -> Plan:
    """Keep a plan, replacing one of this name. Shoots that run keep the plan that they were started with.

    The plan is the body itself, as JSON, or as TOML with Content-Type application/toml.
    """
    if _name({"name": name} | plan) != name:
        raise BadInput(
            "bad-plan",
            f"the plan is named {plan['name']!r} but the address says {name!r}",
            where="name",
            remedy=f"Make both the same; POST /api/v1/plans/{quote(name, safe='')}/rename gives it another name",
        )
    return _tagged(await rig.plans.put(name, {"name": name} | plan, _expected(if_match)), response)


@router.delete("/{name}", status_code=204)
async def delete_plan(name: str, rig: TheRig, if_match: IfMatch = None) -> None:
    """Forget a plan and its versions. Shoots made from it stay."""
    await rig.plans.delete(name, _expected(if_match))


@router.post("/{name}/copy", status_code=201)
async def copy_plan(name: str, wanted: NewName, rig: TheRig, response: Response) -> Plan:
    """Keep the same plan once more, under another name."""
    return _tagged(await rig.plans.copy(name, wanted.name), response, at=True)


@router.post("/{name}/rename")
async def rename_plan(name: str, wanted: NewName, rig: TheRig, response: Response) -> Plan:
    """Give a plan another name; its versions come along."""
    return _tagged(await rig.plans.rename(name, wanted.name), response, at=True)


@router.get("/{name}/versions")
async def plan_versions(name: str, rig: TheRig) -> list[PlanVersion]:
    """The versions of a plan, newest first."""
    return await rig.plans.versions(name)


@router.get("/{name}/versions/{sha256}")
async def plan_version(name: str, sha256: str, rig: TheRig) -> Plan:
    """A plan as it was, under the name that it has now."""
    return await rig.plans.version(name, sha256)


@defaults_router.get("")
async def get_defaults(rig: TheRig) -> Plan:
    """What plans leave to the rig: whole tables, such as its site."""
    return await rig.plans.defaults()


@defaults_router.put("")
async def put_defaults(tables: Plan, rig: TheRig) -> Plan:
    """Keep tables for the plans that leave them out; plans that are kept already stay as they are.

    This replaces all that was kept: a table that is left out here is a default no more. To change one table, GET them,
    change that one, and PUT them all.
    """
    return await rig.plans.put_defaults(tables)


def _tagged(plan: Plan, response: Response, *, at: bool = False) -> Plan:
    response.headers["ETag"] = f'"{content_hash(plan)}"'
    if at:
        response.headers["Location"] = f"/api/v1/plans/{quote(plan['name'], safe='')}"
    return plan


def _expected(if_match: str | None) -> str | None:
    """The version that If-Match names (RFC 9110, section 13.1.1): None without it, ANY for *."""
    return None if if_match is None else if_match.strip().removeprefix("W/").strip('"')


def _name(plan: Plan) -> str:
    name = plan.get("name")
    if isinstance(plan.get("plan"), dict):
        what = "the plan is wrapped in another document"
        raise BadInput("bad-plan", what, where="plan", remedy="Send what stands under 'plan' as the document itself")
    if not isinstance(name, str) or not name:
        raise BadInput("bad-plan", "the plan has no name", where="name", remedy='Give it one, such as "quay-at-dusk"')
    return name
