"""What holds on every screen, in both themes: WCAG 2.2 by axe-core's rules, and by figures of our own where it is
silent: targets for gloves, contrast down to the last text, narrow screens. Where words decide, in German too: it has
the longer ones."""

import asyncio
from pathlib import Path
from typing import Any

import pytest

from tests.web.conftest import Phone
from tests.web.screens import SCREENS, THEMES, dress, speak
from tests.web.test_files import contrast

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

AXE = Path(__file__).parent / "node_modules" / "axe-core" / "axe.min.js"
"""axe-core, pinned in package-lock.json: the rules tagged WCAG 2.0 to 2.2, levels A and AA, and its best practices."""

TARGETS = """
() => [...document.querySelectorAll(
    "button, input:not([type=radio], [type=checkbox]), label.choice, a, select, textarea, summary")]
  .filter((element) => element.checkVisibility({ visibilityProperty: true }) && !element.closest("noscript"))
  .map((element) => ({ name: element.id || element.textContent, box: element.getBoundingClientRect() }))
  .map(({ name, box }) => [name, box.width, box.height])
"""

TEXTS = """
() => [...document.querySelectorAll("body *")]
  .filter((element) => element.checkVisibility({ visibilityProperty: true }))
  .filter((element) => [...element.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim()))
  .map((element) => {
    let behind = element;
    while (behind && getComputedStyle(behind).backgroundColor === "rgba(0, 0, 0, 0)") behind = behind.parentElement;
    const style = getComputedStyle(element), svg = element instanceof SVGElement;
    return [element.textContent.trim().slice(0, 40), svg ? style.fill : style.color,
            getComputedStyle(behind ?? document.documentElement).backgroundColor];
  })
"""

WIDE = """
() => [document.documentElement.scrollWidth, ...[...document.querySelectorAll('body *')]
  .filter((e) => e.checkVisibility() && !e.closest('[data-scrolls]'))
  .map((e) => Math.round(e.getBoundingClientRect().right))]
"""

CLIPPED = """
() => [...document.querySelectorAll("button, a, label, summary, h1, h2, h3, h4, dt, dd, p, li, td, th, output, small")]
  .filter((e) => e.checkVisibility() && e.clientWidth > 1 && e.scrollWidth > e.clientWidth + 1)
  .map((e) => [e.id || e.textContent.trim().slice(0, 40), e.scrollWidth, e.clientWidth])
"""


RINGS = """
() => {
  const shown = (element) => element.checkVisibility({ visibilityProperty: true });
  const words = [];
  const walk = document.createTreeWalker(document.querySelector("dialog[open]") ?? document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const text = walk.currentNode;
    if (!text.data.trim() || !shown(text.parentElement)) continue;
    const range = document.createRange();
    range.selectNodeContents(text);
    for (const box of range.getClientRects()) words.push([text, box]);
  }
  const touched = [];
  for (const field of document.querySelectorAll("input:not([type=radio], [type=checkbox]), select, textarea")) {
    if (!shown(field) || (document.querySelector("dialog[open]") && !field.closest("dialog[open]"))) continue;
    const ring = field.getBoundingClientRect(), reach = 5; // an outline of 3 px, 2 px off
    for (const [text, box] of words) {
      if (field.contains(text) || getComputedStyle(text.parentElement).position === "fixed") continue;
      const beside = box.left >= ring.right + reach || box.right <= ring.left - reach;
      if (!beside && box.top < ring.bottom + reach && box.bottom > ring.top - reach)
        touched.push([field.id, text.data.trim().slice(0, 40), box.top - ring.bottom, ring.top - box.bottom]);
    }
  }
  return touched;
}
"""


def hexed(colour: str) -> str:
    parts = [int(float(part)) for part in colour.partition("(")[2].rstrip(")").split(",")[:3]]
    return "#" + "".join(f"{part:02x}" for part in parts)


async def axe(phone: Phone) -> list[dict[str, Any]]:
    """Violations that axe-core finds on what is shown now."""
    await phone.page.evaluate(AXE.read_text())
    found = await phone.page.evaluate("axe.run(document, { resultTypes: ['violations'] })")
    assert len(found["passes"]) > 5, "it has looked"
    return [
        {"rule": one["id"], "at": [node["target"] for node in one["nodes"]][:4], "help": one["help"]}
        for one in found["violations"]
    ]


@pytest.mark.parametrize("screen", SCREENS)
async def test_a_screen_keeps_the_rules(phone: Phone, screen: str) -> None:
    await phone.page.emulate_media(reduced_motion="reduce")  # else colours move for a second
    await dress(phone, THEMES[0])
    await SCREENS[screen](phone)
    for theme in THEMES:
        await dress(phone, theme)
        await phone.picture(f"{screen}-{theme}")
        assert await axe(phone) == [], theme
        targets = await phone.page.evaluate(TARGETS)
        assert [one for one in targets if one[1] < 48 or one[2] < 48] == []  # 2.5.5 wants 44; gloves want 48
        texts = await phone.page.evaluate(TEXTS)
        weak = [(*text, ratio) for text in texts if (ratio := contrast(hexed(text[1]), hexed(text[2]))) < 4.5]  # 1.4.3
        assert weak == [], theme
    await fits(phone)
    await phone.picture(f"narrow-{screen}")


@pytest.mark.parametrize("screen", SCREENS)
async def test_a_screen_fits_in_german(phone: Phone, screen: str) -> None:
    await dress(phone, "night")
    await speak(phone, "de")
    await SCREENS[screen](phone)
    assert await phone.page.evaluate("document.documentElement.lang") == "de"
    await phone.picture(f"{screen}-de")
    await fits(phone)
    await phone.picture(f"narrow-{screen}-de")


async def fits(phone: Phone) -> None:
    """Nothing runs off a narrow screen, nor out of its place, and every target keeps its size."""
    for width in (360, 320):  # 1.4.10: 320 CSS pixels
        await phone.page.set_viewport_size({"width": width, "height": 640})
        await asyncio.sleep(0.3)
        assert max(await phone.page.evaluate(WIDE)) <= width + 1
        assert await phone.page.evaluate(CLIPPED) == [], width
        assert await phone.page.evaluate(RINGS) == [], width
        targets = await phone.page.evaluate(TARGETS)
        assert [one for one in targets if one[1] < 48 or one[2] < 48] == [], width


async def test_axe_finds_what_is_wrong(phone: Phone) -> None:
    """The rules are really asked: a button without a name and a text without contrast are found."""
    await SCREENS["go-to"](phone)
    await phone.page.evaluate(
        "() => { const bad = document.createElement('button'); document.getElementById('rooms-list').append(bad); }"
    )
    assert "button-name" in {one["rule"] for one in await axe(phone)}
