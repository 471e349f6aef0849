"""Figures for Prometheus."""

from __future__ import annotations

from fastapi import APIRouter, Response

from api.rig import TheRig

router = APIRouter(tags=["health"])


@router.get("/metrics", responses={200: {"content": {"text/plain": {"schema": {"type": "string"}}}}})
async def metrics(rig: TheRig) -> Response:
    """The rig's figures in Prometheus' text format."""
    from prometheus_client import CONTENT_TYPE_LATEST  # many rigs are never asked

    from api.figures import exposition

    text = exposition(await rig.now(), rig.cameras(), rig.healthz())
    return Response(text, headers={"Cache-Control": "no-store"}, media_type=CONTENT_TYPE_LATEST)
