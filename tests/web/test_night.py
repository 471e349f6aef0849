"""The rooms for the dark, and those of the phone itself."""

import asyncio
import io
import signal

import pytest
from PIL import Image
from playwright.async_api import expect

from tests.web.conftest import Phone
from tests.web.screens import dress, enter_room
from tests.web.test_form import mean_light

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

LIT = "document.getElementById('black-mark').classList.contains('lit')"


async def in_the_dark(phone: Phone) -> None:
    """The black screen, its words gone."""
    await phone.rig.shoot()
    await phone.open()
    await enter_room(phone, "black")
    await expect(phone.page.locator("#black-text")).to_be_empty(timeout=15_000)


async def shape(phone: Phone) -> str:
    """The mark that is there: its element."""
    return str(await phone.page.evaluate("document.getElementById('black-mark').firstChild.outerHTML"))


async def test_the_black_screen_is_black_but_for_a_mark_with_each_frame(phone: Phone) -> None:
    await in_the_dark(phone)
    for _ in range(20):  # the next frame may come, and its mark, before a busy machine has the picture
        await phone.until(f"!({LIT})")
        pixels = Image.open(io.BytesIO(await phone.page.screenshot())).convert("RGB")
        if pixels.getextrema() == ((0, 0), (0, 0), (0, 0)):
            break
    else:
        pytest.fail(f"never black: {pixels.getextrema()}")
    await phone.picture("black")
    for _ in range(2):  # frames go on, and so does the mark
        await phone.until(LIT)
        lit = Image.open(io.BytesIO(await phone.page.screenshot())).convert("L")
        assert sum(1 for value in lit.tobytes() if value) < 100, "the smallest mark"
        await phone.until(f"!({LIT})")


async def test_a_tap_on_the_black_screen_tells_in_words(phone: Phone) -> None:
    await in_the_dark(phone)
    await phone.page.tap("#black", position={"x": 180, "y": 300})
    await phone.shows("#black-text", "Shooting. All is well.")
    await phone.shows("#black-text", "left, ends")
    await phone.picture("black-words")
    await phone.page.tap("#black-back")
    await phone.until("document.body.dataset.room === 'rig'")
    await expect(phone.page.locator("#orders")).to_be_visible()


async def test_the_mark_is_a_ring_while_held_and_a_cross_where_somebody_is_needed(phone: Phone) -> None:
    await in_the_dark(phone)
    shoot = (await phone.rig.call("GET", "now"))["shoot"]["id"]
    await phone.rig.call("POST", f"shoots/{shoot}/hold")
    await phone.until(f"({LIT}) && document.querySelector('#black-mark circle.stroke') !== null")
    await phone.rig.call("POST", f"shoots/{shoot}/resume")
    await phone.until("document.querySelector('#black-mark circle:not(.stroke)') !== null")
    phone.rig.process.send_signal(signal.SIGSTOP)  # the link is lost without a word
    try:
        await phone.until(f"({LIT}) && document.querySelector('#black-mark path') !== null")
        await phone.page.tap("#black", position={"x": 180, "y": 300})
        await phone.shows("#black-text", "No link")
    finally:
        phone.rig.process.send_signal(signal.SIGCONT)
    await phone.until("document.getElementById('link').textContent === 'Live'")
    # A rig that was stopped for so long may have slots that ask for attention: then the cross stays, and is right.
    well = (await phone.rig.call("GET", "now"))["well"]
    await phone.until(f"document.querySelector('#black-mark {'circle' if well else 'path'}') !== null")


async def test_the_lamp_begins_dark_and_is_as_bright_as_is_wanted(phone: Phone) -> None:
    await dress(phone, "night")
    await phone.rig.shoot()
    await phone.open()
    await enter_room(phone, "lamp")
    assert await mean_light(phone) < 15
    field = "getComputedStyle(document.getElementById('lamp-field')).backgroundColor"
    assert await phone.page.evaluate(field) == "rgb(5, 0, 0)"
    await phone.page.fill("#lamp-bright", "60")
    red = f"Number({field}.match(/\\d+/)[0])"
    assert await phone.page.evaluate(red) < 153, "it does not jump"
    await phone.until(f"{field} === 'rgb(153, 0, 0)'")
    await phone.shows("#lamp-told", "60 %")
    await phone.page.tap("[data-colour=white]")
    await phone.until(f"{field} === 'rgb(26, 26, 26)'")  # white does not come with all its light
    await phone.page.fill("#lamp-bright", "100")
    await phone.until(f"{field} === 'rgb(255, 255, 255)'")
    await phone.picture("lamp-white")
    await phone.page.tap("[data-colour=red]")
    await phone.until(f"{field} === 'rgb(255, 0, 0)'")
    await phone.shows("#lamp-says", "Next release in")
    await phone.page.tap("#lamp-back")
    await phone.until("document.body.dataset.room === 'rig'")


async def test_the_colours_are_the_phones_own_choice(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await enter_room(phone, "phone")
    for theme in ("night", "day"):
        await phone.page.tap(f"#theme [data-value={theme}]")
        await phone.until(f"document.documentElement.dataset.theme === '{theme}'")
        await phone.page.reload()
        await phone.until(f"document.documentElement.dataset.theme === '{theme}'")
        await expect(phone.page.locator(f"#theme [data-value={theme}]")).to_have_attribute("aria-pressed", "true")
    await phone.page.tap("#theme [data-value='']")
    assert "theme=" not in await phone.page.evaluate("document.cookie")
    await asyncio.sleep(1)


async def test_another_phone_is_let_in_from_here_and_put_out_again(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await enter_room(phone, "phone")
    await phone.page.tap("[data-invite=view]")
    await phone.shows("#invitation", "look only")
    code = (await phone.reads("#invitation")).split(": ")[1].split(".")[0]
    other = Phone(await (await phone.page.context.browser.new_context()).new_page(), phone.rig)  # type: ignore[union-attr]
    await other.page.set_extra_http_headers({"X-Forwarded-For": "192.0.2.9"})  # not this machine
    await other.page.goto(f"{phone.rig.url}#{code}")
    await other.shows("#link", "Live")
    await expect(other.page.locator("#hold")).to_be_hidden()
    await phone.page.reload()
    await phone.shows("#sessions", "may look")
    await phone.picture("access")
    await phone.page.tap("#sessions button")
    await phone.shows("#sessions button", "Sure?")
    await phone.page.tap("#sessions button")
    await expect(phone.page.locator("#sessions li")).to_have_count(0)
    await other.shows("#state", "Not paired", within_s=60)
    await other.page.context.close()
