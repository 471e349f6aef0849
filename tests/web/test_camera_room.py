"""The room for the cameras, in Chromium, against a real rig and a simulated body that tells its own live view, dials
and exposures: what the page says is held against those."""

import asyncio
import re
from typing import Any

import pytest
from playwright.async_api import expect

from tests.support.dusk_rig import DuskRig, dusk_rig
from tests.web.conftest import Phone
from tests.web.screens import THEMES, dress
from tests.web.test_files import contrast
from tests.web.test_rules import TARGETS, TEXTS, WIDE, axe, hexed

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

BY_ITSELF, BY_HAND = 0, 4
"""Values of the body's focus mode: AF-S, MF (selection)."""

PARTS = ("look", "frame", "checks", "settings", "timing")
REFUSED = "Failed to load resource"
"""What Chromium writes where the rig refuses, which some tests want."""


@pytest.fixture(scope="module")
def rig(tmp_path_factory: pytest.TempPathFactory):
    with dusk_rig(tmp_path_factory.mktemp("camera"), maker="nikon") as running:
        yield running


def body(rig: DuskRig) -> dict[str, Any]:
    """The body's own dials, and whether its live view is on."""
    return rig.camera.control("settings")


async def until_live_view(rig: DuskRig, on: bool) -> None:
    async with asyncio.timeout(60):
        while body(rig)["live_view"] is not on:
            await asyncio.sleep(0.1)


async def enter(phone: Phone, *parts: str) -> None:
    """The room, with these of its parts opened."""
    await phone.open()
    await phone.page.evaluate("location.hash = 'camera'")
    await phone.page.locator("#camera-parts > details").first.wait_for()
    await open_parts(phone, *parts)


async def open_parts(phone: Phone, *parts: str) -> None:
    for part in parts:
        await phone.page.tap(f"[data-part={part}] > summary")
        await phone.page.locator(f"[data-part={part}] > .stack > *").first.wait_for(state="attached")


async def free(phone: Phone, *parts: str) -> None:
    """The same, with no shoot at work and the dials where a shoot wants them."""
    await phone.rig.end()
    await phone.rig.until(lambda now: now["camera"]["connected"])
    for setting, value in (("nikon_autofocus_mode", BY_HAND), ("nikon_iso_auto", 0), ("exposure_program", 1)):
        phone.rig.camera.control("turn", setting=setting, value=value)
    await enter(phone, *parts)


async def turned_by_hand(phone: Phone, check: str, setting: str, value: int) -> None:
    """Turn a dial of the body, and wait until the rig finds it: the body tells of it in its own time."""
    phone.rig.camera.control("turn", setting=setting, value=value)
    async with asyncio.timeout(60):
        while not [
            one for one in (await phone.rig.call("GET", "check"))["findings"] if one["check"] == check and one["fix"]
        ]:
            await asyncio.sleep(0.3)


def asked(phone: Phone, call: str) -> list[str]:
    return [url for url in phone.requests if call in url]


# ---- how it stands


async def test_the_room_asks_nothing_of_the_camera_until_a_part_is_opened(phone: Phone) -> None:
    await free(phone)
    told = await phone.reads("#camera-stands")
    assert re.search(r"\d+ %", told)
    assert "GB" in told
    assert "frames" in told
    assert asked(phone, "/cameras") + asked(phone, "/check") == []
    assert not body(phone.rig)["live_view"]


async def test_several_cameras_can_be_chosen_and_the_heater_is_told(phone: Phone) -> None:
    await phone.rig.end()
    now = await phone.rig.call("GET", "now")
    other = now["camera"] | {"id": "camera-2", "model": "Other body", "connected": False, "trouble": "it is asleep"}
    heater = {"on": True, "temperature_c": -2.5, "humidity_percent": 91, "dew_point_c": -3.7, "trouble": None}
    await phone.told(now | {"beside": [other], "heater": heater})
    await phone.page.evaluate("location.hash = 'camera'")
    await phone.shows("#camera-which", "camera-2")
    await expect(phone.page.locator("[data-camera=camera-1]")).to_have_attribute("aria-pressed", "true")
    await phone.page.tap("[data-camera=camera-2]")
    await expect(phone.page.locator("[data-camera=camera-2]")).to_have_attribute("aria-pressed", "true")
    await phone.shows("#camera-stands", "Other body")
    await phone.shows("#camera-stands", "it is asleep")
    heated = await phone.reads("#camera-heater")
    assert all(text in heated for text in ("on", "−2.5 °C", "91 %", "−3.7 °C"))
    await phone.picture("camera-two")


