"""The page's stories, in Chromium, against a real rig and the simulated camera."""

import asyncio
import re

import pytest
from playwright.async_api import expect

from tests.support.dusk_rig import PLAN
from tests.web.conftest import Phone

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]


async def test_one_glance_tells_how_it_stands(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await phone.rig.until_frames(3)
    await phone.until("Number(document.getElementById('done').textContent) >= 3")
    await expect(phone.page.locator("#state")).to_have_text("Shooting")
    await expect(phone.page.locator("#well")).to_have_text("All is well.")
    await expect(phone.page.locator("#attention")).to_be_hidden()
    await phone.shows("#plan", PLAN["name"])
    assert int(await phone.reads("#to-come")) > 100
    assert "so far" in await phone.reads("#clip")
    assert "in the end" in await phone.reads("#clip")
    # Whichever test came before, the evening has gone on: the exposure may be that of the day or of the night.
    assert re.match(r"(1/\d+|\d+(\.\d)?) s, f/2\.8\n", await phone.reads("#exposure"))
    assert "ISO" in await phone.reads("#exposure")
    assert (await phone.reads("#interval")).endswith(" s")
    assert (await phone.reads("#gap")).endswith(" s")
    assert (await phone.reads("#scene")).endswith(" EV")
    assert re.search("twilight|day|night", await phone.reads("#sun"))
    assert "GB" in await phone.reads("#card") + await phone.reads("#rig")
    assert (await phone.reads("#battery")).endswith(" %\nhours not\nknown yet")
    assert "left, ends" in await phone.reads("#left")
    assert await phone.reads("#zone") == "times of Europe/Stockholm"  # this phone is elsewhere
    heading = await phone.reads("#heading")
    assert re.match(r"Heading for interval \d+\.\d s, exposure .* s, f/2\.8, ISO \d+, by \d", heading)
    await phone.picture("shooting")


async def test_the_answers_stand_in_the_order_of_the_questions_on_one_screen(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await phone.rig.until_frames(2)
    await asyncio.sleep(2.5)
    order = ["#state", "#countdown", "#left", "#done", "#clip", "#interval", "#scene", "#card", "#picture-show"]
    boxes = [await phone.page.locator(selector).bounding_box() for selector in order]
    tops = [box["y"] for box in boxes if box]
    assert len(tops) == len(order)
    assert tops == sorted(tops)
    orders = await phone.page.locator("#orders").bounding_box()
    assert orders
    assert tops[-1] < orders["y"], "all of it without scrolling"
    assert orders["y"] + orders["height"] <= 780


async def test_countdown_and_frames_run_on(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    done = int(await phone.reads("#done"))
    seen: set[str] = set()
    async with asyncio.timeout(60):
        while len(seen) < 3:
            seen.add(await phone.reads("#countdown"))
            await asyncio.sleep(0.1)
    await phone.rig.until_frames(done + 4)
    await phone.until(f"Number(document.querySelector('#done').textContent) >= {done + 4}")


async def test_a_shoot_that_waits_says_when_it_starts(phone: Phone) -> None:
    await phone.rig.end()
    when = {"start": "noon", "stop": "noon+1h"}  # never near in an evening
    await phone.rig.call("POST", "shoots", json={"plan": PLAN | {"when": when}})
    await phone.open()
    await phone.shows("#state", "Waiting to start")
    state, link = [await phone.page.locator(selector).bounding_box() for selector in ("#state", "#link")]
    assert state
    assert link
    assert state["x"] + state["width"] + 8 <= link["x"]
    assert await phone.reads("#coming-name") == "Starts in"
    assert " h" in await phone.reads("#countdown") or " min" in await phone.reads("#countdown")
    await phone.picture("waiting")


async def test_the_last_picture_is_hidden_until_it_is_asked_for(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await phone.page.locator("#picture-show").wait_for()
    await expect(phone.page.locator("#picture-image")).to_be_hidden()
    assert not [url for url in phone.requests if "preview" in url]
    await phone.page.tap("#picture-show")
    await phone.until("document.getElementById('picture-image').naturalWidth > 0")
    assert await phone.page.evaluate("getComputedStyle(document.getElementById('picture-image')).filter") != "none"
    await phone.shows("#picture-name", "Frame ")
    await phone.until(
        "document.getElementById('picture-name').getBoundingClientRect().bottom"
        " <= document.querySelector('footer').getBoundingClientRect().top"
    )
    await phone.picture("picture")
    await phone.page.tap("#picture-show")
    await expect(phone.page.locator("#picture-image")).to_be_hidden()
