"""What the page shows when the link or the camera is lost: never old figures as if they were new."""

import asyncio
import re
import signal

import pytest
from playwright.async_api import expect

from tests.web.conftest import Phone

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]


async def age(phone: Phone) -> tuple[int, float]:
    """The age that the page says, and the page's own clock, s."""
    text, clock_ms = await phone.page.evaluate("[document.querySelector('#link').textContent, performance.now()]")
    found = re.search(r"No link for (\d+) s", text)
    assert found, text
    return int(found[1]), clock_ms / 1000


async def test_a_dead_link_is_said_with_its_age_and_comes_back(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    phone.rig.process.send_signal(signal.SIGSTOP)  # the network is gone without a word
    try:
        await phone.shows("#link", "No link for", within_s=40)
        await expect(phone.page.locator("#page")).to_have_class("old")
        first, first_s = await age(phone)
        await asyncio.sleep(3)
        later, later_s = await age(phone)
        assert later - first == pytest.approx(later_s - first_s, abs=1.5)
        await phone.picture("no-link")
        await phone.page.tap("#hold")
        await phone.shows("#said", "no answer from the rig", within_s=40)
        await phone.picture("unanswered")
    finally:
        phone.rig.process.send_signal(signal.SIGCONT)
    await phone.shows("#link", "Live", within_s=40)
    await expect(phone.page.locator("#page")).not_to_have_class("old")


async def test_a_server_that_is_gone_is_said_and_an_order_fails_aloud(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await phone.page.context.set_offline(True)
    await phone.page.tap("#pace")
    await phone.page.tap("#pace-do")
    await phone.shows("#pace-trouble", "no answer from the rig", within_s=40)
    await phone.page.tap("#pace-sheet .leave")
    await phone.page.context.set_offline(False)
    await phone.shows("#link", "Live", within_s=60)
    await asyncio.sleep(1)
    shoot = (await phone.rig.call("GET", "now"))["shoot"]
    assert shoot["adjust"].get("pace") is None, "nothing is queued"
    assert all("ERR_INTERNET_DISCONNECTED" in fault for fault in phone.faults)
    phone.faults.clear()


async def test_a_stop_whose_link_is_lost_is_not_sent(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await phone.page.tap("#stop")
    await phone.shows("#said", "Stops in")
    await phone.page.context.set_offline(True)
    await phone.shows("#said", "Stop was not sent", within_s=15)
    await expect(phone.page.locator("#hold")).to_be_enabled()
    await phone.picture("not-sent")
    await phone.page.context.set_offline(False)
    await phone.shows("#link", "Live", within_s=60)
    await asyncio.sleep(1)
    assert not [url for url in phone.requests if url.endswith("/stop")]
    assert all("ERR_INTERNET_DISCONNECTED" in fault for fault in phone.faults)
    phone.faults.clear()


async def test_a_camera_that_is_gone_is_said_in_words(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    phone.rig.camera.control("fault", word="gone(12)")
    await phone.shows("#attention", "amera", within_s=40)
    await expect(phone.page.locator("#attention")).to_be_visible()
    assert "need" in await phone.reads("#well")
    assert await phone.reads("#countdown") == "Camera not there"
    assert await phone.reads("#coming-name") == "Next release"
    assert "Why" not in await phone.reads("#plan"), "said above"
    await phone.picture("camera-gone")
    await phone.rig.until(lambda now: now["camera"]["connected"])
