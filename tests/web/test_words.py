"""The page in each of its languages: the same words in the same places, and the page as its reader has it."""

import re
from typing import Any

import pytest
from playwright.async_api import Browser, expect

from api.page import WEB
from tests.support.dusk_rig import DuskRig
from tests.web.conftest import Phone

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

LANGUAGES = sorted(path.stem for path in (WEB / "words").glob("*.js"))

SHAPE = """
async () => {
  const shape = (value) => typeof value === "function" ? `function of ${value.length}`
    : Array.isArray(value) ? value.map(shape)
    : value !== null && typeof value === "object"
      ? Object.fromEntries(Object.keys(value).sort().map((key) => [key, shape(value[key])]))
    : typeof value === "string" ? (value.trim() ? "text" : "nothing") : typeof value;
  return shape({ ...(await import("/js/words.js")) });
}
"""


async def opened(browser: Browser, rig: DuskRig, language: str) -> Phone:
    context = await browser.new_context(viewport={"width": 360, "height": 780}, locale=language)
    return Phone(await context.new_page(), rig)


async def shape_of(browser: Browser, rig: DuskRig, language: str) -> Any:
    phone = await opened(browser, rig, language)
    await phone.page.goto(rig.url)
    assert await phone.page.get_attribute("html", "lang") == language
    shape = await phone.page.evaluate(SHAPE)
    await phone.page.context.close()
    return shape


async def test_each_language_has_the_same_words(browser: Browser, rig: DuskRig) -> None:
    assert len(LANGUAGES) >= 2
    english = await shape_of(browser, rig, "en")
    assert len(english) > 50
    for language in LANGUAGES:
        assert await shape_of(browser, rig, language) == english, language


async def test_what_needs_somebody_is_told_in_german(browser: Browser, rig: DuskRig) -> None:
    """The sentences of the rig are fetched once there is something to tell, and tried anew where they do not come."""
    await rig.shoot()
    now = await rig.until_frames(1)
    phone = await opened(browser, rig, "de")
    asked: list[str] = []
    phone.page.on("request", lambda request: asked.append(request.url.removeprefix(rig.url)))
    await phone.page.goto(rig.url)
    await phone.page.locator("#link", has_text="Live").wait_for()
    assert [url for url in asked if url.startswith("words/")] == []
    await phone.page.route("**/words/de/*", lambda route: route.abort())
    trouble = "the camera at usb: could not be opened (it did not answer in time)"
    now |= {"well": False, "attention": [f"Camera not there: {trouble}", "Camera battery at 12 %", f"New: {trouble}"]}
    now["camera"] |= {"connected": False, "trouble": trouble}
    await phone.told(now)
    await phone.until("document.querySelectorAll('#attention li').length === 3")
    assert "Camera battery at 12 %" in await phone.reads("#attention")
    await phone.page.unroute("**/words/de/*")
    await phone.shows("#attention", "Akku der Kamera bei 12")
    assert (await phone.reads("#attention")).splitlines() == [
        "Kamera nicht da: die Kamera an usb: ließ sich nicht öffnen (sie antwortete nicht rechtzeitig)",
        "Akku der Kamera bei 12 %",
        "New",
    ]
    await phone.picture("german-attention")
    await phone.page.context.close()


async def test_whether_all_is_ready_is_told_in_german(browser: Browser, rig: DuskRig) -> None:
    await rig.end()
    phone = await opened(browser, rig, "de")
    await phone.page.goto(f"{rig.url}#camera/checks")
    await phone.shows("#check-summary", re.compile("Bereit zur Aufnahme|zuerst beheben"))
    told = " ".join(await phone.page.locator("#findings li, #check-well li").all_text_contents())
    assert "Das Belichtungsprogramm ist manuell" in told
    assert [word for word in ("the", "body", "is", "of") if word in re.findall(r"\w+", told)] == []
    await phone.picture("german-checks")
    await phone.page.context.close()


async def test_in_english_no_sentence_is_fetched(phone: Phone) -> None:
    await phone.rig.shoot()
    now = await phone.rig.until_frames(1)
    await phone.told(now | {"well": False, "attention": ["Camera battery at 12 %"]})
    await phone.shows("#attention", "Camera battery at 12")
    await phone.page.evaluate("location.hash = 'camera'")
    await phone.page.locator("[data-part=checks]").wait_for()
    assert [url for url in phone.requests if "/words/" in url] == []


async def test_why_it_is_held_stands_there_in_german(browser: Browser, rig: DuskRig) -> None:
    await rig.shoot()
    shoot = (await rig.until_frames(1))["shoot"]["id"]
    await rig.call("POST", f"shoots/{shoot}/hold")
    phone = await opened(browser, rig, "de")
    await phone.page.goto(rig.url)
    await phone.shows("#plan", "Grund: von Hand angehalten")
    await rig.call("POST", f"shoots/{shoot}/resume")
    await phone.page.context.close()


async def test_the_page_in_german(browser: Browser, rig: DuskRig) -> None:
    await rig.shoot()
    phone = await opened(browser, rig, "de")
    await phone.page.goto(rig.url)
    await expect(phone.page.locator("#state")).to_have_text("Nimmt auf")
    await expect(phone.page.locator("#well")).to_have_text("Alles in Ordnung.")
    await rig.until_frames(3)
    await phone.until("/\\d,\\d\u00a0s/.test(document.querySelector('#interval').textContent)")  # a decimal comma
    await phone.picture("german")
    await phone.page.context.close()


async def test_a_language_can_be_chosen_and_is_kept(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.open()
    await phone.page.evaluate("location.hash = 'phone'")
    await phone.page.click("#language [data-value=de]")
    await expect(phone.page.locator("#state")).to_have_text("Nimmt auf")
    await phone.page.goto(phone.rig.url)
    await expect(phone.page.locator("#hold")).to_have_text("Halt…")
    await phone.page.goto(f"{phone.rig.url}#phone")
    await phone.page.click("#language [data-value='']")
    await expect(phone.page.locator("#state")).to_have_text("Shooting")
