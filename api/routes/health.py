"""Is the rig itself in working order? For watchers, not for the phone."""

from __future__ import annotations

import json
from typing import Any

from fastapi import APIRouter, Response

from api.rig import TheRig

router = APIRouter(tags=["health"])


@router.get(
    "/healthz",
    response_model=dict[str, Any],
    responses={503: {"description": "`ok` is false; the other members say why"}},
)
async def healthz(rig: TheRig) -> Response:
    """200 while the engine and the log make progress, else 503."""
    health = rig.healthz()
    return Response(
        json.dumps(health),
        200 if health["ok"] else 503,
        headers={"Cache-Control": "no-store"},
        media_type="application/json",
    )
