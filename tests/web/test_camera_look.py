"""Looking through a camera from the page: live view as the body tells it, the part, the figures, every end."""

import asyncio
import hashlib
import math
import random
import re
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from playwright.async_api import expect

from tests.web.conftest import Phone
from tests.web.screens import dress
from tests.web.test_camera_room import asked, body, enter, free, rig, until_live_view

__all__ = ["rig"]

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

PIXELS = """
() => {
  const c = document.getElementById("look-picture"), d = c.getContext("2d").getImageData(0, 0, c.width, c.height).data;
  let sum = 0;
  for (let i = 0; i < d.length; i += 4) sum += d[i] + d[i + 1] + d[i + 2];
  return [c.width, sum / (d.length / 4)];
}
"""


LATER = "() => { const now = performance.now.bind(performance); performance.now = () => now() + 100000; }"
"""100 s pass for what measures time by the clock that never steps."""


async def look(phone: Phone) -> None:
    await phone.page.tap("#camera-tool")
    await phone.page.locator("#trend path.line[d^=M]").wait_for(timeout=60000, state="attached")
    await until_live_view(phone.rig, True)


async def ended(phone: Phone, text: str) -> None:
    await phone.shows("[data-part=look] .trouble", text)
    await expect(phone.page.locator("#look-scene")).to_be_hidden()
    await until_live_view(phone.rig, False)


def parts_asked(phone: Phone) -> list[dict[str, str]]:
    return [
        {key: value[0] for key, value in parse_qs(urlsplit(url).query).items()} for url in asked(phone, "live.mjpeg")
    ]


async def test_looking_begins_by_a_tap_and_ends_with_the_room(phone: Phone) -> None:
    await dress(phone, "night")
    await free(phone, "look")
    await phone.shows("#look-sun", "Never look at the sun through a viewfinder")
    assert not asked(phone, "live.mjpeg")
    assert not body(phone.rig)["live_view"]
    await look(phone)
    await phone.until(f"(({PIXELS})())[1] > 1")
    veil = await phone.page.evaluate("getComputedStyle(document.getElementById('look-picture')).filter")
    assert veil == "brightness(0.5)"
    await phone.shows("#look-status", "kB/s")
    await phone.picture("camera-look")
    await phone.page.tap("#room-back")
    await until_live_view(phone.rig, False)


async def test_a_tap_on_the_whole_chooses_the_part_and_so_do_keys(phone: Phone) -> None:
    await free(phone, "look")
    await look(phone)
    await phone.until(f"(({PIXELS})())[1] > 1")
    box = await phone.page.locator("#look-picture").bounding_box()
    assert box
    await phone.page.tap("#look-picture", position={"x": box["width"] * 0.7, "y": box["height"] * 0.4})
    await phone.page.locator("#look-whole").wait_for()
    async with asyncio.timeout(60):
        while (last := parts_asked(phone)[-1])["zoom"] != "4":
            await asyncio.sleep(0.1)
    assert (float(last["x"]), float(last["y"])) == (pytest.approx(0.7, abs=0.02), pytest.approx(0.4, abs=0.02))
    frame = await phone.page.evaluate(
        "() => { const f = document.querySelector('#look-whole span').getBoundingClientRect(),"
        " w = document.querySelector('#look-whole canvas').getBoundingClientRect();"
        " return [(f.left + f.width / 2 - w.left) / w.width, (f.top + f.height / 2 - w.top) / w.height,"
        " f.width / w.width]; }"
    )
    assert frame == [pytest.approx(0.7, abs=0.04), pytest.approx(0.4, abs=0.04), pytest.approx(0.25, abs=0.02)]
    await phone.picture("camera-part")
    await phone.page.focus("#look-whole")
    for _ in range(3):
        await phone.page.keyboard.press("ArrowRight")
    async with asyncio.timeout(60):  # as far as the picture's edge allows
        while float(parts_asked(phone)[-1]["x"]) != 0.875:
            await asyncio.sleep(0.1)
    await phone.page.tap("[data-zoom='1']")
    await phone.shows("#look-zoom", "8 ×")
    for _ in range(3):
        await phone.page.tap("[data-zoom='-1']")
    await phone.shows("#look-zoom", "1 ×")
    await phone.page.tap("#camera-tool")
    await until_live_view(phone.rig, False)


