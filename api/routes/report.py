"""The report of a shoot: a document for scripts, a page for people. Worked out in a process of its own."""

from __future__ import annotations

from functools import cache
from typing import Annotated, Any

from fastapi import APIRouter, Header, Query, Request, Response
from fastapi.responses import HTMLResponse

from api.asked import while_asked
from api.page import theme
from api.rig import Rig, TheRig
from api.sealed import SHUT, hash_of
from controller.aside.report import report_aside, report_page_aside
from controller.results.report.documents import Report

router = APIRouter(prefix="/shoots/{shoot}", tags=["shoots"])

HOME = "../../../../"
"""The page, from where the report stands: right behind a proxy that puts a path before ours, too."""

OfCamera = Annotated[str | None, Query(description="of several cameras that one; left out: the one of most frames")]
_HTML: dict[int | str, dict[str, Any]] = {200: {"content": {"text/html": {"schema": {"type": "string"}}}}}


@router.get("/report", response_model=Report, responses=_HTML)
async def report(
    shoot: str,
    rig: TheRig,
    request: Request,
    camera: OfCamera = None,
    accept: Annotated[str, Header()] = "application/json",
) -> Response:
    """What was planned, what was got and why anything is missing: as JSON, or with `Accept: text/html` as a page."""
    if "text/html" in accept:
        return await _page(shoot, rig, request, camera)
    await rig.store.shoot(shoot)  # an unknown one costs no process
    made = await while_asked(request, report_aside(request.app.state.reports, rig.directory, shoot, camera))
    return Response(made.model_dump_json(), headers=_HEADERS, media_type="application/json")


@router.get("/report.html", response_class=HTMLResponse)
async def report_page(shoot: str, rig: TheRig, request: Request, camera: OfCamera = None) -> Response:
    """The same page for whatever asks: it stands alone, and can be kept as a file."""
    return await _page(shoot, rig, request, camera)


async def _page(shoot: str, rig: Rig, request: Request, camera: str | None) -> Response:
    await rig.store.shoot(shoot)
    look = theme(request, await rig.now())
    work = report_page_aside(request.app.state.reports, rig.directory, shoot, camera, look, HOME)
    html = await while_asked(request, work)
    return HTMLResponse(html, headers=_HEADERS | {"Content-Security-Policy": _policy()})


_HEADERS = {"Cache-Control": "no-store", "Vary": "Accept, Cookie"}


@cache
def _policy() -> str:
    """Nothing is run and nothing is fetched but the clips that are linked; the style sheet is the report's own."""
    from controller.results.report.page import sheet  # when the first one is asked for

    return f"default-src 'none'; style-src {hash_of(sheet())}; {SHUT}"
