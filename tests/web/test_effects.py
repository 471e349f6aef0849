"""What a change comes to stands on the page before it is made, and is what the rig says and then does."""

import asyncio
import re
from collections.abc import AsyncIterator
from pathlib import Path

import pytest
import pytest_asyncio
from playwright.async_api import Browser, Route, expect

from tests.support.dusk_rig import dusk_rig
from tests.web.conftest import Phone

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

STEADY = {"kind": "steady", "interval_s": 20.0}
LONG_S = 120  # an effect is worked out in a process of its own, beside whatever else the machine does


async def opened(phone: Phone, part: str) -> None:
    """Open the sheet at a part, its effect told."""
    await phone.open()
    await phone.page.tap("#change")
    await phone.page.tap(f"[data-part={part}]")
    await told(phone)


async def told(phone: Phone) -> None:
    """Wait until the effect of what stands in the fields is told."""
    await asyncio.sleep(0.5)  # a change is looked at a moment after it
    await phone.page.locator("#effect-says", has_not_text="Working out").wait_for(timeout=LONG_S * 1000)


async def row(phone: Phone, name: str) -> tuple[str, str]:
    """A row of the effect: how it stands, and then."""
    cells = [
        text.replace("\u00a0", " ") for text in await phone.page.locator(f"[data-row='{name}'] td").all_inner_texts()
    ]
    return cells[0], cells[1]


async def test_twice_as_often_is_twice_the_frames_before_and_after(phone: Phone) -> None:
    """Four hours of 20 s each are 720 frames; half the interval from now on doubles those that are to come."""
    shoot = await phone.rig.shoot(pace=STEADY)
    await opened(phone, "pace")
    await phone.page.fill("#pace-to", "10")
    await phone.page.fill("#pace-over", "0")
    await told(phone)
    stands, then = (int(text) for text in await row(phone, "frames"))
    assert stands == pytest.approx(720, abs=5)
    # 4 % a frame at most (docs/plan.md): some 18 slots pass on the way, so a few less than twice as many.
    assert 1250 < then < 1440
    clip = (await row(phone, "clip"))[0]
    assert float(clip.removesuffix(" s")) == pytest.approx(stands / 25, abs=0.1)
    assert (await row(phone, "interval")) == ("20.0 s", "10.0 s")
    assert (await row(phone, "end"))[0] == (await row(phone, "end"))[1]
    said = re.match(r"([\d,]+) frames more, clip .* longer, same end", await phone.reads("#effect-says"))
    assert said
    assert int(said[1].replace(",", "")) == then - stands
    await phone.picture("change-pace")
    await phone.page.tap("#change-do")
    await phone.shows("#said", "Going to 10.0 s, then stays there until the end")
    after = await phone.rig.call("POST", f"shoots/{shoot}/effect", json={})
    assert after["stands"]["frames"] == pytest.approx(then, rel=0.02)
    await phone.rig.until(lambda now: now["interval_s"] == pytest.approx(10.0))


async def test_steps_go_to_round_values(phone: Phone) -> None:
    await phone.rig.shoot(pace=STEADY)
    await opened(phone, "pace")
    for value, by, expected in (("22.3", 1, "23"), ("22.3", -1, "22"), ("9", 1, "9.5"), ("10", -1, "9.5")):
        await phone.page.fill("#pace-to", value)
        await phone.page.tap(f"[data-step=pace-to][data-by='{by}']")
        assert await phone.page.input_value("#pace-to") == expected
    await phone.page.tap("[data-part=brightness]")
    seen = []
    for _ in range(4):
        await phone.page.tap("[data-step=bias][data-by='1']")
        seen.append(await phone.page.input_value("#bias"))
    assert seen == ["0.33", "0.67", "1", "1.33"]  # thirds of a stop, as dials are marked: common practice, no source
    for _ in range(5):
        await phone.page.tap("[data-step=bias][data-by='-1']")
    assert await phone.page.input_value("#bias") == "-0.33"


@pytest_asyncio.fixture(loop_scope="module")
async def early(browser: Browser, tmp_path: Path) -> AsyncIterator[Phone]:
    """A phone before a rig whose evening has just begun, whichever tests were before: the limits are still to come."""
    with dusk_rig(tmp_path) as rig:
        context = await browser.new_context(viewport={"width": 360, "height": 780}, has_touch=True, is_mobile=True)
        yield Phone(await context.new_page(), rig)
        await context.close()


