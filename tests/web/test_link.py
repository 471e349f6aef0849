"""What the page shows when the link or the camera is lost: never old figures as if they were new."""

import asyncio
import json
import re
import signal

import pytest
from playwright.async_api import Route, expect

from tests.support.cut_link import CutLink
from tests.web.conftest import Phone

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]


async def age(phone: Phone) -> tuple[int, float]:
    """The age that the page says, and the page's own clock, s."""
    text, clock_ms = await phone.page.evaluate("[document.querySelector('#link').textContent, performance.now()]")
    found = re.search(r"No link for (\d+)\s+s", text)
    assert found, text
    return int(found[1]), clock_ms / 1000


async def test_a_dead_link_is_said_with_its_age_and_comes_back(phone: Phone) -> None:
    shoot = await phone.rig.shoot()
    await phone.rig.call("POST", f"shoots/{shoot}/hold")
    await phone.open()
    phone.rig.process.send_signal(signal.SIGSTOP)  # the network is gone without a word
    try:
        await phone.shows("#link", "No link for", within_s=40)
        await expect(phone.page.locator("body")).to_have_class(re.compile(r"\bold\b"))
        first, first_s = await age(phone)
        await asyncio.sleep(3)
        later, later_s = await age(phone)
        assert later - first == pytest.approx(later_s - first_s, abs=1.5)
        await phone.picture("no-link")
        await phone.page.tap("#resume")
        await phone.shows("#said", "no answer from the rig", within_s=40)
        await phone.picture("unanswered")
    finally:
        phone.rig.process.send_signal(signal.SIGCONT)
    await phone.shows("#link", "Live", within_s=40)
    await expect(phone.page.locator("body")).not_to_have_class(re.compile(r"\bold\b"))
    await expect(phone.page.locator("#said")).to_be_hidden()  # the state above tells it now


async def test_a_link_that_is_closed_raises_no_alarm_before_what_stands_is_old(phone: Phone) -> None:
    """A stream that breaks and comes back at once, as between two access points, is no trouble: what stands is as fresh
    as before. That it is not live is said at once all the same."""
    now = json.dumps(await phone.rig.call("GET", "now"))
    told: list[str] = []

    async def once(route: Route) -> None:
        told.append(route.request.url)
        if len(told) > 1:
            return await route.abort()
        await route.fulfill(content_type="text/event-stream", body=f"retry: 60000\nevent: now\ndata: {now}\n\n")

    await phone.page.route("**/api/v1/events*", once)
    await phone.page.add_init_script(
        """globalThis.said = [];
        const see = () => said.push([link.textContent, document.body.classList.contains("lost")]);
        document.addEventListener("DOMContentLoaded",
          () => new MutationObserver(see).observe(link, { childList: true, characterData: true, subtree: true }));"""
    )
    await phone.page.goto(phone.rig.url)
    await phone.shows("#link", "No link for", within_s=40)
    said: list[tuple[str, bool]] = await phone.page.evaluate("said")
    ages = [found for text, _ in said if (found := re.search(r"(\d+)\s+s\b", text))]
    assert [int(found[1]) for found in ages if int(found[1]) < 5] == []
    assert [text for text, lost in said if lost != text.startswith("No link")] == []
    assert "Connecting…" in [text for text, _ in said], "not live, and said so"
    assert await phone.reads("#well") == "So it was when last heard."
    assert len(told) > 2, "it tries anew"
    phone.faults[:] = [fault for fault in phone.faults if "ERR_FAILED" not in fault]


async def test_a_server_that_is_gone_is_said_and_an_order_fails_aloud(phone: Phone) -> None:
    shoot = await phone.rig.shoot()
    await phone.rig.call("POST", f"shoots/{shoot}/hold")
    await phone.open()
    await phone.page.context.set_offline(True)
    await phone.page.tap("#resume")
    await phone.shows("#said", "no answer from the rig", within_s=40)
    await phone.page.tap("#said-button")
    await phone.page.context.set_offline(False)
    await phone.shows("#link", "Live", within_s=60)
    await asyncio.sleep(1)
    assert (await phone.rig.call("GET", "now"))["shoot"]["state"] == "held", "nothing is queued"
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


async def test_a_link_that_was_lost_for_long_is_right_again_and_does_nothing_by_itself(phone: Phone) -> None:
    """Half a minute without a word: connections of before are dead after it, as behind a router that forgot them."""
    shoot = await phone.rig.shoot()
    with CutLink(phone.rig.url) as link:
        await phone.page.goto(link.url)
        await phone.page.locator("#link", has_text="Live").wait_for()
        before = await phone.rig.until_frames(2)
        await phone.page.tap("#hold")
        await phone.page.locator("#change-do:enabled").wait_for(timeout=90_000)
        link.cut()
        await phone.shows("#link", "No link for", within_s=40)
        await phone.page.tap("#change-do")  # into the void
        await phone.shows("#change-sheet .trouble", "no answer from the rig", within_s=40)
        await phone.page.tap("#change-sheet .leave")
        await asyncio.sleep(30)
        missed = (await phone.rig.call("GET", "now"))["frames_done"]
        await phone.rig.call("POST", f"shoots/{shoot}/pace", json={"to_s": 28, "over_s": 0})  # from another phone
        await phone.rig.until(lambda now: now["interval_s"] == pytest.approx(28))
        link.mend()
        await phone.shows("#link", "Live", within_s=30)
        await phone.shows("#interval", "28.0 s")
        assert int(await phone.reads("#done")) >= missed > before["frames_done"]
        assert await phone.reads("#state") == "Shooting"
        after = await phone.rig.call("GET", f"shoots/{shoot}")
        assert after["state"] == "shooting", "the hold was not kept for later"
        await phone.page.goto("about:blank")
    phone.requests[:] = [url for url in phone.requests if not url.startswith(link.url)]
    phone.faults[:] = [fault for fault in phone.faults if "ERR_" not in fault]


async def test_frames_of_an_outage_are_heard_of_after_it(phone: Phone) -> None:
    """The stream is resumed by the last id, though the page opens it anew."""
    await phone.rig.shoot()
    with CutLink(phone.rig.url) as link:
        await phone.page.goto(link.url)
        await phone.page.locator("#link", has_text="Live").wait_for()
        await phone.page.evaluate(
            "async () => { globalThis.heard = [];"
            "  (await import('/js/page.js')).$rig.on('frame', (one) => heard.push(one.seq)); }"
        )
        await phone.until("heard.length > 0")
        link.cut()
        await phone.shows("#link", "No link for", within_s=40)
        begun = (await phone.rig.call("GET", "now"))["frames_done"]
        await phone.rig.until_frames(begun + 4)
        link.mend()
        await phone.shows("#link", "Live", within_s=30)
        await phone.until(f"heard.includes({begun + 4})")
        seen = await phone.page.evaluate("[...new Set(heard)]")
        assert set(range(min(seen), begun + 5)) <= set(seen), "none is missing"
        await phone.page.goto("about:blank")
    phone.requests[:] = [url for url in phone.requests if not url.startswith(link.url)]
    phone.faults[:] = [fault for fault in phone.faults if "ERR_" not in fault]
