"""Every screen of the page, and how one gets there: for the rules that hold on all of them."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable

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
    if shoot is None or shoot["state"] != "shooting":
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


async def _limits(phone: Phone) -> None:
    await _change(phone)
    await phone.page.tap("[data-part=limits]")
    await phone.page.tap("#change-sheet summary")


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


SCREENS: dict[str, Callable[[Phone], Awaitable[None]]] = {
    "rig": _rig,
    "go-to": _rooms,
    "change": _change,
    "limits": _limits,
    "start": _start,
    **{name: _room(name) for name in ROOMS},
}


async def dress(phone: Phone, theme: str) -> None:
    """Choose a theme, as the room for this phone does."""
    await phone.page.context.add_cookies([{"name": "theme", "value": theme, "url": phone.rig.url}])
