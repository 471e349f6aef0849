"""Holding, on the page: what it costs stands there before, it may go on by itself, and a test frame can be taken
meanwhile; and the ways back to the plan's own."""

import re

import pytest
from playwright.async_api import expect

from tests.web.conftest import Phone
from tests.web.test_effects import STEADY, row, told

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

SLOTS = 12  # that may pass between a look and a change: the rig's clock runs 30 times faster than the wall's


async def enabled(phone: Phone) -> None:
    """The change that stands there can be made: what it comes to is told."""
    await told(phone)
    await phone.page.locator("#change-do:enabled").wait_for(timeout=90_000)


async def test_what_a_hold_costs_stands_there_before_it_is_held(phone: Phone) -> None:
    """20 s apart, 40 minutes are 120 frames; at 25 pictures a second 4.8 s of clip."""
    shoot = await phone.rig.shoot(pace=STEADY)
    await phone.open()
    await phone.page.tap("#hold")
    await phone.page.fill("#hold-for", "40")
    await enabled(phone)
    await phone.shows("#hold-says", "Held until you resume")
    said = await phone.reads("#effect-says")
    cost = re.fullmatch(r"(\d+) frames fewer, clip ([\d.]+) s shorter, same end\.", said)
    assert cost, said
    assert int(cost[1]) == pytest.approx(120, abs=SLOTS)
    assert float(cost[2]) == pytest.approx(4.8, abs=0.2)
    stands, then = await row(phone, "frames")
    assert int(stands) - int(then) == int(cost[1])
    assert len(set(await row(phone, "end"))) == 1
    await phone.picture("hold-before")
    await phone.page.fill("#hold-for", "0")
    await phone.shows("#effect-says", "It needs a number of minutes")
    await expect(phone.page.locator("#change-do")).to_be_disabled()
    assert (await phone.rig.call("GET", f"shoots/{shoot}"))["state"] == "shooting"


async def test_a_hold_that_ends_by_itself_says_when_and_what_it_comes_to(phone: Phone) -> None:
    shoot = await phone.rig.shoot(pace=STEADY)
    await phone.open()
    await phone.page.tap("#hold")
    await phone.page.fill("#hold-for", "20")
    await phone.page.tap("label:has(#hold-by-itself)")
    await enabled(phone)
    _, foretold = await row(phone, "frames")
    at = re.search(r"Goes on by itself at (.*)\.", await phone.reads("#hold-says"))
    assert at
    await phone.picture("hold-for-a-time")
    await phone.page.tap("#change-do")
    await phone.shows("#said", "Held. Goes on by itself at")
    await phone.shows("#state", "Held")
    await phone.shows("#coming-name", "Goes on in")
    await phone.shows("#left", "Goes on by itself at")
    assert "waits for you" not in await phone.reads("#well")
    held = await phone.rig.call("GET", f"shoots/{shoot}")
    assert held["hold_s"] == 1200
    await phone.shows("#while-held", "Going on then: ", within_s=60)
    whole = re.search(r"Going on then: (\d+) frames in the end", await phone.reads("#while-held"))
    assert whole
    assert int(whole[1]) == pytest.approx(int(foretold), abs=SLOTS)
    await phone.picture("held-for-a-time")
    frames = (await phone.rig.call("GET", "now"))["frames_done"]
    await phone.shows("#state", "Shooting", within_s=120)  # twenty minutes by the rig's clock are 40 s
    after = await phone.rig.until_frames(frames + 1)
    assert after["frames_missed"] == pytest.approx(0, abs=SLOTS)


async def test_a_hold_is_made_longer_or_without_an_end_while_it_lasts(phone: Phone) -> None:
    shoot = await phone.rig.shoot(pace=STEADY)
    await phone.rig.call("POST", f"shoots/{shoot}/hold", json={"for_s": 7200})
    await phone.open()
    await phone.shows("#coming-name", "Goes on in")
    await phone.page.tap("#change")
    await phone.page.tap("[data-part=hold]")
    await phone.page.fill("#hold-for", "180")
    await enabled(phone)
    await phone.page.tap("#change-do")
    await expect(phone.page.locator("#change-sheet")).to_be_hidden()
    assert (await phone.rig.call("GET", f"shoots/{shoot}"))["hold_s"] == 10_800
    await phone.page.tap("#change")
    await phone.page.tap("[data-part=hold]")
    await phone.page.tap("label:has(#hold-by-itself)")
    await enabled(phone)
    await phone.page.tap("#change-do")
    await phone.shows("#left", "No release until you resume")
    await expect(phone.page.locator("#countdown")).to_be_hidden()
    assert (await phone.rig.call("GET", f"shoots/{shoot}"))["held_until_utc"] is None