async def test_brightness_says_when_a_limit_is_met_earlier(early: Phone) -> None:
    phone = early
    shoot = await phone.rig.shoot()
    await opened(phone, "brightness")
    assert await phone.reads("#effect-says") == "Nothing is changed yet."
    for _ in range(3):
        await phone.page.tap("[data-step=bias][data-by='1']")
    await told(phone)
    # A stop brighter is an exposure twice as long: 15 s are reached while the sun stands higher than before.
    stands, then = await row(phone, "longest shutter")
    looked = await phone.rig.call("POST", f"shoots/{shoot}/effect", json={"light": {"bias_ev": 1.0}})
    first = {
        course: next(
            met["from_sun_altitude_deg"] for met in looked[course]["limits"] if met["limit"] == "longest shutter"
        )
        for course in ("stands", "then")
    }
    assert first["then"] > first["stands"] + 0.5
    assert stands != then
    assert stands.startswith("from ")
    await phone.picture("change-brightness")
    await phone.page.tap("#change-do")
    await phone.shows("#said", "Bias +1 EV")
    assert (await phone.rig.call("GET", f"shoots/{shoot}"))["adjust"] == {"bias_ev": 1.0}


async def test_limits_are_those_of_dials_and_say_what_the_camera_has_not(phone: Phone) -> None:
    shoot = await phone.rig.shoot()
    await opened(phone, "limits")
    assert await phone.reads("#shutter_s-1") == "15 s"
    assert await phone.reads("#iso-1") == "3,200" or await phone.reads("#iso-1") == "3200"
    for expected in ("13 s", "10 s", "8 s"):
        await phone.page.tap("[data-step='shutter_s-1'][data-by='-1']")
        assert await phone.reads("#shutter_s-1") == expected
    for _ in range(10):
        await phone.page.tap("[data-step='iso-1'][data-by='1']")
    await told(phone)
    assert "beyond this camera" in await phone.reads("#effect-words")
    await phone.picture("change-limits")
    for _ in range(10):
        await phone.page.tap("[data-step='iso-1'][data-by='-1']")
    await phone.page.tap("#change-do")
    await phone.shows("#said", "New limits")
    assert (await phone.rig.call("GET", f"shoots/{shoot}"))["adjust"] == {"shutter_s": [0.0005, 8.0]}


async def test_what_a_plan_fixes_cannot_be_changed(phone: Phone) -> None:
    await phone.rig.shoot(light={"kind": "fixed", "shutter_s": 0.01, "aperture": 4.0, "iso": 100}, pace=STEADY)
    await opened(phone, "brightness")
    await phone.shows("#change-sheet", "This plan fixes the exposure")
    await expect(phone.page.locator("#change-do")).to_be_disabled()
    await phone.page.tap("[data-part=pace]")
    await phone.page.fill("#pace-to", "15")
    await expect(phone.page.locator("#change-do")).to_be_enabled(timeout=LONG_S * 1000)


async def test_an_effect_that_cannot_be_told_blocks_nothing(phone: Phone) -> None:
    shoot = await phone.rig.shoot(pace=STEADY)
    await phone.page.route("**/effect", lambda route: route.abort("connectionreset"))
    await phone.open()
    await phone.page.tap("#change")
    await phone.page.fill("#pace-to", "15")
    await phone.shows("#effect-says", "is not known")
    assert await row(phone, "frames") == ("not known", "not known")
    await phone.page.tap("#change-do")
    await phone.shows("#said", "Going to 15.0 s")
    assert (await phone.rig.call("GET", f"shoots/{shoot}"))["adjust"]["pace"]["to_s"] == 15
    phone.faults[:] = [fault for fault in phone.faults if "ERR_CONNECTION_RESET" not in fault]


async def test_an_effect_of_another_value_is_never_shown(phone: Phone) -> None:
    """The answer to an older value comes late: what stands there is that of the last one."""
    await phone.rig.shoot(pace=STEADY)
    await opened(phone, "pace")

    async def late(route: Route) -> None:
        answer = await route.fetch()
        if '"to_s":10' in (route.request.post_data or ""):
            await asyncio.sleep(3)
        await route.fulfill(response=answer)

    await phone.page.route("**/effect", late)
    await phone.page.fill("#pace-to", "10")
    await asyncio.sleep(0.6)
    await phone.page.fill("#pace-to", "30")
    assert (await row(phone, "frames"))[1] == "…"
    await told(phone)
    stands, then = (int(text) for text in await row(phone, "frames"))
    assert then < stands
    await asyncio.sleep(4)
    assert int((await row(phone, "frames"))[1]) == then
    await phone.page.unroute_all(behavior="ignoreErrors")


async def test_nothing_can_be_confirmed_before_its_effect_is_told(phone: Phone) -> None:
    await phone.rig.shoot(pace=STEADY)
    answered = asyncio.Event()

    async def late(route: Route) -> None:
        answer = await route.fetch()
        await answered.wait()
        await route.fulfill(response=answer)

    await phone.page.route("**/effect", late)
    await phone.open()
    await phone.page.tap("#change")
    confirm = phone.page.locator("#change-do")
    await confirm.wait_for()
    assert await row(phone, "frames") == ("…", "…"), "nobody has been asked yet, so it is not unknown"
    await expect(confirm).to_be_disabled()
    answered.set()
    await phone.shows("#effect-says", "Nothing is changed yet", LONG_S)
    await expect(confirm).to_be_disabled()  # two taps with nothing touched change no pace
    answered.clear()
    await phone.page.fill("#pace-to", "10")
    await expect(confirm).to_be_disabled()
    await phone.shows("#effect-says", "Working out")
    await phone.page.press("#pace-to", "Enter")
    await expect(confirm).to_be_disabled()
    answered.set()
    await expect(confirm).to_be_enabled(timeout=LONG_S * 1000)
    assert "more" in await phone.reads("#effect-says")
    assert not [url for url in phone.requests if url.endswith("/pace")]


