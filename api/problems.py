"""Errors as problem documents (RFC 9457): one line that says what, where and the remedy."""

from __future__ import annotations

import http
from collections.abc import Mapping

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel
from starlette.exceptions import HTTPException

from controller.decide.plan_errors import plain, shown
from controller.engine.access import Refused
from controller.words.errors import BadInput, CameraError, Changed, Conflict, DuskhandError, NotFound, StoreError
from controller.words.phrases import with_remedy

MEDIA_TYPE = "application/problem+json"

STATUS: dict[type[DuskhandError], int] = {
    NotFound: 404,
    Changed: 412,
    Refused: 403,
    Conflict: 409,
    BadInput: 422,
    CameraError: 503,
    StoreError: 503,
}
"""Status of an error's class; the first that fits counts, so subclasses come before their bases."""

BY_STATUS: dict[int, tuple[str, str]] = {
    400: ("bad-request", "Send JSON in UTF-8, tables in tables a few deep"),
    404: ("no-such-path", "The calls that there are stand in /openapi.json"),
    405: ("wrong-method", "The calls that there are stand in /openapi.json"),
    503: ("too-many-listeners", "Close a page that shows the rig, or try again later"),
    413: ("too-large", "Send a smaller document"),
}
"""Code and remedy of what the HTTP layer itself refuses."""

_PLAIN = {"Not Found": "there is nothing at this address", "Method Not Allowed": "this address takes GET, HEAD"}
"""What the page's files are refused with, in words of ours."""

_SHAPES = "The shape of each call stands in /openapi.json"


class Problem(BaseModel):
    """RFC 9457, section 3.1, with three members more: `code` is stable, `where` names the part at fault."""

    type: str = "about:blank"
    title: str
    status: int
    detail: str
    code: str
    remedy: str = ""
    where: str = ""


def answer(
    status: int, code: str, what: str, *, where: str = "", remedy: str = "", headers: Mapping[str, str] | None = None
) -> Response:
    known = status in {each.value for each in http.HTTPStatus}
    problem = Problem(
        title=http.HTTPStatus(status).phrase if known else "Refused",
        status=status,
        detail=_text(what),
        code=code,
        remedy=_text(remedy),
        where=_text(where),
    )
    return Response(problem.model_dump_json(), status, headers, MEDIA_TYPE)


def _text(text: str) -> str:
    """What can be sent: JSON may bring halves of characters that no encoding has."""
    return text.encode("utf-8", "replace").decode()


def _known(_: Request, error: Exception) -> Response:
    assert isinstance(error, DuskhandError)
    status = next((status for kind, status in STATUS.items() if isinstance(error, kind)), 500)
    headers = {"Retry-After": "2"} if status == 503 and error.retryable else None
    return answer(status, error.code, error.what, where=error.where, remedy=error.remedy, headers=headers)


def _malformed(request: Request, error: Exception) -> Response:
    """The first thing that is wrong with a request; the rest shows once that is put right."""
    assert isinstance(error, RequestValidationError)
    first = error.errors()[0]
    place = first["loc"]
    if first["type"] == "json_invalid":
        what, where = f"not JSON: {first['ctx']['error']}", f"body, character {place[-1]}"
        remedy = "Put its commas, quotes and brackets right"
    elif isinstance(first.get("input"), bytes):  # FastAPI reads no body of another type than JSON's
        kind = request.headers.get("content-type", "no type")
        what, where = f"the document came as {shown(kind)}", "Content-Type"
        remedy = "Send JSON as application/json, or a plan's TOML as application/toml"
    else:
        (what, remedy), where = plain(first), ".".join(str(part) for part in place if part != "[key]")
    remedy = with_remedy(remedy, _SHAPES) if remedy else _SHAPES
    return answer(422, "bad-request", what, where=where, remedy=remedy)


def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    code, remedy = BY_STATUS.get(error.status_code, ("refused", ""))
    where = "body" if error.status_code in (400, 413) else f"{request.method} {request.url.path}"
    what = _PLAIN.get(str(error.detail), str(error.detail))
    if error.status_code == 400:
        what = "the body cannot be read as JSON"
    return answer(error.status_code, code, what, where=where, remedy=remedy, headers=error.headers)


def _unforeseen(_: Request, error: Exception) -> Response:
    """A fault of ours. The server logs it with its traceback after this answer."""
    return answer(
        500,
        "internal",
        f"the rig failed at this: {type(error).__name__}",
        remedy="Shooting goes on by itself; look into the service's log for the reason",
    )


def add_problems(app: FastAPI) -> None:
    """Make every error of `app` a problem document."""
    app.add_exception_handler(DuskhandError, _known)
    app.add_exception_handler(RequestValidationError, _malformed)
    app.add_exception_handler(HTTPException, _refused)
    app.add_exception_handler(Exception, _unforeseen)
