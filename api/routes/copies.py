"""Second places of the rig's files: what is copied where."""

from __future__ import annotations

from fastapi import APIRouter

from api.rig import TheRig
from controller.words.copies import Copies

router = APIRouter(tags=["copies"])


@router.get("/copies", response_model=Copies)
async def copies(rig: TheRig) -> Copies:
    """What is copied where, what waits, and why."""
    return await rig.copying.all()


@router.post("/copies/again", response_model=Copies)
async def again(rig: TheRig) -> Copies:
    """Read places.toml anew and try every place now, and every frame that could not be copied."""
    await rig.copying.again()
    return await rig.copying.all()
