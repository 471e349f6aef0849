"""No flash: in the night's theme nothing that the screen shows is bright, not for one picture, on any screen.

The phone's own setting is light all the while, so that whatever the browser paints by itself would be white.
"""

from __future__ import annotations

import asyncio
import base64
import contextlib
import io
import itertools
import json
from collections.abc import AsyncIterator
from typing import Any

import pytest
from PIL import Image

from tests.web.conftest import Phone
from tests.web.screens import ROOMS, SCREENS, THEMES, dress, enter_room
from tests.web.test_form import mean_light

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

DIM = 40
"""Of 255, the mean of a screen that is full of the night's words; a white one has 255, the day's theme some 230."""

SCHEME = """
[getComputedStyle(document.documentElement).colorScheme, document.querySelector('meta[name=color-scheme]').content]
"""
GROUND = "document.querySelector('meta[name=theme-color]').content"


@contextlib.asynccontextmanager
async def watched(phone: Phone) -> AsyncIterator[list[tuple[float, float]]]:
    """Every picture that the browser paints meanwhile: when, in seconds, and the mean of its light, 0 to 255."""
    seen: list[tuple[float, float]] = []
    session = await phone.page.context.new_cdp_session(phone.page)
    acknowledged: set[asyncio.Task[Any]] = set()

    def look(picture: dict[str, Any]) -> None:
        light = Image.open(io.BytesIO(base64.b64decode(picture["data"]))).convert("L").tobytes()
        seen.append((picture["metadata"]["timestamp"], sum(light) / len(light)))
        acknowledged.add(
            asyncio.ensure_future(session.send("Page.screencastFrameAck", {"sessionId": picture["sessionId"]}))
        )

    session.on("Page.screencastFrame", look)
    await session.send("Page.startScreencast", {"format": "png", "maxWidth": 90, "maxHeight": 200})
    yield seen
    await asyncio.sleep(0.3)
    await session.send("Page.stopScreencast")
    await asyncio.gather(*acknowledged)
    await session.detach()
    assert seen, "it has looked"


async def in_the_night(phone: Phone) -> None:
    """The page as it is before another is loaded: an empty tab would be white."""
    await dress(phone, "night")
    await phone.page.goto(phone.rig.url)
    await asyncio.sleep(0.3)


@pytest.mark.parametrize("screen", SCREENS)
async def test_the_night_never_flashes(phone: Phone, screen: str) -> None:
    """From the first picture of the page until the screen stands: rooms, sheets, a lost link, the door."""
    await in_the_night(phone)
    async with watched(phone) as seen:
        await SCREENS[screen](phone)
    assert max(light for _, light in seen) < DIM, screen
    assert await phone.page.evaluate(SCHEME) == ["dark", "dark"]


async def test_from_room_to_room_and_anew_nothing_flashes(phone: Phone) -> None:
    """From each room into the next, by a reload, and back to the rig."""
    await SCREENS["rig"](phone)
    await dress(phone, "night")
    await phone.page.tap("#picture-show")  # hidden again
    async with asyncio.timeout(60):  # it turns slowly
        while await mean_light(phone) >= DIM:
            await asyncio.sleep(0.1)
    async with watched(phone) as seen:
        for room in ROOMS:
            await enter_room(phone, room)
            await phone.page.reload()
            await phone.page.locator(f"body[data-room={room}] #room > div > *").first.wait_for(state="attached")
        await phone.page.evaluate("location.hash = ''")
        await phone.until("document.body.dataset.room === 'rig'")
    assert max(light for _, light in seen) < DIM


@pytest.mark.parametrize("theme", THEMES)
async def test_nothing_flashes_while_the_page_loads(phone: Phone, theme: str) -> None:
    """The first thing that is painted has its theme: the style sheet comes inside the page, and before it what a
    browser needs to paint the ground by itself (HTML, section 4.2.5.1, color-scheme)."""
    await phone.page.route("**/js/*.js", lambda route: route.abort())  # nothing but the first answer
    await dress(phone, theme)
    await phone.page.goto("about:blank")
    await phone.page.goto(phone.rig.url)
    await asyncio.sleep(0.5)
    first = await mean_light(phone)
    assert all("ERR_FAILED" in fault for fault in phone.faults)
    phone.faults.clear()
    assert await phone.page.evaluate(SCHEME) == ["dark" if theme == "night" else "light"] * 2
    assert await phone.page.evaluate(GROUND) == ("#000000" if theme == "night" else "#f6f4ef")
    await phone.page.unroute("**/js/*.js")
    assert first < DIM if theme == "night" else first > 150
    await phone.open()
    assert (await mean_light(phone) < DIM) == (theme == "night")


