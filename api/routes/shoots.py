"""Shoots: start, look at, hold, resume, stop, and change while they run."""

from __future__ import annotations

from typing import Annotated, Any, Self
from urllib.parse import quote

from fastapi import APIRouter, Request, Response
from pydantic import AfterValidator, Field, model_validator

from api.asked import while_asked
from api.rig import TheRig
from controller.aside.effect import effect_aside
from controller.decide.effect import Change
from controller.decide.safe_interval import needs_of
from controller.engine.shoots import Own
from controller.words.documents import Document, Shoot
from controller.words.effect import Effect

router = APIRouter(prefix="/shoots", tags=["shoots"])


def _in_order(limits: tuple[float, float]) -> tuple[float, float]:
    if limits[0] > limits[1]:
        raise ValueError(f"the lower limit {limits[0]:g} is above the upper one, {limits[1]:g}")
    return limits


LONGEST_HOLD_S = 31 * 86_400

Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Limits = Annotated[tuple[Positive, Positive], AfterValidator(_in_order)]


class ShootWanted(Document):
    plan: str | dict[str, Any] = Field(description="name of a plan kept on the rig, or a whole plan")


class PaceWanted(Document):
    """Either of `to_s` and `to`."""

    to_s: Positive | None = Field(None, description="interval to go to, seconds")
    over_s: Annotated[float, Field(ge=0, allow_inf_nan=False)] = Field(0.0, description="time to take over it, seconds")
    to: Own | None = Field(None, description="back to the plan's own pace")

    @model_validator(mode="after")
    def _one(self) -> Self:
        if (self.to_s is None) == (self.to is None):
            raise ValueError('this takes either to_s, an interval in seconds, or "to": "plan"')
        return self

    def change(self) -> tuple[float, float] | Own:
        return "plan" if self.to_s is None else (self.to_s, self.over_s)


class HoldWanted(Document):
    for_s: Annotated[Positive, Field(le=LONGEST_HOLD_S)] | None = Field(
        None, description="goes on by itself after so many seconds; left out: when it is resumed"
    )


class LightWanted(Document):
    """What is left out stays as it is."""

    bias_ev: Annotated[float, Field(ge=-10, le=10, allow_inf_nan=False)] | None = Field(
        None, description="brighter is positive"
    )
    shutter_s: Limits | None = Field(None, description="shortest and longest exposure, seconds")
    iso: Limits | None = None
    aperture: Limits | None = Field(None, description="f-numbers, smallest first")
    to: Own | None = Field(None, description="back to the plan's own light: no bias, its own limits; alone")

    @model_validator(mode="after")
    def _alone(self) -> Self:
        if self.to is not None and self.change() != "plan":
            raise ValueError('"to": "plan" stands alone: it takes back the bias and every limit')
        return self

    def change(self) -> dict[str, Any] | Own:
        changes = self.model_dump(exclude={"to"})
        return "plan" if self.to is not None and not any(value is not None for value in changes.values()) else changes


class EffectWanted(Document):
    """A change to look at before it is made; what is left out stays as it is."""

    pace: PaceWanted | None = None
    light: LightWanted | None = None
    hold_s: Annotated[float, Field(ge=0, le=LONGEST_HOLD_S, allow_inf_nan=False)] | None = Field(
        None, description="held for so long from now on, seconds; 0: not any more"
    )
    stop: bool = False


@router.post("", status_code=201)
async def start_shoot(wanted: ShootWanted, rig: TheRig, response: Response) -> Shoot:
    """Start a plan, or schedule it where its window lies ahead."""
    shoot = await rig.start_shoot(wanted.plan)
    response.headers["Location"] = f"/api/v1/shoots/{quote(shoot.id)}"
    return shoot


@router.get("")
async def list_shoots(rig: TheRig) -> list[Shoot]:
    """Every shoot of this rig, oldest first."""
    return await rig.store.shoots()


@router.get("/{shoot}")
async def get_shoot(shoot: str, rig: TheRig) -> Shoot:
    """One shoot."""
    return await rig.store.shoot(shoot)


@router.post("/{shoot}/hold")
async def hold(shoot: str, rig: TheRig, wanted: HoldWanted | None = None) -> Shoot:
    """Release nothing more until it is resumed, or for a time."""
    return await rig.shoots.hold(shoot, None if wanted is None else wanted.for_s)


@router.post("/{shoot}/resume")
async def resume(shoot: str, rig: TheRig) -> Shoot:
    """Go on after a hold."""
    return await rig.shoots.resume(shoot)


@router.post("/{shoot}/stop")
async def stop(shoot: str, rig: TheRig) -> Shoot:
    """End it for good."""
    return await rig.shoots.stop(shoot)


@router.post("/{shoot}/pace")
async def change_pace(shoot: str, wanted: PaceWanted, rig: TheRig) -> Shoot:
    """Change the interval, from the one in force, smoothly over a time; or back to the plan's own pace."""
    change = wanted.change()
    return await (rig.shoots.own_pace(shoot) if change == "plan" else rig.shoots.change_pace(shoot, *change))


@router.post("/{shoot}/light")
async def change_light(shoot: str, wanted: LightWanted, rig: TheRig) -> Shoot:
    """Change the bias or the limits of the light rule; or back to the plan's own."""
    change = wanted.change()
    return await (rig.shoots.own_light(shoot) if change == "plan" else rig.shoots.change_light(shoot, **change))


@router.post("/{shoot}/effect")
async def look_at_change(shoot: str, rig: TheRig, request: Request, wanted: EffectWanted | None = None) -> Effect:
    """What a change would come to, beside how the shoot stands; nothing is changed."""
    wanted = wanted or EffectWanted()
    pace = None if wanted.pace is None else wanted.pace.change()
    light = None if wanted.light is None else wanted.light.change()
    at, adjust = await rig.shoots.looked_at(shoot, pace, light)
    seen = await rig.bodies.known(rig.store)
    needs = needs_of(seen[0]) if seen else None
    work = effect_aside(rig.effects, at, Change(adjust, wanted.hold_s, wanted.stop), needs)
    return await while_asked(request, work)
