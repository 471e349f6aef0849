"""Every screen of the page, and how one gets there: for the rules that hold on all of them."""

from __future__ import annotations

import asyncio
import re
import tempfile
from collections.abc import Awaitable, Callable
from pathlib import Path

from playwright.async_api import Route

from controller.daemon import Rig
from controller.words.clock import WallClock
from tests.web.conftest import Phone

ROOMS = ("frames", "camera", "plans", "black", "lamp", "phone")
THEMES = ("night", "day")

LONG_NAME = "quay-at-dusk-with-a-name-that-is-longer-than-a-line"


async def keep_plans(phone: Phone) -> None:
    """End whatever runs, and keep two plans, one of them with a long name."""
    await phone.rig.end()
    for name in ("pier", LONG_NAME):
        plan = {"name": name, "site": {"latitude": 57.7, "longitude": 11.95}, "when": {"start": "sunset-45min"}}
        plan |= {"pace": {"kind": "steady", "interval_s": 5}}
        plan |= {"light": {"kind": "fixed", "shutter_s": 0.01, "aperture": 4, "iso": 100}}
        await phone.rig.call("PUT", f"plans/{name}", json=plan)


async def _shooting(phone: Phone) -> None:
    """A shoot runs and has some frames; one that runs already serves."""
    shoot = (await phone.rig.call("GET", "now"))["shoot"]
    if shoot is not None and shoot["state"] == "held":
        await phone.rig.call("POST", f"shoots/{shoot['id']}/resume")
    elif shoot is None or shoot["state"] != "shooting":
        await phone.rig.shoot()
    await phone.rig.until_frames(6)


async def _rig(phone: Phone) -> None:
    await _shooting(phone)
    await phone.open()
    await phone.page.locator("#picture-show").wait_for()
    await phone.page.tap("#picture-show")


async def _rooms(phone: Phone) -> None:
    await _shooting(phone)
    await phone.open()
    await phone.page.tap("#rooms")
    await phone.page.locator("#rooms-sheet").wait_for()


async def _change(phone: Phone) -> None:
    await _shooting(phone)
    await phone.open()
    await phone.page.tap("#change")
    await phone.page.locator("dialog[open]").wait_for()


async def _hold(phone: Phone) -> None:
    await _shooting(phone)
    await phone.open()
    await phone.page.tap("#hold")
    await phone.page.tap("label:has(#hold-by-itself)")


async def _limits(phone: Phone) -> None:
    await _change(phone)
    await phone.page.tap("[data-part=limits]")
    await phone.page.tap("#change-sheet summary")


async def _change_told(phone: Phone) -> None:
    """What a change comes to stands there, with every row that it may have."""
    await _change(phone)
    await phone.page.tap("[data-step=pace-to][data-by='1']")
    await phone.page.locator("#change-do:enabled").wait_for(timeout=90_000)


async def _limits_told(phone: Phone) -> None:
    await _limits(phone)
    await phone.page.tap("[data-step=shutter_s-1][data-by='-1']")
    await phone.page.locator("#change-do:enabled").wait_for(timeout=90_000)


async def _hold_told(phone: Phone) -> None:
    await _hold(phone)
    await phone.page.locator("[data-row=frames] td:last-child", has_text=re.compile(r"\d")).wait_for(timeout=90_000)


async def _start_told(phone: Phone) -> None:
    await _start(phone)
    await phone.page.locator("#start-do:enabled").wait_for(timeout=90_000)


async def _start(phone: Phone) -> None:
    await keep_plans(phone)
    await phone.open()
    await phone.page.tap("#start")
    await phone.page.locator("dialog[open]").wait_for()


def _room(name: str) -> Callable[[Phone], Awaitable[None]]:
    async def enter(phone: Phone) -> None:
        await _shooting(phone)
        await phone.open()
        await enter_room(phone, name)

    return enter


