"""What the page makes of a `now` that a rig comes to seldom or slowly: a real answer with a few members changed."""

import asyncio
import io
import time
from datetime import datetime
from typing import Any

import pytest
from PIL import Image
from playwright.async_api import Route, expect

from tests.web.conftest import Phone

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

TROUBLE = "the camera does not answer. It is looked for again; see that it has power and its cable"

LINES = """
(selector) => { const range = document.createRange(); range.selectNodeContents(document.querySelector(selector));
  return new Set([...range.getClientRects()].map((box) => Math.round(box.bottom))).size; }
"""


async def now_of(phone: Phone, frames: int = 2) -> dict[str, Any]:
    """The rig's own answer while it shoots."""
    await phone.rig.shoot()
    return await phone.rig.until_frames(frames)


def lost_camera(now: dict[str, Any]) -> None:
    now["well"] = False
    now["attention"] = [f"Camera not there: {TROUBLE}", f"Slot 7 missed: {TROUBLE}"]
    now["camera"] |= {"connected": False, "trouble": TROUBLE}
    now["next_release_in_s"] = None


async def test_one_trouble_is_told_once(phone: Phone) -> None:
    now = await now_of(phone)
    lost_camera(now)
    now["shoot"] |= {"state": "recovering", "cause": TROUBLE}
    await phone.told(now)
    assert (await phone.page.inner_text("body")).count(TROUBLE) == 1
    assert "Slot 7 missed" in await phone.reads("#attention")
    assert await phone.reads("#countdown") == "Camera not there"
    await expect(phone.page.locator("#gauge")).to_be_hidden()
    await phone.picture("told-once")


async def test_a_shoot_that_has_ended_says_why_though_the_camera_is_gone(phone: Phone) -> None:
    now = await now_of(phone)
    lost_camera(now)
    shoot = now["shoot"]
    await phone.rig.end()
    ended = (await phone.rig.call("GET", f"shoots/{shoot['id']}"))["ended_utc"]
    now["shoot"] |= {"state": "stopped", "cause": "stopped by hand", "ended_utc": ended}
    now |= dict.fromkeys(
        ("next_release_utc", "end_utc", "left_s", "frames_left", "clip_end_s", "interval_s", "exposure")
    )
    await phone.told(now)
    assert await phone.reads("#state") == "Stopped"
    assert "Why: stopped by hand" in await phone.reads("#plan")
    assert "Ended " in await phone.reads("#plan")
    assert int(await phone.reads("#done")) >= 2
    assert "so far" not in await phone.reads("#clip")
    for selector in ("#coming", "#ahead"):
        await expect(phone.page.locator(selector)).to_be_hidden()
    await expect(phone.page.locator("#start")).to_be_visible()
    await phone.picture("ended-without-camera")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"when": {"start": "now"}}, "Runs until you stop it"),
        ({"when": {"start": "now", "frames": 900}}, "Runs until it has 900 frames"),
        ({"when": {"windows": [{"start": "06:30", "frames": 90}]}}, "Runs until it has its frames"),
    ],
)
async def test_only_a_shoot_without_end_runs_until_it_is_stopped(phone: Phone, changes: Any, said: str) -> None:
    now = await now_of(phone)
    now |= {"end_utc": None, "left_s": None, "frames_left": None}
    now["shoot"] |= {"stop_utc": None, "plan": now["shoot"]["plan"] | changes}
    await phone.told(now)
    assert await phone.reads("#left") == said
    await expect(phone.page.locator("#zone")).to_be_hidden()


async def test_a_window_that_is_over_is_not_said_to_run_on(phone: Phone) -> None:
    now = await now_of(phone)
    lost_camera(now)
    now |= {"end_utc": None, "left_s": None, "frames_left": None}
    now["shoot"]["stop_utc"] = now["utc"]
    await phone.told(now)
    assert "has passed" in await phone.reads("#left")


@pytest.mark.parametrize("width", [320, 360])
async def test_figures_keep_to_their_lines(phone: Phone, width: int) -> None:
    now = await now_of(phone)
    now["bias_ev"] = -0.7
    now["storage"] |= {"card_hours_left": 134 * 24, "rig_free_bytes": 128e9, "rig_hours_left": 20 * 24}
    await phone.page.set_viewport_size({"width": width, "height": 780})
    await phone.told(now)
    for selector, text in (("#card", "134 days left"), ("#rig-disk", "20 days left"), ("#scene", "bias −0.7 EV")):
        assert text in await phone.reads(selector)
        assert await phone.page.evaluate(LINES, selector) == 2, selector
    await phone.picture(f"figures-{width}")


@pytest.mark.parametrize("language", ["en", "de"])
async def test_the_orders_of_a_held_shoot_keep_to_one_line(phone: Phone, language: str) -> None:
    now = await now_of(phone)
    now["shoot"] |= {"state": "held", "cause": "held by hand"}
    await phone.page.context.add_cookies([{"name": "language", "value": language, "url": phone.rig.url}])
    for width in (320, 360):
        await phone.page.set_viewport_size({"width": width, "height": 780})
        await phone.told(now)
        for order in ("resume", "change", "stop", "rooms"):
            assert await phone.page.evaluate(LINES, f"#{order}") == 1, (width, order)
            button, page = f"document.getElementById('{order}')", "document.documentElement"
            assert await phone.page.evaluate(f"{button}.scrollWidth <= {button}.clientWidth"), (width, order)
            assert await phone.page.evaluate(f"{page}.scrollWidth") <= width


