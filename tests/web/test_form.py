"""The page's form: by keyboard, without a flash, light on the link. What holds on every screen is in test_rules.py."""

import asyncio
import io
from pathlib import Path

import pytest
from PIL import Image
from playwright.async_api import Request

from tests.web.conftest import Phone
from tests.web.screens import ROOMS, SCREENS, THEMES, dress, enter_room

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]


async def test_every_control_has_a_name_and_can_be_reached_by_keyboard(phone: Phone) -> None:
    await SCREENS["change"](phone)
    names = await phone.page.evaluate(
        "[...document.querySelectorAll('button, input')].filter((e) => e.checkVisibility())"
        ".map((e) => e.getAttribute('aria-label') || e.textContent || e.labels?.[0]?.textContent)"
    )
    assert all(names)
    await phone.page.keyboard.press("Escape")
    await phone.page.locator("dialog[open]").wait_for(state="detached")
    reached = set()
    for _ in range(8):
        await phone.page.keyboard.press("Tab")
        reached.add(await phone.page.evaluate("document.activeElement.id"))
    assert {"hold", "change", "stop", "rooms"} <= reached


async def test_a_room_is_entered_and_left_by_keyboard(phone: Phone) -> None:
    await SCREENS["go-to"](phone)
    await phone.page.focus("[data-room=phone]")
    await phone.page.keyboard.press("Enter")
    await phone.until("document.activeElement.id === 'room-title'")  # a screen reader says where one is
    await phone.page.focus("#room-back")
    await phone.page.keyboard.press("Enter")
    await phone.until("document.body.dataset.room === 'rig'")


@pytest.mark.parametrize("theme", THEMES)
async def test_nothing_flashes_while_the_page_loads(phone: Phone, theme: str) -> None:
    """The first thing that is painted has its theme: the style sheet comes inside the page."""
    await dress(phone, theme)
    await phone.page.route("**/js/*.js", lambda route: route.abort())  # nothing but the first answer
    await phone.page.goto(phone.rig.url)
    await asyncio.sleep(0.5)
    first = await mean_light(phone)
    assert all("ERR_FAILED" in fault for fault in phone.faults)
    phone.faults.clear()
    await phone.page.unroute("**/js/*.js")
    assert first < 30 if theme == "night" else first > 150
    await phone.open()
    assert (await mean_light(phone) < 30) == (theme == "night")


async def test_a_light_page_turns_dark_at_dusk_and_a_dark_one_light_by_day(phone: Phone) -> None:
    """Civil dusk, sun 6 degrees below the horizon, at the rig's place: the phone's own clock does not matter."""
    await phone.rig.shoot()
    now = await phone.rig.call("GET", "now")
    for sun, theme in ((30.0, "day"), (-5.9, "day"), (-6.1, "night"), (-40.0, "night"), (None, "night")):
        now["sun_altitude_deg"] = sun
        await phone.told(now)
        await phone.until(f"document.documentElement.dataset.theme === '{theme}'")
    ground = await phone.page.evaluate("document.querySelector('meta[name=theme-color]').content")
    assert ground == "#000000"


@pytest.mark.parametrize("room", ["black", "lamp"])
async def test_dark_rooms_never_flash(phone: Phone, room: str) -> None:
    """Entered from the dark page, no picture on the way is brighter than the dim page itself."""
    await dress(phone, "night")
    await SCREENS["rig"](phone)
    await phone.page.tap("#picture-show")  # hidden again
    await phone.page.evaluate(f"location.hash = '{room}'")
    brightest = 0.0
    for _ in range(12):
        brightest = max(brightest, await mean_light(phone))
    assert brightest < 30
    await phone.page.locator(f"#{room}").wait_for()


async def mean_light(phone: Phone) -> float:
    """Mean of the screen's pixels, 0 to 255."""
    pixels = Image.open(io.BytesIO(await phone.page.screenshot())).convert("L").tobytes()
    return sum(pixels) / len(pixels)


async def test_the_page_is_light_on_the_link(phone: Phone) -> None:
    """All of it: each room, and the sheets. What a room asks of the rig while it is looked at is counted with it."""
    await phone.rig.shoot()
    sizes: dict[str, int] = {}

    async def weigh(request: Request) -> None:
        if "/api/" not in request.url:
            measured = await request.sizes()
            sizes[request.url] = measured["responseBodySize"] + measured["responseHeadersSize"]

    phone.page.on("requestfinished", weigh)
    asked = {}
    await phone.open()
    await asyncio.sleep(1)
    asked["rig"] = len(phone.requests)
    await phone.page.tap("#change")
    await phone.page.locator("dialog[open]").wait_for()
    await phone.page.tap("dialog[open] .leave")
    for room in ROOMS:
        before = len(phone.requests)
        await enter_room(phone, room)
        asked[room] = len(phone.requests) - before
    print(asked, len(sizes), sum(sizes.values()))
    assert {"page", "sheets", *ROOMS} <= {Path(url).stem for url in sizes}
    assert max(asked.values()) <= 12, asked
    assert len(sizes) <= 12
    assert sum(sizes.values()) <= 100_000
