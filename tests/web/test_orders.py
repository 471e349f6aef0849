"""What a person can order, in Chromium against a real rig: hold, resume, stop, change, start; nothing done twice."""

import asyncio
import re

import pytest
from playwright.async_api import Route, expect

from tests.support.dusk_rig import ENDED, PLAN
from tests.web.conftest import Phone

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]


async def test_hold_and_resume(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await phone.hold()
    await phone.shows("#state", "Held")
    await phone.rig.until_state("held")
    await expect(phone.page.locator("#countdown")).to_be_hidden()
    await phone.shows("#while-held", "Resumed now")
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
    for order in ("#hold", "#change", "#stop"):
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


async def test_stop_says_what_the_clip_comes_to_before_it_is_done(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.rig.until_frames(3)
    await phone.open()
    await phone.until("Number(document.querySelector('#done').textContent) >= 3")
    await phone.page.tap("#stop")
    text = await phone.reads("#said-text")
    said = re.search(r"Stops in \d s, with (\d+) frames, clip ([\d.]+) s of ([\d.]+) s", text)
    assert said, text
    frames, clip_s, whole_s = int(said[1]), float(said[2]), float(said[3])
    assert frames >= 3
    assert clip_s == pytest.approx(frames / 25, abs=0.06)  # 25 pictures a second, as docs/plan.md has it where left out
    assert whole_s > clip_s
    await phone.page.tap("#said-button")


FOCUS = "document.activeElement.id"


async def test_the_keyboard_goes_on_where_an_order_took_its_place(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await phone.page.focus("#hold")
    await phone.page.keyboard.press("Enter")
    await phone.page.locator("#change-do:enabled").wait_for(timeout=90_000)
    await phone.page.focus("#change-do")
    await phone.page.keyboard.press("Enter")
    await phone.until(f"{FOCUS} === 'resume'")
    await phone.page.keyboard.press("Enter")
    await phone.until(f"{FOCUS} === 'hold'")
    await phone.page.focus("#stop")
    await phone.page.keyboard.press("Enter")
    await phone.until(f"{FOCUS} === 'said-button'")
    await phone.shows("#said-button", "Do not stop")
    for rooms in ("#rooms", "#rooms-there"):  # black and lamp would hide it
        await expect(phone.page.locator(rooms)).to_be_disabled()
    await phone.page.keyboard.press("Escape")
    await phone.shows("#said", "Not stopped")
    await phone.until(f"{FOCUS} === 'stop'")
    await expect(phone.page.locator("#rooms")).to_be_enabled()
    assert not [url for url in phone.requests if url.endswith("/stop")]
    await phone.page.keyboard.press("Enter")
    await phone.shows("#state", "Stopped")
    await phone.until(f"{FOCUS} === 'standing'")
    await phone.page.evaluate("location.hash = 'phone'")
    await phone.until(f"{FOCUS} === 'room-title'")
    await phone.page.tap("#room-back")
    await phone.until(f"{FOCUS} === 'standing'")


async def test_what_is_said_is_heard_by_a_screen_reader(phone: Phone) -> None:
    """A live region is announced when it changes while it is in the tree (WAI-ARIA 1.2, live region roles; ARIA22)."""
    await phone.rig.shoot()
    await phone.open()
    status = phone.page.locator("footer").get_by_role("status")  # by the tree: what is hidden is not in it
    assert await status.count() == 1
    await expect(status).to_be_empty()
    await phone.hold()
    await expect(status).to_contain_text("Held.")
    await expect(phone.page.locator("#said-text")).to_be_empty(timeout=30_000)
    assert await status.count() == 1


async def test_while_held_it_says_what_going_on_comes_to_and_what_more_hold_costs(phone: Phone) -> None:
    shoot = await phone.rig.shoot(pace={"kind": "steady", "interval_s": 20.0})
    await phone.open()
    await phone.hold()
    await phone.shows("#while-held", "Resumed now", within_s=60)
    await phone.shows("#while-held", "Ten more minutes of hold cost", within_s=60)
    for _ in range(20):  # the rig's clock runs on: its figures are those of the line above, at any moment
        above, below = await phone.page.evaluate(
            "['clip', 'while-held'].map((id) => document.getElementById(id).textContent)"
        )
        assert re.search(r", (\d.*) in the end", above)[1] == re.search(r"in the end, clip (.*?), ends", below)[1]
        await asyncio.sleep(0.1)
    said = await phone.reads("#while-held")
    cost = re.search(r"Ten more minutes of hold cost (\d+) frames, ([\d.]+) s of clip", said)
    assert cost, said
    assert int(cost[1]) == pytest.approx(30, abs=1)  # 600 s of 20 s each
    assert float(cost[2]) == pytest.approx(30 / 25, abs=0.1)
    whole = re.search(r"(\d+) frames in the end", said)
    assert whole
    looked = await phone.rig.call("POST", f"shoots/{shoot}/effect", json={})
    assert int(whole[1]) == pytest.approx(looked["stands"]["frames"], abs=20)  # the rig's clock runs on meanwhile
    await phone.picture("held-costs")
    await phone.page.tap("#resume")
    await expect(phone.page.locator("#while-held")).to_be_hidden()


async def test_a_test_frame_is_offered_where_no_shoot_has_the_camera(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await expect(phone.page.locator("#test")).to_be_hidden()
    await phone.rig.end()
    await phone.page.tap("#test")
    await phone.page.locator("[data-part=frame][open]").wait_for()


# ---- starting


async def kept(phone: Phone, **plans: dict[str, object]) -> None:
    """End whatever runs, and keep these plans."""
    await phone.rig.end()
    for name, changes in plans.items():
        await phone.rig.call("PUT", f"plans/{name}", json=PLAN | changes | {"name": name})


async def test_starting_a_plan_that_is_kept_on_the_rig(phone: Phone) -> None:
    await kept(phone, pier={"when": {"start": "noon", "duration": "1h"}}, quay={})
    await phone.open()
    await phone.page.tap("#start")
    await phone.shows("#start-comes", "Begins ", within_s=60)
    await phone.shows("#start-comes", "180 frames, clip 7.2 s")  # an hour of 20 s each, at 25 pictures a second
    await phone.shows("#start-do", "Start at ")
    await phone.page.tap("#start-plans label:has-text('quay')")
    await phone.shows("#start-comes", "Begins now", within_s=60)
    await phone.shows("#start-do", "Start now")
    await phone.picture("start")
    await phone.page.tap("#start-do")
    await phone.shows("#state", "Shooting", within_s=30)
    assert (await phone.rig.call("GET", "now"))["shoot"]["plan_name"] == "quay"


async def test_a_plan_can_begin_now_or_at_a_time_and_is_kept_as_it_was(phone: Phone) -> None:
    when = {"start": "noon", "duration": "1h"}
    await kept(phone, pier={"when": when})
    await phone.open()
    await phone.page.tap("#start")
    await phone.page.tap("#start-begins label:has-text('At a time')")
    await phone.shows("#start-comes", "Give a time")
    await expect(phone.page.locator("#start-do")).to_be_disabled()
    await phone.page.fill("#start-at", "1130")
    await phone.shows("#start-do", "11:30", within_s=60)
    await phone.page.tap("#start-do")
    await phone.shows("#state", "Waiting to start")
    await phone.rig.until(lambda now: now["shoot"]["plan"]["when"]["start"] == "11:30")
    await phone.rig.call("POST", f"shoots/{(await phone.rig.call('GET', 'now'))['shoot']['id']}/stop")
    await phone.page.locator("#start").wait_for()
    await phone.page.tap("#start")
    await phone.page.tap("#start-begins label:has-text('Now')")
    await phone.shows("#start-do", "Start now", within_s=60)
    await phone.page.tap("#start-do")
    await phone.shows("#state", "Shooting", within_s=30)
    kept_when = (await phone.rig.call("GET", "plans/pier"))["when"]
    assert kept_when == kept_when | when  # as it was


async def test_whether_the_rig_is_ready_is_told_when_it_is_asked(phone: Phone) -> None:
    await kept(phone, quay={})
    await phone.open()
    await phone.page.tap("#start")
    await phone.shows("#start-comes", "Begins now", within_s=60)
    assert not [url for url in phone.requests if "/check" in url]
    await phone.page.tap("#ready")
    await phone.page.locator("#ready-says", has_text=re.compile("eady")).wait_for(timeout=90_000)
    checked = await phone.rig.call("GET", "check?plan=quay")
    said = await phone.reads("#ready-says")
    assert said.startswith("Ready" if checked["ready"] else "Not ready")
    worst = next((each for each in checked["findings"] if each["level"] != "pass"), None)
    assert worst is None or worst["what"] in said


async def test_without_a_plan_there_is_nothing_to_start(phone: Phone) -> None:
    await phone.rig.end()
    await phone.open()
    await phone.page.tap("#start")
    await phone.shows("#start-sheet .trouble", "No plan is kept")
    assert "api" not in await phone.reads("#start-sheet .trouble"), "said to somebody with a phone"
    await expect(phone.page.locator("#start-do")).to_be_disabled()


# ---- nothing is done twice, on however many phones


async def test_a_start_whose_answer_is_lost_is_done_once(phone: Phone) -> None:
    """A link that swallows the answer: the rig has got it, the phone does not know. A second tap is the same order."""
    await kept(phone, quay={})
    before = len(await phone.rig.call("GET", "shoots"))
    await phone.open()
    await phone.page.tap("#start")
    keys: list[str] = []

    async def swallow(route: Route) -> None:
        if route.request.method != "POST":
            return await route.continue_()
        keys.append(route.request.headers["idempotency-key"])
        if len(keys) > 1:
            return await route.continue_()
        await route.fetch()
        await route.abort("connectionreset")

    await phone.page.route("**/api/v1/shoots", swallow)
    await phone.page.tap("#start-do")
    await phone.shows("#start-sheet .trouble", "no answer from the rig")
    await phone.page.tap("#start-do")
    await expect(phone.page.locator("#start-sheet")).to_be_hidden()
    await phone.shows("#state", "Shooting", within_s=30)
    assert len(keys) == 2
    assert keys[0] == keys[1]
    shoots = await phone.rig.call("GET", "shoots")
    assert len(shoots) == before + 1
    assert [each["state"] for each in shoots[before:] if each["state"] not in ENDED] == ["shooting"]
    phone.faults[:] = [fault for fault in phone.faults if "ERR_CONNECTION_RESET" not in fault]


async def test_two_phones_show_the_same(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    other = Phone(await phone.page.context.new_page(), phone.rig)
    await other.open()
    await phone.hold()
    await other.shows("#state", "Held")
    await other.page.tap("#resume")
    await phone.shows("#state", "Shooting")


async def test_three_phones_that_hold_at_once_hold_once(phone: Phone) -> None:
    shoot = await phone.rig.shoot()
    await phone.open()
    phones = [phone] + [Phone(await phone.page.context.new_page(), phone.rig) for _ in range(2)]
    for each in phones[1:]:
        await each.open()
    for each in phones:
        await each.page.evaluate("document.getElementById('hold').click()")
        await each.page.locator("#change-do:enabled").wait_for(timeout=90_000)
    await asyncio.gather(*(each.page.evaluate("document.getElementById('change-do').click()") for each in phones))
    for each in phones:
        await each.shows("#state", "Held")
    assert (await phone.rig.call("GET", f"shoots/{shoot}"))["state"] == "held"
