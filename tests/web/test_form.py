"""The page's form: for gloves, for the dark, for narrow screens and slow links. WCAG 2.2 numbers its rules."""

import asyncio
import io

import pytest
from PIL import Image

from tests.web.conftest import Phone
from tests.web.test_files import contrast

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

SHEETS = ("", "#pace", "#start")

TARGETS = """
() => [...document.querySelectorAll("button, input:not([type=radio]), label.choice, a, select")]
  .filter((element) => element.checkVisibility() && !element.closest("noscript"))
  .map((element) => ({ name: element.id || element.textContent, box: element.getBoundingClientRect() }))
  .map(({ name, box }) => [name, box.width, box.height])
"""

TEXTS = """
() => [...document.querySelectorAll("body *")].filter((element) => element.checkVisibility() &&
    [...element.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim()))
  .map((element) => {
    let behind = element;
    while (behind && getComputedStyle(behind).backgroundColor === "rgba(0, 0, 0, 0)") behind = behind.parentElement;
    const style = getComputedStyle(element), svg = element instanceof SVGElement;
    return [element.textContent.trim().slice(0, 40), svg ? style.fill : style.color,
            getComputedStyle(behind ?? document.documentElement).backgroundColor];
  })
"""


async def open_sheet(phone: Phone, sheet: str) -> None:
    """The page shooting, or with a sheet open over it."""
    if sheet == "#start":
        await phone.rig.end()
        for name in ("pier", "quay-at-dusk-with-a-name-that-is-longer-than-a-line"):
            plan = {"name": name, "site": {"latitude": 57.7, "longitude": 11.95}, "when": {"start": "sunset-45min"}}
            plan |= {"pace": {"kind": "steady", "interval_s": 5}}
            plan |= {"light": {"kind": "fixed", "shutter_s": 0.01, "aperture": 4, "iso": 100}}
            await phone.rig.call("PUT", f"plans/{name}", json=plan)
    else:
        await phone.rig.shoot()
    await phone.open()
    if sheet:
        await phone.page.tap(sheet)
        await phone.page.locator(f"{sheet}-sheet").wait_for()
    else:
        await phone.rig.until_frames(4)
        await phone.page.locator("#curves svg").wait_for()
        await phone.page.tap("#picture-show")


def grey(colour: str) -> str:
    parts = [int(part) for part in colour.removeprefix("rgb(").removesuffix(")").split(",")]
    return "#" + "".join(f"{part:02x}" for part in parts)


@pytest.mark.parametrize("sheet", SHEETS)
async def test_targets_suit_gloves_and_text_can_be_read(phone: Phone, sheet: str) -> None:
    await open_sheet(phone, sheet)
    targets = await phone.page.evaluate(TARGETS)
    assert len(targets) >= 3
    assert [target for target in targets if target[1] < 48 or target[2] < 48] == []  # 2.5.5 wants 44
    texts = await phone.page.evaluate(TEXTS)
    assert len(texts) >= 3
    weak = [(*text, ratio) for text in texts if (ratio := contrast(grey(text[1]), grey(text[2]))) < 4.5]  # 1.4.3
    assert weak == []


@pytest.mark.parametrize("sheet", SHEETS)
async def test_nothing_runs_off_a_narrow_screen(phone: Phone, sheet: str) -> None:
    await open_sheet(phone, sheet)
    for width in (320, 360):  # 1.4.10: 320 CSS pixels
        await phone.page.set_viewport_size({"width": width, "height": 640})
        await asyncio.sleep(0.4)
        wide = await phone.page.evaluate(
            "[document.documentElement.scrollWidth, ...[...document.querySelectorAll('body *')]"
            ".filter((e) => e.checkVisibility()).map((e) => e.getBoundingClientRect().right)]"
        )
        assert max(wide) <= width + 0.5
    await phone.page.set_viewport_size({"width": 320, "height": 640})
    await phone.picture(f"narrow{sheet.replace('#', '-')}")


async def test_every_control_has_a_name_and_can_be_reached_by_keyboard(phone: Phone) -> None:
    await open_sheet(phone, "#pace")
    names = await phone.page.evaluate(
        "[...document.querySelectorAll('button, input')].filter((e) => e.checkVisibility())"
        ".map((e) => e.getAttribute('aria-label') || e.textContent || e.labels?.[0]?.textContent)"
    )
    assert all(names)
    await phone.page.keyboard.press("Escape")
    assert not await phone.page.locator("#pace-sheet").is_visible()
    reached = set()
    for _ in range(8):
        await phone.page.keyboard.press("Tab")
        reached.add(await phone.page.evaluate("document.activeElement.id"))
    assert {"hold", "pace", "stop"} <= reached


async def test_nothing_flashes_while_the_page_loads(phone: Phone) -> None:
    """The worst moment is the one before the style sheet is there: here it never comes."""
    await phone.page.route("**/page.css", lambda route: route.abort())
    await phone.page.goto(phone.rig.url)
    assert await mean_light(phone) < 60
    assert all("ERR_FAILED" in fault for fault in phone.faults)
    phone.faults.clear()
    await phone.page.unroute("**/page.css")
    await phone.open()
    assert await mean_light(phone) < 30


async def mean_light(phone: Phone) -> float:
    """Mean of the screen's pixels, 0 to 255."""
    pixels = Image.open(io.BytesIO(await phone.page.screenshot())).convert("L").tobytes()
    return sum(pixels) / len(pixels)


async def test_the_page_is_light_on_the_link(phone: Phone) -> None:
    await phone.rig.shoot()
    sizes: dict[str, int] = {}

    async def weigh(request) -> None:
        if "/api/" not in request.url:
            measured = await request.sizes()
            sizes[request.url] = measured["responseBodySize"] + measured["responseHeadersSize"]

    phone.page.on("requestfinished", weigh)
    await phone.open()
    await phone.page.locator("#curves").wait_for(state="attached")
    await asyncio.sleep(1)
    assert len(sizes) >= 8
    assert sum(sizes.values()) <= 100_000
    assert len(phone.requests) <= 12
