"""The app: REST under /api/v1, the schema, a check for watchers, and the page."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

from fastapi import Depends, FastAPI
from starlette.middleware.gzip import DEFAULT_EXCLUDED_CONTENT_TYPES, GZipMiddleware

from api.body_limit import BodyLimit
from api.events import beat
from api.for_people import ForPeople
from api.guard import Guard
from api.head import Head
from api.known_query import known_query
from api.no_call import PREFIX, NoCall
from api.once import Once, tell_of_keys
from api.page import Page
from api.problems import MEDIA_TYPE, Problem, add_problems
from api.rig import Rig
from api.routes import (
    access,
    cameras,
    check,
    clips,
    clock,
    copies,
    forecast,
    frames,
    health,
    messages,
    metrics,
    now,
    plan_schema,
    plans,
    rehearsal,
    report,
    shoots,
    sky,
    timing,
)
from api.sealed import Sealed
from controller.aside.process import Aside
from controller.aside.report import REPORT_S

_PROBLEM = {
    "description": "What, where and the remedy",
    "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}},
}


_AS_THEY_ARE = (*DEFAULT_EXCLUDED_CONTENT_TYPES, "multipart/x-mixed-replace")
"""Content that is not compressed again: JPEGs, in a stream too."""


def create_app(rig: Rig) -> FastAPI:
    """The ASGI app over `rig`, which the caller opens before and closes after."""

    @asynccontextmanager
    async def alive(_: FastAPI) -> AsyncIterator[None]:
        heart = asyncio.create_task(beat(rig))
        yield
        heart.cancel()

    app = FastAPI(
        title="Duskhand",
        summary="A rig that shoots time-lapses of the dusk",
        version="1",
        docs_url=None,  # these pages would load their scripts from elsewhere, and there is no internet on a hill
        redoc_url=None,
        lifespan=alive,
        responses={"default": _PROBLEM},
        generate_unique_id_function=lambda route: route.name,
    )
    app.state.rig = rig
    app.state.checks = Aside("check", check.PATIENCE_S)
    app.state.reports = Aside("report", REPORT_S)
    add_problems(app)
    app.add_middleware(BodyLimit)
    app.add_middleware(Once)
    app.add_middleware(Guard, rig=rig)
    app.add_middleware(ForPeople, rig=rig)
    app.add_middleware(Sealed)
    app.add_middleware(GZipMiddleware, compresslevel=6, exclude_content_types=_AS_THEY_ARE)
    app.add_middleware(Head)
    routers = [
        part.router
        for part in (
            now,
            clock,
            access,
            plans,
            plan_schema,
            forecast,
            rehearsal,
            sky,
            shoots,
            frames,
            report,
            clips,
            cameras,
            timing,
            check,
            copies,
            messages,
        )
    ]
    routers.append(plans.defaults_router)
    for router in routers:
        app.include_router(router, prefix=PREFIX, dependencies=[Depends(known_query)])
    watched = (health.router, metrics.router)
    for router in watched:
        app.include_router(router)
    calls, others = ([route for router in these for route in router.routes] for these in (routers, watched))
    app.mount("/", NoCall(Page(rig), calls, others))
    describe = app.openapi

    def openapi() -> dict[str, Any]:
        schema = describe()
        schema["components"]["schemas"]["Problem"] = Problem.model_json_schema()
        tell_of_keys(schema["paths"])
        return schema

    app.openapi = openapi  # type: ignore[method-assign]
    return app