async def test_who_may_only_look_is_offered_no_change(phone: Phone) -> None:
    await phone.rig.end()
    await phone.open()
    await phone.page.evaluate("document.documentElement.dataset.rights = 'view'")
    await phone.page.evaluate("location.hash = 'camera'")
    await phone.page.locator("#camera-parts > details").first.wait_for()
    assert await phone.page.locator("[data-part=look], [data-part=frame]").count() == 0
    await expect(phone.page.locator("#camera-tool")).to_be_hidden()
    await phone.page.tap("[data-part=settings] > summary")
    await phone.page.locator("[data-setting=iso]").wait_for()
    assert await phone.page.locator("#settings select, #settings button").count() == 0
    await phone.page.tap("[data-part=timing] > summary")
    await phone.page.locator("#timing > *").first.wait_for()
    assert await phone.page.locator("#beat").count() == 0


# ---- is it ready


async def test_findings_come_worst_first_and_can_be_mended(phone: Phone) -> None:
    await free(phone)
    await turned_by_hand(phone, "focus", "nikon_autofocus_mode", BY_ITSELF)
    await phone.page.tap("[data-part=checks] > summary")
    fix = phone.page.locator("li[data-check=focus] .fix")
    await expect(fix).to_have_text(re.compile("^Set Focus to “.+”$"), timeout=60000)
    levels = await phone.page.locator("#findings li").evaluate_all("(all) => all.map((one) => one.dataset.level)")
    assert levels == sorted(levels, key=["fail", "warn", "pass"].index)
    assert levels[0] == "fail"
    shapes = await phone.page.locator("#findings li").evaluate_all(
        "(all) => all.map((one) => [one.dataset.level, one.querySelector('path').getAttribute('d'),"
        " one.querySelector('.level').textContent])"
    )
    assert len({shape for _, shape, _ in shapes}) == len({level for level, _, _ in shapes}), "told by shape"
    assert len({word for _, _, word in shapes}) == len({level for level, _, _ in shapes}), "and by word"
    await phone.picture("camera-checks")
    await fix.focus()
    await phone.page.keyboard.press("Enter")
    await expect(fix).to_have_count(0, timeout=60000)
    assert body(phone.rig)["nikon_autofocus_mode"] > 2, "the body itself says so"
    await phone.until("document.activeElement.id === 'check-summary'")
    await expect(phone.page.locator("#check-well li[data-check=focus]")).to_have_count(1)


async def test_all_that_can_be_set_is_set_by_one_button(phone: Phone) -> None:
    await free(phone)
    await turned_by_hand(phone, "focus", "nikon_autofocus_mode", BY_ITSELF)
    await turned_by_hand(phone, "automatic ISO", "nikon_iso_auto", 1)
    await phone.page.tap("[data-part=checks] > summary")
    await expect(phone.page.locator("#fix-all")).to_have_text(re.compile("^Set all 2 of these$"), timeout=60000)
    await phone.page.tap("#fix-all")
    await expect(phone.page.locator("li[data-check=focus] .fix")).to_have_count(0, timeout=60000)
    assert body(phone.rig)["nikon_autofocus_mode"] > 2
    assert body(phone.rig)["nikon_iso_auto"] == 0


async def test_a_check_for_the_plan_that_runs_mends_nothing_meanwhile(phone: Phone) -> None:
    await free(phone)
    await phone.rig.shoot()
    await turned_by_hand(phone, "focus", "nikon_autofocus_mode", BY_ITSELF)
    await phone.page.tap("[data-part=checks] > summary")
    await expect(phone.page.locator("#check-plan option:checked")).to_contain_text("quay-at-dusk, which runs")
    fix = phone.page.locator("li[data-check=focus] .fix")
    await expect(fix).to_be_disabled(timeout=90000)
    await phone.shows("[data-part=checks]", "Hold it first")
    phone.rig.camera.control("turn", setting="nikon_autofocus_mode", value=BY_HAND)


# ---- settings


