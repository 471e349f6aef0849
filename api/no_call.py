"""A path of the API that no call has, or none by this method: which there are is told."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from fastapi.routing import APIRoute
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Receive, Scope, Send

PREFIX = "/api/v1"


class NoCall:
    """ASGI app where no call has answered: refuses what is the API's, and leaves the rest to `page`."""

    def __init__(self, page: ASGIApp, calls: Iterable[Any], others: Iterable[Any]) -> None:
        """`calls`: routes below PREFIX; `others`: those that stand beside it."""
        self._page = page
        self._calls = [route for route in calls if isinstance(route, APIRoute)]
        self._others = [route for route in others if isinstance(route, APIRoute)]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._page(scope, receive, send)
            return
        path: str = scope["path"]
        if methods := self._methods(path):
            takes = ", ".join(sorted(methods))
            raise HTTPException(405, f"this call takes {takes}", {"Allow": takes})
        if path.startswith("/api/"):
            raise HTTPException(404, "there is no such call")
        await self._page(scope, receive, send)

    def _methods(self, path: str) -> set[str]:
        """HEAD, which goes wherever GET goes, is among them."""
        below = path.removeprefix(PREFIX) if path.startswith(f"{PREFIX}/") else None
        found = [route for route in self._calls if below is not None and route.path_regex.match(below)]
        found += [route for route in self._others if route.path_regex.match(path)]
        methods = {method for route in found for method in route.methods or ()}
        return methods | {"HEAD"} if "GET" in methods else methods
