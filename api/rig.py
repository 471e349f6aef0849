"""How a route gets at the rig."""

from __future__ import annotations

from typing import Annotated, cast

from fastapi import Depends, Request

from controller.daemon import Rig

__all__ = ["Rig", "TheRig"]


async def _rig(request: Request) -> Rig:
    return cast("Rig", request.app.state.rig)


TheRig = Annotated[Rig, Depends(_rig)]