async def test_a_setting_is_set_and_read_back(phone: Phone) -> None:
    await free(phone, "settings")
    await phone.page.locator("#setting-iso").wait_for(timeout=60000)
    for value in ("800", "200"):
        before = body(phone.rig)["exposure_index"]
        await phone.page.select_option("#setting-iso", value)
        await expect(phone.page.locator("[data-setting=iso] .set")).to_have_text(f"Set ISO to “{value}”")
        await asyncio.sleep(0.5)
        assert body(phone.rig)["exposure_index"] == before, "choosing alone sets nothing"
        await phone.page.tap("[data-setting=iso] .set")
        await phone.shows("#said", f"ISO: {value}")
        assert body(phone.rig)["exposure_index"] == int(value)
        await expect(phone.page.locator("[data-setting=iso] .set")).to_be_hidden()
    await phone.picture("camera-settings")


async def test_a_refusal_stands_at_its_setting_with_the_remedy(phone: Phone) -> None:
    await free(phone, "settings")
    select = phone.page.locator("#setting-shutter")
    await select.wait_for(timeout=60000)
    phone.rig.camera.control("turn", setting="exposure_program", value=3)  # by its dial: it chooses the time itself
    await select.select_option("1/4")
    await phone.page.tap("[data-setting=shutter] .set")
    await phone.shows("[data-setting=shutter] .trouble", "Turn the camera's mode dial to M")
    await phone.until("document.querySelector('#setting-exposure_mode').value !== 'M'")  # all is read back
    assert await select.input_value() != "1/4"
    await phone.picture("camera-refusal")
    phone.faults[:] = [fault for fault in phone.faults if REFUSED not in fault]


async def test_a_setting_that_has_no_name_is_told_in_words(phone: Phone) -> None:
    code, other = "Unknown value 0001", "Unknown value 0002"
    setting = {"setting": "format", "control": "x", "value": code, "choices": [code, other, "RAW"], "writable": True}
    setting |= {"number": None, "instead": None, "unnamed": {code: "0001", other: "0002"}}
    await phone.page.route("**/settings", lambda route: route.fulfill(json=[setting]))
    await free(phone, "settings")
    options = await phone.page.locator("#setting-format option").all_inner_texts()
    assert "not known by name (the body says 0001)" in options[0]
    assert "Unknown" not in " ".join(options)
    assert await phone.page.locator("#setting-format option").first.get_attribute("value") == code


async def test_no_setting_is_offered_while_a_shoot_runs(phone: Phone) -> None:
    await free(phone, "settings")
    mode = phone.page.locator("#setting-exposure_mode")
    await mode.wait_for(timeout=60000)
    await phone.rig.shoot()
    await phone.shows("#settings-locked", "Hold it first")
    await expect(phone.page.locator("#settings .setting").first).to_be_visible(timeout=60000)
    for control in await phone.page.locator("#settings select, #settings button").all():
        await expect(control).to_be_hidden()
    await phone.picture("camera-settings-locked")
    shoot = (await phone.rig.call("GET", "now"))["shoot"]["id"]
    await phone.rig.call("POST", f"shoots/{shoot}/hold")
    await expect(phone.page.locator("#settings-locked")).to_be_hidden()
    await expect(mode).to_be_visible(timeout=60000)
    for setting in ("shutter", "aperture", "iso"):
        await expect(phone.page.locator(f"#setting-{setting}")).to_be_hidden()
        await phone.shows(f"[data-setting={setting}]", "set by the shoot")


# ---- a test frame


async def test_two_taps_take_one_test_frame_and_its_picture_comes_on_tap(phone: Phone) -> None:
    await free(phone, "frame")
    before = len(phone.rig.camera.record())
    await phone.page.select_option("#test-iso", "400")
    await phone.page.evaluate("() => { const one = document.getElementById('test-frame'); one.click(); one.click(); }")
    await phone.page.locator("#test-tap").wait_for(timeout=60000)
    (taken,) = phone.rig.camera.record()[before:]
    assert taken["iso"] == pytest.approx(400, rel=0.15)  # ISO 12232 rounds
    told = await phone.reads("#test-result")
    assert "ISO 400" in told
    assert taken["files"][0].rpartition("/")[2] in told
    assert not asked(phone, "test-frame.jpg"), "no picture comes unasked"
    await phone.page.tap("#test-tap")
    await phone.until("document.querySelector('#test-picture img')?.naturalWidth > 0")
    await phone.picture("camera-frame")
    assert len(phone.rig.camera.record()) == before + 1


async def test_the_next_test_frame_is_another_one(phone: Phone) -> None:
    """With the same settings too: an order that was answered is over."""
    await free(phone, "frame")
    before = len(phone.rig.camera.record())
    for number in (1, 2):
        await phone.page.tap("#test-frame:enabled")
        await phone.until("document.getElementById('test-frame').disabled")
        await phone.page.locator("#test-frame:enabled").wait_for(timeout=60_000)
        taken = phone.rig.camera.record()[before:]
        assert len(taken) == number
        assert taken[-1]["files"][0].rpartition("/")[2] in await phone.reads("#test-result")