async def test_hours_left_are_told_or_said_to_be_unknown_while_a_shoot_runs(phone: Phone) -> None:
    now = await now_of(phone)
    now["storage"] |= {"card_hours_left": None, "rig_hours_left": None}
    now["camera"] |= {"battery_percent": 40, "battery_hours_left": 3.2}
    await phone.page.set_viewport_size({"width": 320, "height": 780})
    await phone.told(now)
    assert await phone.reads("#battery") == "40 %\n3.2 h left"
    for selector in ("#card", "#rig-disk"):
        assert (await phone.reads(selector)).endswith("\nhours not\nknown yet")
        assert await phone.page.evaluate(LINES, selector) <= 3, selector
    assert await phone.page.evaluate("document.documentElement.scrollWidth") <= 320
    await phone.picture("hours-unknown")
    now["shoot"] |= {"state": "stopped", "ended_utc": now["utc"]}
    await phone.told(now)
    assert "known" not in await phone.reads("#card"), "nothing runs that would use it up"


async def test_release_now_is_not_said_to_be_in_now(phone: Phone) -> None:
    now = await now_of(phone)
    now |= {"next_release_in_s": 0.0}
    await phone.told(now)
    await asyncio.sleep(0.3)
    assert await phone.reads("#coming-name") == "Next release"


def thumbnail(bar: int, light: int) -> bytes:
    """160 × 120 as DCF has thumbnails; a picture of 3:2 leaves 6 or 7 rows black above and below."""
    picture = Image.new("RGB", (160, 120))
    picture.paste((light, light, light), (0, bar, 160, 120 - bar))
    file = io.BytesIO()
    picture.save(file, "JPEG")
    return file.getvalue()


@pytest.mark.parametrize(("bar", "light", "shape"), [(7, 120, 3 / 2), (6, 40, 3 / 2), (0, 120, 4 / 3), (0, 10, 4 / 3)])
async def test_bars_around_the_picture_are_cut_off(phone: Phone, bar: int, light: int, shape: float) -> None:
    now = await now_of(phone)
    picture = thumbnail(bar, light)
    await phone.page.route("**/preview.jpg", lambda route: route.fulfill(content_type="image/jpeg", body=picture))
    await phone.told(now)
    await phone.page.tap("#picture-show")
    await phone.until("document.getElementById('picture-image').naturalWidth > 0")
    await asyncio.sleep(0.2)
    box = await phone.page.locator("#picture-image").bounding_box()
    assert box
    assert box["width"] / box["height"] == pytest.approx(shape, rel=0.01)
    fit = await phone.page.evaluate("getComputedStyle(document.getElementById('picture-image')).objectFit")
    assert fit == "cover" if bar else box["height"] == pytest.approx(box["width"] * 3 / 4, abs=1)


async def test_cameras_beside_the_first_have_a_line_each(phone: Phone) -> None:
    now = await now_of(phone)
    there = now["camera"] | {"id": "camera-2", "battery_percent": 64, "card_free_bytes": 31_500_000_000}
    now["beside"] = [there, there | {"id": "camera-3", "connected": False}]
    await phone.told(now)
    assert await phone.reads("#beside") == "camera-2: there, battery 64 %, card 32 GB\ncamera-3: not there"
    await phone.picture("beside")
    lost_camera(now)  # the first; the others go on
    now |= {"next_release_in_s": 500.0}
    now["shoot"] |= {"state": "recovering", "cause": TROUBLE}
    await phone.told(now)
    assert await phone.reads("#coming-name") == "Next release in"
    assert await phone.reads("#countdown") != "Camera not there"
    await expect(phone.page.locator("#gauge")).to_be_visible()
    now["beside"] = []
    await phone.told(now)
    await expect(phone.page.locator("#beside")).to_be_hidden()


async def test_a_clock_that_is_not_set_may_be_told_the_phones_time(phone: Phone) -> None:
    now = await now_of(phone)
    now["clock"] = {"utc": now["utc"], "state": "unsure", "kept_by": None, "why": "x", "windows_wait": True}
    told = []

    async def take(route: Route) -> None:
        told.append(route.request.post_data_json)
        await route.fulfill(json=now["clock"] | {"state": "right", "kept_by": "phone", "windows_wait": False})

    await phone.page.route("**/api/v1/clock", take)
    await phone.told(now)
    await phone.shows("#time-says", "This phone says")
    await phone.picture("clock")
    await phone.page.tap("#time-do")
    await expect(phone.page.locator("#time")).to_be_hidden()
    assert abs(datetime.fromisoformat(told[0]["utc"]).timestamp() - time.time()) < 60
    now["clock"]["state"] = "right"
    await phone.told(now)
    await expect(phone.page.locator("#time")).to_be_hidden()