async def enter_room(phone: Phone, name: str) -> None:
    """Enter a room and wait until it stands."""
    await phone.page.evaluate(f"location.hash = '{name}'")
    await phone.page.locator(f"body[data-room={name.split('/')[0]}] #room > div > *").first.wait_for(state="attached")
    await asyncio.sleep(1)  # what it fetches comes a moment later


async def _held(phone: Phone) -> None:
    """Another screen resumes it, or ends it: `_shooting`."""
    await _shooting(phone)
    shoot = (await phone.rig.call("GET", "now"))["shoot"]["id"]
    await phone.rig.call("POST", f"shoots/{shoot}/hold")
    await phone.open()
    await phone.page.locator("#resume").wait_for()
    await phone.shows("#while-held", re.compile(r"\d"))  # in whichever language


async def _stopping(phone: Phone) -> None:
    """The seconds in which Stop can be taken back, stretched: what is looked at would be over before it was seen."""
    await _shooting(phone)
    await phone.open()
    await phone.page.evaluate(
        "() => { const every = setInterval; window.setInterval = (act, ms) => every(act, ms === 1000 ? 3.6e6 : ms); }"
    )
    await phone.page.tap("#stop")
    await phone.page.locator("#said-button").wait_for()


async def _lost(phone: Phone) -> None:
    await _shooting(phone)
    await phone.told(await phone.rig.call("GET", "now"))

    async def nothing(_: Route) -> None:
        """A link that is gone says nothing, not even that."""

    await phone.page.route("**/api/v1/events**", nothing)
    await phone.page.locator("body.lost").wait_for(timeout=60_000)


async def _door(phone: Phone) -> None:
    await phone.page.set_extra_http_headers({"X-Forwarded-For": "192.0.2.9"})
    await phone.page.goto(phone.rig.url)
    await phone.page.locator("#door-code").wait_for()


async def _ended(phone: Phone) -> None:
    await _shooting(phone)
    await phone.rig.end()
    await phone.open()
    await phone.page.locator("#start").wait_for()


async def _empty(phone: Phone) -> None:
    """A rig as it is unpacked: no plan, no shoot, no camera."""
    await phone.rig.end()
    with tempfile.TemporaryDirectory() as directory:
        rig = Rig(Path(directory), WallClock(), [])
        await rig.open()
        now = (await rig.now()).model_dump(mode="json")
        await rig.close()
    await phone.told(now)


async def _checks(phone: Phone) -> None:
    """What is found for a plan, in the camera's room."""
    await keep_plans(phone)
    await phone.open()
    await enter_room(phone, "camera")
    await phone.page.tap("[data-part=checks] > summary")
    await phone.page.locator("#check-summary:not(:empty)").wait_for()
    await phone.page.select_option("#check-plan", index=1)
    await phone.page.locator("#camera-parts .findings li").first.wait_for()


SCREENS: dict[str, Callable[[Phone], Awaitable[None]]] = {
    "rig": _rig,
    "go-to": _rooms,
    "change": _change,
    "limits": _limits,
    "hold": _hold,
    "start": _start,
    "change-told": _change_told,
    "limits-told": _limits_told,
    "hold-told": _hold_told,
    "start-told": _start_told,
    "held": _held,
    "stopping": _stopping,
    "lost": _lost,
    "door": _door,
    "ended": _ended,
    "empty": _empty,
    "checks": _checks,
    **{name: _room(name) for name in ROOMS},
}


async def speak(phone: Phone, language: str) -> None:
    """Choose a language, for what is opened next."""
    await phone.page.context.add_cookies([{"name": "language", "value": language, "url": phone.rig.url}])


async def dress(phone: Phone, theme: str) -> None:
    """Choose a theme, as the room for this phone does: for what is opened next, and for what is shown."""
    await phone.page.context.add_cookies([{"name": "theme", "value": theme, "url": phone.rig.url}])
    await phone.page.evaluate("(theme) => { document.documentElement.dataset.theme = theme; }", theme)