async def test_a_test_frame_is_not_offered_while_a_shoot_has_the_camera(phone: Phone) -> None:
    await phone.rig.shoot()
    await enter(phone, "frame")
    await expect(phone.page.locator("#test-frame")).to_be_disabled()
    await phone.shows("[data-part=frame]", "Hold it first, or wait for its end")


async def test_a_test_frame_is_not_offered_without_a_camera(phone: Phone) -> None:
    await phone.rig.end()
    now = await phone.rig.call("GET", "now")
    await phone.told(now)
    await expect(phone.page.locator("#test")).to_be_visible()
    for camera in (now["camera"], *now["beside"]):
        camera["connected"] = False
    await phone.told(now)
    await phone.page.locator("#start").wait_for()
    await expect(phone.page.locator("#test")).to_be_hidden()
    await phone.page.evaluate("location.hash = 'camera/frame'")
    await expect(phone.page.locator("#test-frame")).to_be_disabled()
    await phone.shows("[data-part=frame]", "The camera is not there")


# ---- timing


async def test_what_was_learned_is_what_the_rig_tells(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.rig.until_frames(4)
    await phone.rig.end()
    await enter(phone, "timing")
    await expect(phone.page.locator("#timing > *")).not_to_have_count(0)
    timed = await phone.rig.call("GET", "cameras/camera-1/timing")
    tables = await phone.page.locator("#timing table").count()
    assert tables == len(timed["timings"])
    if timed["safe"] is None:
        await phone.shows("#timing", "Nothing is known of this body yet")
    else:
        await phone.shows("#timing", "at least")


async def test_the_steady_beat_takes_two_taps_and_ends_with_the_part(phone: Phone) -> None:
    await free(phone, "timing")
    before = len(phone.rig.camera.record())
    await phone.shows("[data-part=timing]", "stay on the card")
    await phone.page.tap("#beat")
    await phone.shows("#beat", "Take up to 96 frames now")
    assert not asked(phone, "/beat")
    await phone.page.tap("#beat")
    async with asyncio.timeout(60):
        while len(phone.rig.camera.record()) < before + 3:
            await asyncio.sleep(0.1)
    await phone.page.tap("[data-part=timing] > summary")
    closed = len(phone.rig.camera.record())
    async with asyncio.timeout(90):  # the camera is free again: it can be had for a test frame
        while True:
            try:
                await phone.rig.call("POST", "cameras/camera-1/test-frame", json={})
                break
            except AssertionError:
                await asyncio.sleep(0.5)
    after = len(phone.rig.camera.record()) - closed
    assert after <= 9, "a run of eight under way, at most, and that test frame"


# ---- the rules, with every part open


@pytest.mark.parametrize("theme", THEMES)
async def test_the_open_parts_keep_the_rules(phone: Phone, theme: str) -> None:
    await dress(phone, theme)
    await free(phone)
    phone.rig.camera.control("turn", setting="nikon_autofocus_mode", value=BY_ITSELF)
    await open_parts(phone, *PARTS)
    await phone.page.locator("#setting-iso").wait_for(timeout=60000)
    await phone.page.tap("#camera-tool")
    await phone.page.locator("#trend path.line[d^=M]").wait_for(timeout=60000, state="attached")
    await phone.page.locator("#look-picture").scroll_into_view_if_needed()
    await phone.page.tap("#look-picture", position={"x": 200, "y": 100})
    await phone.page.locator("#look-whole").wait_for(timeout=60000)
    await phone.page.locator("#findings .fix").first.wait_for(timeout=60000)
    await asyncio.sleep(1.2)  # colours move for a second
    await phone.picture(f"camera-open-{theme}")
    assert await axe(phone) == []
    targets = await phone.page.evaluate(TARGETS)
    assert [target for target in targets if target[1] < 48 or target[2] < 48] == []
    texts = await phone.page.evaluate(TEXTS)
    assert [text for text in texts if contrast(hexed(text[1]), hexed(text[2])) < 4.5] == []
    await phone.page.set_viewport_size({"width": 320, "height": 640})
    await asyncio.sleep(0.5)
    assert max(await phone.page.evaluate(WIDE)) <= 321
    await phone.picture(f"camera-open-narrow-{theme}")
