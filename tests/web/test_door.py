"""A phone that the rig does not know: the door, by code and by link. A request that was passed on is no local one."""

from __future__ import annotations

from collections.abc import AsyncIterator

import pytest
import pytest_asyncio
from playwright.async_api import expect

from tests.web.conftest import Phone
from tests.web.screens import THEMES, dress
from tests.web.test_rules import TARGETS, axe

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]


@pytest_asyncio.fixture(loop_scope="module")
async def stranger(phone: Phone) -> AsyncIterator[Phone]:
    await phone.page.set_extra_http_headers({"X-Forwarded-For": "192.0.2.9"})
    yield phone
    # A browser's console tells of every refusal.
    phone.faults[:] = [fault for fault in phone.faults if "status of 40" not in fault]
    for session in await phone.rig.call("GET", "sessions"):
        await phone.rig.call("DELETE", f"sessions/{session['id']}")


async def code(phone: Phone, rights: str = "all") -> str:
    return str((await phone.rig.call("POST", "invitations", json={"rights": rights}))["code"])


async def test_a_code_lets_the_phone_in(stranger: Phone) -> None:
    await stranger.page.goto(stranger.rig.url)
    await stranger.shows("#state", "Not paired")
    await expect(stranger.page.locator("#orders")).to_be_hidden()
    await stranger.picture("door")
    shown = await code(stranger)
    await stranger.page.fill("#door-code", "AAAA-AAAA")
    await stranger.page.click("#door-do")
    await stranger.shows("#door-trouble", "That is not the code")
    await stranger.page.fill("#door-code", shown.lower())
    await stranger.page.fill("#door-phone", "the long phone")
    await stranger.page.click("#door-do")
    await stranger.shows("#link", "Live")
    await expect(stranger.page.locator("#door")).to_be_hidden()
    await expect(stranger.page.locator("#orders")).to_be_visible()
    assert [one["name"] for one in await stranger.rig.call("GET", "sessions")] == ["the long phone"]
    assert await stranger.page.evaluate("document.cookie") == ""  # no script reads it


async def test_a_link_lets_it_in_and_leaves_no_code_behind(stranger: Phone) -> None:
    await stranger.page.goto(f"{stranger.rig.url}#code={(await code(stranger, 'view')).replace('-', '')}")
    await stranger.shows("#link", "Live")
    assert "code" not in stranger.page.url
    await stranger.shows("#view-only", "You may look")
    await expect(stranger.page.locator("#rooms")).to_be_visible()
    for order in await stranger.page.locator("#orders .changes").all():
        await expect(order).to_be_hidden()
    await stranger.picture("view-only")


async def test_it_is_at_the_door_again_once_its_access_is_taken(stranger: Phone) -> None:
    await stranger.page.goto(f"{stranger.rig.url}#{await code(stranger)}")  # as somebody types it
    await stranger.shows("#link", "Live")
    for session in await stranger.rig.call("GET", "sessions"):
        await stranger.rig.call("DELETE", f"sessions/{session['id']}")
    await stranger.shows("#state", "Not paired", within_s=60)


async def test_a_report_opened_by_its_address_leads_to_the_door(stranger: Phone) -> None:
    for theme in THEMES:
        await dress(stranger, theme)
        await stranger.page.goto(f"{stranger.rig.url}api/v1/shoots/any/report.html")
        await stranger.shows("main", "This device is not paired with the rig.")
        assert await axe(stranger) == []
        assert [one for one in await stranger.page.evaluate(TARGETS) if one[1] < 48 or one[2] < 48] == []
        await stranger.picture(f"refused-{theme}")
    await stranger.page.click("a")
    await stranger.shows("#state", "Not paired")