async def test_the_figures_are_those_of_the_rig(phone: Phone) -> None:
    await free(phone, "look")
    await look(phone)
    async with phone.page.expect_response(re.compile("/focus")) as told:
        pass
    seen: dict[str, Any] = await (await told.value).json()
    likeliest = seen["histogram"].index(max(seen["histogram"]))
    wanted = {0: "within a stop of white", 1: "one stop below"}.get(likeliest, f"{likeliest} stops below")
    await phone.shows("#light-says", wanted)
    heights = await phone.page.locator("#light-drawing rect").evaluate_all(
        "(all) => all.sort((a, b) => a.getAttribute('x') - b.getAttribute('x'))"
        ".map((one) => Number(one.getAttribute('height')))"
    )
    darkest_first = seen["histogram"][::-1]
    assert [height / max(heights) for height in heights] == pytest.approx(
        [share / max(darkest_first) for share in darkest_first], abs=0.1
    )
    await phone.shows("#trend-share", "% of the best")


async def test_figures_alone_send_hardly_anything(phone: Phone) -> None:
    await free(phone, "look")
    await look(phone)
    await phone.page.tap("[data-speed=figures]")
    await expect(phone.page.locator("#look-picture")).to_be_hidden()
    async with asyncio.timeout(60):
        while parts_asked(phone)[-1].get("width") != "64":
            await asyncio.sleep(0.1)
    async with asyncio.timeout(60):  # bytes of the last 8 s; calm pictures are over by then
        while not (rate := re.search(r"([\d.]+) kB/s", await phone.reads("#look-status"))) or float(rate[1]) > 2:
            await asyncio.sleep(0.2)
    await expect(phone.page.locator("#trend")).to_be_visible()
    await phone.page.tap("[data-speed=quick]")
    async with asyncio.timeout(60):
        while "width" in parts_asked(phone)[-1]:
            await asyncio.sleep(0.1)


async def test_a_shoot_that_takes_the_camera_ends_it(phone: Phone) -> None:
    await free(phone, "look")
    await look(phone)
    await phone.rig.shoot()
    await ended(phone, "the shoot goes on and has the camera")
    await expect(phone.page.locator("#look-through")).to_be_disabled()
    await phone.rig.until_frames(3)
    now = await phone.rig.call("GET", "now")
    assert now["frames_lost"] == 0


async def test_it_is_said_before_it_is_tried_that_a_shoot_has_the_camera(phone: Phone) -> None:
    await phone.rig.shoot()
    await enter(phone, "look")
    await phone.shows("#camera-whose", "hold the shoot")
    await expect(phone.page.locator("#camera-tool")).to_be_disabled()
    await expect(phone.page.locator("#look-through")).to_be_disabled()
    await phone.picture("camera-taken")
    shoot = (await phone.rig.call("GET", "now"))["shoot"]["id"]
    await phone.rig.call("POST", f"shoots/{shoot}/hold")
    await phone.shows("#camera-whose", "Do not forget to resume")
    await look(phone)
    await phone.rig.call("POST", f"shoots/{shoot}/resume")
    await ended(phone, "the shoot goes on")
    assert not asked(phone, "/test-frame")


async def test_it_ends_when_the_phone_is_put_away(phone: Phone) -> None:
    await free(phone, "look")
    await look(phone)
    await phone.page.evaluate(
        "() => { Object.defineProperty(document, 'visibilityState', { value: 'hidden', configurable: true });"
        " document.dispatchEvent(new Event('visibilitychange')); }"
    )
    await ended(phone, "out of sight")


async def test_it_ends_by_itself_where_nobody_touches_the_page(phone: Phone) -> None:
    await free(phone, "look")
    await look(phone)
    await phone.page.evaluate(
        "() => { const true_ = performance.now.bind(performance); performance.now = () => true_() + 100000; }"
    )
    await asyncio.sleep(2)
    await expect(phone.page.locator("#look-scene")).to_be_visible()
    await phone.page.tap("#trend-anew")  # a touch: it lasts anew
    await phone.page.evaluate(
        "() => { const true_ = performance.now.bind(performance); performance.now = () => true_() + 100000; }"
    )
    await asyncio.sleep(2)
    await expect(phone.page.locator("#look-scene")).to_be_visible()
    await phone.page.evaluate(
        "() => { const true_ = performance.now.bind(performance); performance.now = () => true_() + 100000; }"
    )
    await ended(phone, "nobody touched the page")


