"""What is chosen of a list can be read as far as it matters: a field of that kind cuts off what is too long for it."""

from __future__ import annotations

import re

import pytest

from tests.web.conftest import Phone
from tests.web.screens import SCREENS, speak
from tests.web.test_plans_room import EVENING, unfold

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

ARROW_PX = 20
"""Of a list's arrow: as Chromium draws it."""
MEASURE = """
([selector, arrow, part]) => {
  const list = document.querySelector(selector), style = getComputedStyle(list), line = document.createElement("span");
  line.style.cssText = `position: absolute; white-space: nowrap; font: ${style.font}`;
  document.body.append(line);
  const room = list.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight) - arrow;
  const texts = [...list.options].map((option) => part ? option.text.match(new RegExp(part))?.[0] : option.text);
  const found = texts.map((text) => { line.textContent = text; return [text, line.getBoundingClientRect().width]; });
  line.remove();
  return [texts.length, found.filter(([text, width]) => !text || width > room).map((one) => [...one, room])];
}
"""


async def too_long(phone: Phone, selector: str, part: str | None = None) -> list[object]:
    """Of the choices of a list those whose text, or that part of it, does not fit, with its width and the room."""
    count, found = await phone.page.evaluate(MEASURE, [selector, ARROW_PX, part])
    assert count > 2
    return list(found)


@pytest.mark.parametrize("language", ["en", "de"])
async def test_how_fast_it_plays_can_be_read(phone: Phone, language: str) -> None:
    await phone.page.set_viewport_size({"width": 320, "height": 780})
    await speak(phone, language)
    await SCREENS["frames"](phone)
    assert await too_long(phone, "#speed") == []


@pytest.mark.parametrize("language", ["en", "de"])
async def test_the_time_of_a_sun_event_is_never_cut_off(phone: Phone, language: str) -> None:
    await phone.page.set_viewport_size({"width": 320, "height": 780})
    await speak(phone, language)
    await edit_in(phone)
    texts = await phone.page.locator("#plan-start-event option").all_inner_texts()
    assert sum(bool(re.search(r"\d:\d\d", text)) for text in texts) == 9, texts  # every event is on this day
    for field in ("#plan-start-event", "#plan-stop-event"):
        assert await too_long(phone, field, r"^.*\d:\d\d") == []


async def edit_in(phone: Phone) -> None:
    """The editor in whichever language: `edit` waits for English words."""
    await phone.rig.end()
    await phone.rig.call("PUT", f"plans/{EVENING['name']}", json=EVENING)
    await phone.open()
    await phone.page.evaluate(f"location.hash = 'plans/{EVENING['name']}'")
    await phone.page.locator("#plan-start-event option", has_text=re.compile(r"\d:\d\d")).first.wait_for(
        state="attached"
    )
    await unfold(phone)
