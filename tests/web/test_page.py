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
    assert (await phone.reads("#battery")).endswith(" %")
    assert "left, ends" in await phone.reads("#left")
    assert await phone.reads("#zone") == "phone time"
    assert (await phone.page.inner_text("body")).count("phone time") == 1
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


async def test_hold_and_resume(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await phone.page.tap("#hold")
    await phone.shows("#state", "Held")
    await phone.rig.until_state("held")
    await expect(phone.page.locator("#countdown")).to_be_hidden()
    await phone.shows("#while-held", "while held")
    await phone.picture("held")
    held = (await phone.rig.call("GET", "now"))["frames_done"]
    await phone.page.tap("#resume")
    await phone.shows("#state", "Shooting")
    await phone.rig.until_frames(held + 2)


async def test_stop_can_be_taken_back(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await phone.page.tap("#stop")
    await phone.shows("#said", "Stops in")
    for order in ("#hold", "#pace", "#stop"):
        await expect(phone.page.locator(order)).to_be_disabled()  # a hold would be stopped a moment later
    await phone.picture("stopping")
    await phone.shows("#said", "Stops in 2 s")
    await phone.page.tap("#said-button")
    await phone.shows("#said", "Not stopped")
    await expect(phone.page.locator("#hold")).to_be_enabled()
    await asyncio.sleep(6)
    assert (await phone.rig.call("GET", "now"))["shoot"]["state"] == "shooting"
    assert not [url for url in phone.requests if url.endswith("/stop")]


async def test_stop_stops_when_it_is_not_taken_back(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await phone.page.tap("#stop")
    await phone.shows("#state", "Stopped")
    await phone.rig.until_state("stopped")
    await phone.shows("#plan", "Why: stopped by hand")
    await expect(phone.page.locator("#start")).to_be_visible()
    await expect(phone.page.locator("#hold")).to_be_hidden()
    await phone.picture("stopped")


async def test_putting_the_phone_away_after_stop_stops_at_once(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await phone.page.tap("#stop")
    async with phone.page.expect_request("**/stop", timeout=2000):
        await phone.page.evaluate(
            "Object.defineProperty(document, 'visibilityState', {value: 'hidden'});"
            "document.dispatchEvent(new Event('visibilitychange'))"
        )
    await phone.rig.until_state("stopped")


async def test_a_page_that_is_left_after_stop_stops_at_once(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await phone.page.tap("#stop")
    async with phone.page.expect_request("**/stop", timeout=2000):
        await phone.page.evaluate("window.dispatchEvent(new Event('pagehide'))")
    await phone.rig.until_state("stopped")


async def test_the_stop_of_a_page_that_is_no_more_arrives(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await phone.page.tap("#stop")
    await phone.shows("#said", "Stops in")
    await phone.page.goto("about:blank")
    await phone.rig.until(
        lambda now: "stop" in str(now["shoot"]["cause"]), within_s=3
    )  # before the five seconds are over


async def test_changing_the_pace(phone: Phone) -> None:
    shoot = await phone.rig.shoot()
    await phone.open()
    await phone.page.tap("#pace")
    await phone.shows("#pace-now", "Now 2")
    await phone.shows("#pace-rule", "stays there until the end")
    await phone.shows("#pace-rule", "4 % a frame")  # max_change as docs/plan.md has it where a plan does not say
    assert float(await phone.page.input_value("#pace-to")) > 15
    before = float(await phone.page.input_value("#pace-to"))
    await phone.page.tap("[data-step=pace-to][data-by='1']")
    assert float(await phone.page.input_value("#pace-to")) == pytest.approx(before + 1)
    await phone.page.fill("#pace-to", "24")
    await phone.page.fill("#pace-over", "0")
    await phone.picture("pace")
    await phone.page.tap("#pace-do")
    await phone.shows("#said", "Going to 24.0 s, then stays there until the end")
    await phone.rig.until(lambda now: now["interval_s"] == pytest.approx(24))
    adjust = (await phone.rig.call("GET", f"shoots/{shoot}"))["adjust"]
    assert adjust["pace"]["to_s"] == 24


async def test_a_pace_that_makes_no_sense_stays_in_the_sheet(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await phone.page.tap("#pace")
    await phone.page.fill("#pace-to", "")
    await phone.page.tap("#pace-do")
    await phone.shows("#pace-trouble", "Both need a number")
    assert not [url for url in phone.requests if url.endswith("/pace")]
    await phone.page.tap("#pace-sheet .leave")
    await expect(phone.page.locator("#pace-sheet")).to_be_hidden()


async def test_what_the_rig_refuses_is_said_with_its_remedy(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await phone.page.tap("#pace")
    await phone.page.fill("#pace-to", "0.2")
    await phone.page.fill("#pace-over", "0")
    await phone.page.tap("#pace-do")
    await phone.shows("#pace-trouble", "was not done")
    await phone.picture("refused")
    assert (await phone.rig.call("GET", "now"))["shoot"]["adjust"].get("pace") is None
    assert len(phone.faults) == 1
    assert "422" in phone.faults.pop()  # Chromium notes each answer of 4xx


async def test_starting_a_plan_that_is_kept_on_the_rig(phone: Phone) -> None:
    await phone.rig.end()
    for name in ("pier", "quay-at-dusk"):
        await phone.rig.call("PUT", f"plans/{name}", json=PLAN | {"name": name})
    await phone.open()
    await phone.page.tap("#start")
    await phone.page.tap("#start-plans label:has-text('quay-at-dusk')")
    await phone.picture("start")
    await phone.page.tap("#start-do")
    await phone.shows("#state", "Shooting", within_s=20)
    assert (await phone.rig.call("GET", "now"))["shoot"]["plan_name"] == "quay-at-dusk"


async def test_without_a_plan_there_is_nothing_to_start(phone: Phone) -> None:
    await phone.rig.end()
    await phone.open()
    await phone.page.tap("#start")
    await phone.shows("#start-trouble", "No plan is kept")
    assert "api" not in await phone.reads("#start-trouble"), "said to somebody with a phone"
    await expect(phone.page.locator("#start-do")).to_be_disabled()


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
    await phone.picture("picture")
    await phone.page.tap("#picture-show")
    await expect(phone.page.locator("#picture-image")).to_be_hidden()


async def test_curves_over_the_suns_altitude(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await phone.rig.until_frames(12)
    await phone.until("document.querySelectorAll('#curves path.line').length >= 3")
    await phone.until(
        "[...document.querySelectorAll('#curves path.line')]"
        ".some((path) => path.getAttribute('d').split(/[ML]/).length > 10)"
    )
    said = await phone.page.get_attribute("#curves svg", "aria-label")
    assert said
    assert "sun from" in said
    points = await phone.page.evaluate(
        "[...document.querySelectorAll('#curves path.line')]"
        ".map((path) => path.getAttribute('d').split(/[ML]/).length - 1)"
    )
    assert max(points) >= 10
    labels = await phone.page.evaluate("[...document.querySelectorAll('#curves text')].map((text) => text.textContent)")
    assert {"EV at ISO 100", "Interval, s", "sun's altitude", "scene", "exposure"} <= set(labels)
    assert len([label for label in labels if label.endswith("°")]) >= 2
    await phone.page.locator("#curves svg").scroll_into_view_if_needed()
    await phone.page.evaluate("scrollTo(0, document.body.scrollHeight)")
    await phone.picture("curves")


async def test_two_phones_show_the_same(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    other = Phone(await phone.page.context.new_page(), phone.rig)
    await other.open()
    await phone.page.tap("#hold")
    await other.shows("#state", "Held")
    await other.page.tap("#resume")
    await phone.shows("#state", "Shooting")