async def test_a_pace_that_makes_no_sense_stays_in_the_sheet(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await phone.page.tap("#change")
    await phone.page.fill("#pace-to", "")
    await phone.shows("#effect-says", "Both need a number", LONG_S)
    await expect(phone.page.locator("#change-do")).to_be_disabled()
    await phone.page.press("#pace-to", "Enter")
    assert not [url for url in phone.requests if url.endswith("/pace")]
    await phone.page.tap("#change-sheet .leave")
    await expect(phone.page.locator("#change-sheet")).to_be_hidden()


async def test_what_the_rig_refuses_is_said_with_its_remedy_before_and_after(phone: Phone) -> None:
    await phone.rig.shoot()
    await opened(phone, "pace")
    await phone.page.fill("#pace-to", "0.2")
    await phone.page.fill("#pace-over", "0")
    await told(phone)
    refused = await phone.reads("#effect-says")
    assert re.search(r"\d.*\. .", refused), refused
    await phone.page.tap("#change-do")
    await phone.shows("#change-sheet .trouble", "was not done")
    assert refused in await phone.reads("#change-sheet .trouble")
    await phone.picture("refused")
    assert (await phone.rig.call("GET", "now"))["shoot"]["adjust"].get("pace") is None
    assert phone.faults
    assert all("422" in fault for fault in phone.faults)  # Chromium notes each answer of 4xx
    phone.faults.clear()


async def test_a_sheet_that_is_open_tells_what_others_do(phone: Phone) -> None:
    shoot = await phone.rig.shoot(pace=STEADY)
    await opened(phone, "pace")
    await phone.page.fill("#pace-to", "15")
    await phone.rig.call("POST", f"shoots/{shoot}/light", json={"bias_ev": 0.5})
    await phone.shows("#change-others", "has just been changed")
    await expect(phone.page.locator("#change-do")).to_be_enabled(timeout=LONG_S * 1000)
    await phone.rig.call("POST", f"shoots/{shoot}/stop")
    await phone.shows("#change-sheet .trouble", "has ended meanwhile: stopped")
    await expect(phone.page.locator("#change-do")).to_be_disabled()
    await phone.picture("ended-elsewhere")


async def test_a_change_whose_answer_is_lost_is_made_once(phone: Phone) -> None:
    shoot = await phone.rig.shoot(pace=STEADY)
    await opened(phone, "pace")
    keys: list[str] = []

    async def swallow(route: Route) -> None:
        keys.append(route.request.headers["idempotency-key"])
        if len(keys) > 1:
            return await route.continue_()
        await route.fetch()
        await route.abort("connectionreset")

    await phone.page.route("**/pace", swallow)
    await phone.page.fill("#pace-to", "25")
    await phone.page.fill("#pace-over", "60")
    await phone.page.tap("#change-do")
    await phone.shows("#change-sheet .trouble", "no answer from the rig")
    begun = (await phone.rig.call("GET", f"shoots/{shoot}"))["adjust"]["pace"]["start_utc"]
    await phone.page.tap("#change-do")
    await phone.shows("#said", "Going to 25.0 s")
    assert keys[0] == keys[1]
    assert (await phone.rig.call("GET", f"shoots/{shoot}"))["adjust"]["pace"]["start_utc"] == begun
    phone.faults[:] = [fault for fault in phone.faults if "ERR_CONNECTION_RESET" not in fault]


async def test_an_effect_that_is_long_in_coming_is_waited_for_as_long_as_one_likes(phone: Phone) -> None:
    """After 15 s, made short here, it says that it still works, and can be done without."""
    shoot = await phone.rig.shoot(pace=STEADY)
    answered = asyncio.Event()
    await phone.page.route("**/effect", lambda route: answered.wait())
    await phone.open()
    await phone.page.evaluate(
        "() => { const later = window.setTimeout;"
        "  window.setTimeout = (act, ms, ...of) => later(act, ms === 15000 ? 1500 : ms, ...of); }"
    )
    await phone.page.tap("#change")
    await phone.page.fill("#pace-to", "15")
    await phone.shows("#effect-says", "Still working out")
    await phone.picture("effect-slow")
    await expect(phone.page.locator("#change-do")).to_be_disabled()
    await phone.page.tap("#effect-enough")
    await phone.shows("#effect-says", "is not known")
    await expect(phone.page.locator("#effect-enough")).to_be_hidden()
    await phone.page.tap("#change-do")
    await phone.shows("#said", "Going to 15.0 s")
    assert (await phone.rig.call("GET", f"shoots/{shoot}"))["adjust"]["pace"]["to_s"] == 15
    answered.set()
