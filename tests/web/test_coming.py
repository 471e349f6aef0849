"""What is fetched late, or never: that it is under way is said, and there is a way on."""

from __future__ import annotations

import asyncio

import pytest
from playwright.async_api import Route, expect

from tests.web.conftest import Phone
from tests.web.screens import keep_plans
from tests.web.test_plans_room import EVENING, edit, go
from tests.web.test_rules import TARGETS, axe

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]


async def never(_: Route) -> None:
    """A link that hangs says nothing, not even that."""


async def test_a_room_that_hangs_says_so_and_can_be_asked_for_again(phone: Phone) -> None:
    await phone.open()
    await phone.page.route("**/js/rooms/lamp.js", never)  # without what a try anew adds
    await go(phone, "lamp")
    await phone.shows("#room", "Fetching this part of the page")
    await expect(phone.page.locator("#room-again")).to_have_count(0)
    await phone.shows("#room", "Still fetching")
    await phone.picture("room-hangs")
    assert await axe(phone) == []
    assert [one for one in await phone.page.evaluate(TARGETS) if one[1] < 48 or one[2] < 48] == []
    await phone.page.tap("#room-again")
    await phone.page.locator("#lamp").wait_for()
    await expect(phone.page.locator("#room")).not_to_contain_text("etching")
    await go(phone, "")
    await phone.page.locator("#rig").wait_for()
    await go(phone, "lamp")  # what came by then serves
    await phone.page.locator("#lamp").wait_for()
    assert len([url for url in phone.requests if "rooms/lamp.js" in url]) == 2
    await phone.page.unroute_all(behavior="ignoreErrors")


async def test_a_room_that_comes_late_after_all_opens(phone: Phone) -> None:
    """The first to come is taken, though it was asked for anew meanwhile."""
    await phone.open()
    first = asyncio.Event()

    async def hang(route: Route) -> None:
        if "try=" in route.request.url:
            return
        await first.wait()
        await route.continue_()

    await phone.page.route("**/js/rooms/lamp.js*", hang)
    await go(phone, "lamp")
    await phone.page.tap("#room-again")
    await phone.shows("#room", "Fetching this part")
    first.set()
    await phone.page.locator("#lamp").wait_for()
    await phone.page.unroute_all(behavior="ignoreErrors")


async def test_a_sheet_that_hangs_says_so_and_can_be_tapped_again(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await phone.page.route("**/js/sheets/sheets.js", never)
    await phone.page.tap("#change")
    await phone.shows("#said-text", "Fetching this part of the page")
    await phone.shows("#said-text", "tap again")
    phone.faults.clear()  # the page's own remark of it
    await phone.page.tap("#change")
    await phone.page.locator("#change-sheet").wait_for()
    await expect(phone.page.locator("#said-text")).to_have_text("")
    await phone.page.unroute_all(behavior="ignoreErrors")


async def test_a_sheet_that_comes_late_does_not_come_up_over_something_else(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    late = asyncio.Event()

    async def hang(route: Route) -> None:
        await late.wait()
        await route.continue_()

    await phone.page.route("**/js/sheets/sheets.js*", hang)
    await phone.page.tap("#change")
    await phone.shows("#said-text", "Fetching this part of the page")
    await go(phone, "lamp")
    await phone.page.locator("#lamp").wait_for()
    late.set()
    await expect(phone.page.locator("#said-text")).to_have_text("")
    await expect(phone.page.locator("dialog[open]")).to_have_count(0)
    await phone.page.unroute_all(behavior="ignoreErrors")


async def test_a_start_need_not_wait_for_what_it_comes_to(phone: Phone) -> None:
    await keep_plans(phone)
    await phone.page.route("**/api/v1/forecast", never)
    await phone.open()
    await phone.page.evaluate(
        "() => { const later = window.setTimeout;"
        "  window.setTimeout = (act, ms, ...of) => later(act, ms === 15000 ? 1500 : ms, ...of); }"
    )
    await phone.page.tap("#start")
    await phone.shows("#start-comes", "Working out")
    await expect(phone.page.locator("#start-enough")).to_be_hidden()
    await expect(phone.page.locator("#start-do")).to_be_disabled()
    await phone.shows("#start-comes", "Still working out")
    await phone.picture("start-slow")
    await phone.page.tap("#start-enough")
    await phone.shows("#start-comes", "It can still be started")
    await expect(phone.page.locator("#start-enough")).to_be_hidden()
    await phone.page.tap("#start-do")
    await phone.shows("#said-text", "pier begins")
    await phone.page.unroute_all(behavior="ignoreErrors")
    await phone.rig.end()


async def test_what_nobody_waits_for_any_more_keeps_no_place_on_the_link(phone: Phone) -> None:
    """A browser has six connections to a host: forecasts of drafts that were left would take them all."""
    await edit(phone, EVENING)
    asked, ended = asyncio.Event(), asyncio.Event()
    phone.page.on("requestfailed", lambda request: ended.set() if "forecast" in request.url else None)

    async def hang(_: Route) -> None:
        asked.set()

    await phone.page.route("**/api/v1/forecast", hang)
    await phone.page.fill("#plan-start-minutes", "-21")
    await asyncio.wait_for(asked.wait(), 30)
    assert not ended.is_set()
    await go(phone, "plans")
    await asyncio.wait_for(ended.wait(), 10)  # by itself it would end after 30
    await phone.page.unroute_all(behavior="ignoreErrors")
