"""Query parameters that a call does not have: refused, since what is ignored silently was meant all the same."""

from __future__ import annotations

from collections.abc import Iterator

from fastapi import Request
from fastapi.routing import APIRoute
from pydantic import BaseModel

from controller.decide.plan_errors import shown
from controller.decide.plan_hints import nearest
from controller.words.errors import BadInput


def known_query(request: Request) -> None:
    """Raises BadInput (unknown-parameter) for the first one that the call does not take, with what was meant."""
    route = request.scope["route"]
    assert isinstance(route, APIRoute)
    known = list(_names(route))
    unknown = next((name for name in request.query_params if name not in known), None)
    if unknown is None:
        return
    near = nearest(unknown, known)
    takes = f"This call takes {', '.join(known)}" if known else "This call takes none: leave it out"
    raise BadInput(
        "unknown-parameter",
        f"the parameter {shown(unknown)} is not known here",
        where=f"{request.method} {request.url.path}",
        remedy=f"Did you mean {near}?" if near else takes,
    )


def _names(route: APIRoute) -> Iterator[str]:
    """What a call takes in its query; of parameters that stand together in a model, each."""
    for field in route.dependant.query_params:
        kind = field.field_info.annotation
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            yield from kind.model_fields
        else:
            yield field.alias
