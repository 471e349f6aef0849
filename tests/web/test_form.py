"""The page's form: by keyboard, light on the link. What holds on every screen is in test_rules.py and test_flash.py."""

import asyncio
import io
from pathlib import Path

import pytest
from PIL import Image
from playwright.async_api import Request

from tests.web.conftest import Phone
from tests.web.screens import ROOMS, SCREENS, enter_room

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