# ---- what is pure

TREND = """
async (values) => {
  const { Trend } = await import("/js/rooms/camera-focus.js");
  const trend = new Trend();
  return values.map((value, at) => {
    trend.add(at, value);
    return [trend.word, trend.share, trend.best, trend.points.length];
  });
}
"""


async def test_the_trend_tells_the_best_and_which_way_it_goes(phone: Phone) -> None:
    """A ring turned through the best focus, and half the way back: sharpness as a bell over its travel."""
    await phone.open()
    travel = [at / 2 - 10 for at in range(36)] + [8 - at / 2 for at in range(1, 9)]
    values = [0.2 + math.exp(-((place / 4) ** 2)) for place in travel]
    told = await phone.page.evaluate(TREND, values)
    words = [word for word, *_ in told]
    assert set(words[:4]) == {"none"}, "of so few each is the best by chance"
    assert words[4] == "best"
    assert [share for _, share, *_ in told[:4]] == [None] * 4
    assert set(words[8:21]) == {"best"}, "on the way up"
    assert words[26] == "softer"
    assert words[-1] == "sharper", "on the way back"
    assert told[-1][2] == pytest.approx(max(values), rel=0.02)  # the middle of three lies a little below
    assert told[-1][1] < 0.6


async def test_a_single_flash_is_not_the_best(phone: Phone) -> None:
    """Running medians of three take single outliers out (Tukey, Exploratory Data Analysis, 1977; from memory)."""
    await phone.open()
    told = await phone.page.evaluate(TREND, [1.0, 1.02, 9.0, 1.01, 1.0, 0.99, 1.0])
    assert told[-1][2] == pytest.approx(1.02, abs=0.001)
    assert [word for word, *_ in told[4:]] == ["best"] * 3


async def test_the_trend_keeps_a_minute(phone: Phone) -> None:
    await phone.open()
    told = await phone.page.evaluate(TREND, [1.0] * 150)
    assert told[-1][3] == 61


STREAM = """
async (chunks) => {
  const { pictures } = await import("/js/rooms/multipart.js");
  const stream = new ReadableStream({
    start(to) { for (const one of chunks) to.enqueue(new Uint8Array(one)); to.close(); },
  });
  const found = []; let heard = 0;
  for await (const one of pictures(stream, (n) => { heard += n; })) {
    const bytes = new Uint8Array(await one.arrayBuffer());
    found.push([...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join(""));
  }
  return [found, heard];
}
"""


async def test_a_stream_is_taken_apart_wherever_it_is_cut(phone: Phone) -> None:
    """RFC 2046, section 5.1: a delimiter line, the part's head, an empty line, its body. Bodies may hold anything."""
    await phone.open()
    dice = random.Random(7)
    bodies = [
        dice.randbytes(300) + b"\r\n\r\n--picture\r\nContent-Length: 3\r\n\r\n" + dice.randbytes(40) for _ in range(5)
    ]
    whole = b"".join(
        b"--picture\r\nContent-Type: image/jpeg\r\nContent-Length: %d\r\n\r\n%s\r\n" % (len(one), one) for one in bodies
    )
    for most in (1, 7, 100, 5000):
        chunks, at = [], 0
        while at < len(whole):
            end = at + dice.randint(1, most)
            chunks.append(list(whole[at:end]))
            at = end
        found, heard = await phone.page.evaluate(STREAM, chunks)
        assert [hashlib.sha256(bytes.fromhex(one)).hexdigest() for one in found] == [
            hashlib.sha256(one).hexdigest() for one in bodies
        ]
        assert heard == len(whole)
    found, _ = await phone.page.evaluate(STREAM, [list(whole[:-200])])
    assert len(found) == 4, "one that is cut off is none"