async def test_a_test_frame_is_taken_while_it_is_held(phone: Phone) -> None:
    shoot = await phone.rig.shoot(pace=STEADY)
    await phone.open()
    await expect(phone.page.locator("#test")).to_be_hidden()
    await phone.hold()
    well = (await phone.rig.call("GET", "now"))["well"]  # a busy machine may have missed slots
    await phone.shows("#well", "it waits for you" if well else "need")
    await phone.page.tap("#test")
    await phone.page.locator("[data-part=frame][open]").wait_for()
    assert await phone.page.locator("#test-iso option").first.inner_text() == "as the shoot"
    await phone.page.tap("#test-frame")
    await phone.shows("#test-result", "On the card", within_s=60)
    name = re.search(r"\S+\.JPG", await phone.reads("#test-result"))
    assert name
    await phone.picture("test-frame-held")
    await phone.rig.call("POST", f"shoots/{shoot}/resume")
    await phone.rig.until_frames((await phone.rig.call("GET", "now"))["frames_done"] + 2)
    log = await phone.rig.call("GET", f"shoots/{shoot}/frames?newest=true&limit=50")
    assert log
    assert not [each for each in log if name[0] in str(each["camera_file"])]


async def test_the_way_back_to_the_plan_is_told_before_it_is_gone(phone: Phone) -> None:
    shoot = await phone.rig.shoot(pace=STEADY)
    await phone.open()
    await phone.page.tap("#change")
    await expect(phone.page.locator("label:has(#own)")).to_be_hidden()  # there is nothing to go back from
    await phone.rig.call("POST", f"shoots/{shoot}/pace", json={"to_s": 28.0})
    await phone.rig.call("POST", f"shoots/{shoot}/light", json={"bias_ev": -1.0, "iso": [100, 400]})
    await phone.shows("#change-others", "has just been changed")
    await phone.page.tap("[data-part=pace]")
    await phone.page.tap("label:has(#own)")
    await enabled(phone)
    looked = await phone.rig.call("POST", f"shoots/{shoot}/effect", json={"pace": {"to": "plan"}})
    stands, then = await row(phone, "frames")
    assert int(then) == pytest.approx(looked["then"]["frames"], abs=SLOTS)
    assert int(then) > int(stands)
    assert (await row(phone, "interval"))[1] == "20.0 s"
    await phone.picture("back-to-plan")
    await phone.page.fill("#pace-to", "24")  # another wish takes its place
    await expect(phone.page.locator("#own")).not_to_be_checked()
    await phone.page.tap("label:has(#own)")
    await enabled(phone)
    await phone.page.tap("#change-do")
    await phone.shows("#said", "The plan's own again")
    await phone.page.tap("#change")
    await phone.page.tap("[data-part=limits]")
    await phone.page.tap("label:has(#own)")
    await enabled(phone)
    await phone.page.tap("#change-do")
    await expect(phone.page.locator("#change-sheet")).to_be_hidden()
    assert (await phone.rig.call("GET", f"shoots/{shoot}"))["adjust"] == {}


async def test_what_is_chosen_is_said_at_once_and_in_one_voice(phone: Phone) -> None:
    """The line below goes with the box, before anything is worked out; and the sheet has the name of what it does."""
    await phone.rig.shoot(pace=STEADY)
    await phone.open()
    await phone.page.tap("#hold")
    await phone.shows("#change-title", "Hold")
    tapped = "() => { document.getElementById('hold-by-itself').click();"
    tapped += " return document.getElementById('hold-says').textContent; }"
    assert (await phone.page.evaluate(tapped)).startswith("Goes on by itself at")
    assert (await phone.page.evaluate(tapped)).startswith("Held until you resume")
    await phone.page.tap("[data-part=pace]")
    await phone.shows("#change-title", "Change")
    await phone.page.tap("#change-sheet .leave")
