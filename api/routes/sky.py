"""Sun, twilight and moon of a day, and when a plan's words are on it."""

from __future__ import annotations

import asyncio
from datetime import date, datetime
from typing import Annotated

from fastapi import APIRouter, Query

from api.rig import Rig, TheRig
from controller.decide.plan.tables import Site
from controller.decide.sky_day import FIRST_YEAR, LAST_YEAR, place_of, sky_day
from controller.words.errors import BadInput
from controller.words.sky import SkyDay

router = APIRouter(tags=["plans"])

Word = Annotated[str, Query(max_length=64)]


@router.get("/sky")
async def sky(
    rig: TheRig,
    latitude: Annotated[float | None, Query(description="degrees, north positive; left out: the rig's place")] = None,
    longitude: Annotated[float | None, Query(description="degrees, east positive")] = None,
    timezone: Annotated[
        str | None, Query(max_length=64, description="name in the IANA database; left out: the rig's, or UTC")
    ] = None,
    date: Annotated[
        date | None,
        Query(ge=date(FIRST_YEAR, 1, 1), le=date(LAST_YEAR, 12, 31), description="left out: the local day now"),
    ] = None,
    words: Annotated[
        list[Word], Query(max_length=50, description="texts such as sunset-45min or 18:20, as a plan's start has them")
    ] = [],  # noqa: B006
) -> SkyDay:
    """What `duskhand sky --json` prints, and where sun and moon stand now; each of `words` with its moment.

    A word that names no moment of that day, as a sunset under the midnight sun, is answered with the reason.
    """
    site, now_utc = _site(rig, latitude, longitude, timezone), rig.clock.utc()
    on = date or datetime.fromtimestamp(now_utc, site.zone).date()
    return await asyncio.to_thread(sky_day, site, on, now_utc, words=words)


def _site(rig: Rig, latitude: float | None, longitude: float | None, timezone: str | None) -> Site:
    """The place that is asked for, or the rig's. Raises BadInput: bad-place, bad-timezone, no-place."""
    if latitude is not None and longitude is not None:
        return place_of(latitude, longitude, timezone or "UTC")
    if latitude is not None or longitude is not None:
        there, lacking = ("latitude", "longitude") if longitude is None else ("longitude", "latitude")
        raise BadInput("bad-place", f"{there} alone is no place", lacking, f"Give {lacking} too, or neither of them")
    site = rig.site()
    if site is None:
        remedy = "Give latitude and longitude, or keep the rig's site among its defaults"
        raise BadInput("no-place", "the rig does not know where it stands", "site", remedy)
    return site if timezone is None else place_of(site.latitude, site.longitude, timezone)
