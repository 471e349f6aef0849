"""Letting devices in, and who was."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Request, Response
from pydantic import Field

from api.guard import COOKIE, Visitor
from api.rig import TheRig
from controller.words.access import Admitted, Invitation, Rights, Session
from controller.words.documents import Document

router = APIRouter(tags=["access"])

COOKIE_S = 400 * 86_400
"""As long as browsers keep a cookie."""

Name = Annotated[str, Field(max_length=60, pattern=r"^[^\x00-\x1f\x7f]*$")]


class Who(Document):
    """What whoever asks may do."""

    rights: Rights | None = Field(description="none: this device is not paired")
    session: Session | None = Field(None, description="none: this machine itself, or not paired")


class Code(Document):
    code: Annotated[str, Field(max_length=40)]
    name: Name = ""


class Wanted(Document):
    rights: Rights = Rights.ALL


class Token(Document):
    name: Annotated[Name, Field(min_length=1)]
    rights: Rights = Rights.ALL


def _who(request: Request) -> Visitor:
    visitor: Visitor = request.state.visitor
    return visitor


@router.get("/session", response_model=Who)
async def session(request: Request, response: Response) -> Who:
    """What this device may do."""
    response.headers["Cache-Control"] = "no-store"
    visitor = _who(request)
    return Who(rights=visitor.rights, session=visitor.session)


@router.post("/session", response_model=Who, status_code=201)
async def pair(code: Code, request: Request, response: Response, rig: TheRig) -> Who:
    """Let this device in with the code that the rig shows. From then on it shows a cookie that no script reads."""
    admitted = await rig.access.pair(code.code, code.name)
    response.set_cookie(
        COOKIE,
        admitted.secret,
        max_age=COOKIE_S,
        httponly=True,
        samesite="strict",
        secure=request.url.scheme == "https",
    )
    response.headers["Cache-Control"] = "no-store"
    return Who(rights=admitted.session.rights, session=admitted.session)


@router.delete("/session", status_code=204)
async def leave(request: Request, response: Response, rig: TheRig) -> None:
    """Give this device's access up."""
    if (mine := _who(request).session) is not None:
        await rig.access.revoke(mine.id)
    response.delete_cookie(COOKIE, httponly=True, samesite="strict")


@router.post("/invitations", response_model=Invitation, status_code=201)
async def invite(wanted: Wanted, response: Response, rig: TheRig) -> Invitation:
    """A code that lets one device in, in the place of the last one."""
    response.headers["Cache-Control"] = "no-store"
    return rig.access.invite(wanted.rights)


@router.get("/sessions", response_model=list[Session])
async def sessions(rig: TheRig) -> list[Session]:
    """Every device and script that was let in."""
    return rig.access.sessions


@router.post("/sessions", response_model=Admitted, status_code=201)
async def token(wanted: Token, response: Response, rig: TheRig) -> Admitted:
    """A bearer token for a script. It is told here, and never again."""
    response.headers["Cache-Control"] = "no-store"
    return await rig.access.admit(wanted.name, wanted.rights)


@router.delete("/sessions/{session}", status_code=204)
async def revoke(session: Annotated[int, Path(ge=1, le=2**62)], rig: TheRig) -> None:
    """Take access away; streams that are open end."""
    await rig.access.revoke(session)