async def test_a_watcher_sees_a_flash(phone: Phone) -> None:
    """A white screen that stands for a tenth of a second is found."""
    await SCREENS["rig"](phone)
    await dress(phone, "night")
    async with watched(phone) as seen:
        await phone.page.evaluate("document.documentElement.style.filter = 'invert(1)'")
        await asyncio.sleep(0.1)
        await phone.page.evaluate("document.documentElement.style.filter = ''")
    assert max(light for _, light in seen) > 150


async def test_a_light_page_turns_dark_at_dusk_and_a_dark_one_light_by_day(phone: Phone) -> None:
    """Civil dusk, sun 6 degrees below the horizon, at the rig's place: the phone's own clock does not matter."""
    await phone.page.emulate_media(reduced_motion="reduce")
    await phone.rig.shoot()
    now = await phone.rig.call("GET", "now")
    for sun, theme in ((30.0, "day"), (-5.9, "day"), (-6.1, "night"), (-40.0, "night"), (None, "night")):
        now["sun_altitude_deg"] = sun
        await phone.told(now)
        await phone.until(f"document.documentElement.dataset.theme === '{theme}'")
        assert await phone.page.evaluate(SCHEME) == ["dark" if theme == "night" else "light"] * 2
        await phone.until(f"['{'#000000' if theme == 'night' else '#f6f4ef'}', {RGB[theme]}].includes({GROUND})")


RGB = {"night": "'rgb(0, 0, 0)'", "day": "'rgb(246, 244, 239)'"}


class Sky:
    """What the page hears of the sun, each time that it asks for the stream, which ends at once: every 1.5 s."""

    def __init__(self, phone: Phone) -> None:
        self._phone, self._sun = phone, 0.0

    async def open(self, sun: float) -> None:
        """Open the page under that sun, altitude in degrees, and wait until it has turned."""
        now = await self._phone.rig.call("GET", "now")
        await self._phone.page.route(
            "**/api/v1/events*",
            lambda route: route.fulfill(
                content_type="text/event-stream",
                body=f"event: now\ndata: {json.dumps(now | {'sun_altitude_deg': self._sun})}\n\n",
            ),
        )
        self._sun = sun
        await self._phone.page.goto(self._phone.rig.url)
        await self.move(sun)
        await asyncio.sleep(9)

    async def move(self, sun: float) -> None:
        """Let it be there, and wait until the page has heard of it."""
        self._sun = sun
        await self._phone.until(f"document.documentElement.dataset.theme === '{'day' if sun > -6 else 'night'}'")


@pytest.mark.parametrize(("before", "after"), [(-7.0, -5.0), (-5.0, -7.0)])
async def test_the_page_turns_slowly_by_itself(phone: Phone, before: float, after: float) -> None:
    """At dawn, and at dusk: all of it, bars too, and what it says can be read on most of the way."""
    await phone.rig.shoot()
    sky = Sky(phone)
    await sky.open(before)
    async with watched(phone) as seen:
        await sky.move(after)
        await asyncio.sleep(9)
        end = RGB["day" if after > -6 else "night"]
        for element in ("document.documentElement", "document.querySelector('footer')"):
            assert await phone.page.evaluate(f"getComputedStyle({element}).backgroundColor === {end}")
        await phone.until(f"{GROUND} === {end}")
    for (at, light), (later, then) in itertools.pairwise(seen):
        assert abs(then - light) <= 12 + 45 * (later - at), "255 in 8 s are 32 a second"
    assert max(light for _, light in seen) - min(light for _, light in seen) > 150, "it has turned"


async def test_whoever_wants_no_motion_gets_none(phone: Phone) -> None:
    await phone.page.emulate_media(reduced_motion="reduce")
    await phone.rig.shoot()
    sky = Sky(phone)
    await sky.open(-7.0)
    await sky.move(-5.0)
    assert (
        await phone.page.evaluate("document.getAnimations().filter((one) => /^--/.test(one.transitionProperty)).length")
        == 0
    )
    assert await phone.page.evaluate(f"getComputedStyle(document.documentElement).backgroundColor === {RGB['day']}")
