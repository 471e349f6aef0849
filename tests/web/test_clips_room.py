"""The clips of a shoot on the phone: watched, kept, asked for; what does not fit and what fails is told."""

from __future__ import annotations

import asyncio
import io
from typing import Any

import pytest
from PIL import Image
from playwright.async_api import Route, expect

from controller.words.layout import preview_path, shoot_directory
from tests.support.dusk_rig import dusk_rig
from tests.support.rigs import EVENING_UTC
from tests.support.told_shoot import ToldShoot
from tests.web.conftest import Phone
from tests.web.screens import THEMES, dress, speak
from tests.web.test_files import contrast
from tests.web.test_rules import CLIPPED, TARGETS, TEXTS, WIDE, axe, hexed

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

SITE = {"site": {"latitude": 57.7, "longitude": 11.95, "timezone": "Europe/Stockholm"}}
PIER = ToldShoot("2026-10-19-pier", EVENING_UTC - 86_400, 60, missed=[3, 4], plan=SITE)
GONE = ToldShoot("2026-10-17-gone", EVENING_UTC - 259_200, 8, plan=SITE)  # its pictures are gone from the disk
WATCHED = ToldShoot("2026-10-16-mole", EVENING_UTC - 345_600, 60, missed=[3, 4], plan=SITE)
MOVED = ToldShoot("2026-10-15-slip", EVENING_UTC - 432_000, 60, missed=[3, 4], plan=SITE)
TWO = ToldShoot("2026-10-18-two", EVENING_UTC - 172_800, 12, cameras=("camera-1", "camera-2"), plan=SITE)


@pytest.fixture(scope="module")
def rig(tmp_path_factory: pytest.TempPathFactory):
    directory = tmp_path_factory.mktemp("clips")
    for shoot in (PIER, TWO, GONE, WATCHED, MOVED):
        shoot.tell(directory / "rig")
    for seq in range(1, GONE.slots + 1):
        (directory / "rig" / preview_path(GONE.id, seq)).unlink()
    with dusk_rig(directory) as running:
        yield running


async def enter(phone: Phone, shoot: ToldShoot = PIER) -> None:
    """The clips of that shoot, by way of its frames."""
    await phone.open()
    await phone.page.evaluate("location.hash = 'frames'")
    await phone.page.locator("#which option").first.wait_for(state="attached")
    await phone.page.select_option("#which", shoot.id)
    await phone.page.locator(f"#clips[href*='{shoot.id}']").wait_for()
    await phone.page.tap("#clips")
    await phone.page.locator("#clips-back").wait_for()


def refused(phone: Phone) -> None:
    """Chromium notes each answer of 4xx."""
    assert phone.faults
    assert all("422" in fault for fault in phone.faults)
    phone.faults.clear()


async def ask(phone: Phone, **chosen: str) -> None:
    if await phone.page.locator("#clip-form[open]").count() == 0:
        await phone.page.tap("#clip-form > summary")
    for name, value in chosen.items():
        await phone.page.select_option(f"#clip-{name}", value)
    await phone.page.tap("#clip-make")


async def of_rig(phone: Phone, shoot: ToldShoot = PIER) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = await phone.rig.call("GET", f"shoots/{shoot.id}/clips")
    return found


async def test_one_is_asked_for_comes_into_the_list_and_is_watched(phone: Phone) -> None:
    await enter(phone, WATCHED)
    await phone.shows("#clips-told", "No clip of this shoot yet")
    await ask(phone)
    await phone.shows("#clips-list li", "Ready", 120)
    told = await phone.reads("#clips-list li")
    assert "58 frames" in told
    assert "2 slots without one" in told
    assert await phone.page.locator("#clips-list video").count() == 0, "no picture before it is asked for"
    assert [url for url in phone.requests if url.endswith(".mp4")] == []
    await phone.page.locator("#clips-list li .side button").tap()
    await phone.until("document.querySelector('#clips-list video')?.currentTime > 0.1", 60)
    seen = await phone.page.evaluate(
        "(() => { const film = document.querySelector('#clips-list video');"
        " return [film.videoWidth, film.videoHeight, film.duration, getComputedStyle(film).filter]; })()"
    )
    assert seen[:2] == [96, 64]
    assert seen[2] == pytest.approx(58 / 25, abs=0.05)
    assert "brightness" in seen[3]
    await phone.picture("clips-watched")
    await phone.page.locator("#clips-list li .side button").tap()
    assert await phone.page.locator("#clips-list video").count() == 0
    async with phone.page.expect_download() as download:
        await phone.page.locator("#clips-list li a[download]").tap()
    kept = await (await download.value).path()
    assert kept.stat().st_size == (await of_rig(phone, WATCHED))[-1]["bytes"]


async def test_a_film_of_which_nothing_is_known_says_no_more_than_its_size(phone: Phone) -> None:
    folder = phone.rig.directory / shoot_directory(TWO.id)
    (folder / "by-hand.mp4").write_bytes(bytes(3000))
    await enter(phone, TWO)
    await phone.shows("#clips-list li", "Ready. 3 kB")
    assert "0 frames" not in await phone.reads("#clips-list li")
    (folder / "by-hand.mp4").unlink()


async def test_only_one_film_moves(phone: Phone) -> None:
    await enter(phone)
    for _ in range(2):
        await ask(phone)
        await phone.shows("#said-text", "It stands in the list")
        await expect(phone.page.locator("#clips-list li").first).to_be_in_viewport()
    await phone.until("document.querySelectorAll('#clips-list li .side:not([hidden])').length >= 2", 120)
    await phone.page.locator("#clips-list li .side button").nth(0).tap()
    await phone.page.locator("#clips-list li video").wait_for()
    await phone.page.locator("#clips-list li .side button").nth(1).tap()
    await phone.until("document.querySelector('#clips-list li:nth-child(2) video') !== null")
    assert await phone.page.locator("#clips-list video").count() == 1


async def test_what_is_chosen_is_what_the_rig_is_asked(phone: Phone) -> None:
    bodies: list[Any] = []

    async def take(route: Route) -> None:
        if route.request.method != "POST":
            await route.continue_()
            return
        bodies.append(route.request.post_data_json)
        assert route.request.headers["idempotency-key"]
        await route.fulfill(status=422, json={"detail": "no frame is left for the film", "remedy": "Ask for others"})

    await phone.page.route("**/clips", take)
    await enter(phone, TWO)
    await ask(phone)
    await phone.shows("#clip-form .trouble", "No frame is left for the film. Ask for others.")
    await phone.page.tap("[data-box=fog]")
    await phone.page.tap("[data-box=steady]")
    await phone.page.tap("[data-box=even]")
    await phone.page.tap("[data-box=sun]")
    await phone.page.tap("#clip-form details > summary")
    await phone.page.fill("#clip-first", "2026-10-18")
    await ask(phone, which="sun-azimuth", size="1280x720")
    await phone.page.fill("#clip-degrees", "12,5")
    await ask(phone, which="sun-altitude")
    await phone.page.select_option("#clip-side", "evening")
    await phone.page.fill("#clip-degrees", "12,5")
    await ask(phone)
    await ask(phone, which="hour-best")
    await phone.until("document.querySelector('#clip-make[aria-busy]') === null")
    whole = {"steady": "level", "size": [1920, 1080], "camera": "camera-1"}
    some = {"steady": "off", "size": [1280, 720], "camera": "camera-1", "retime": "blend"}
    some |= {"skip": ["fog"], "burn": ["sun"], "days": "2026-10-18.."}
    refused(phone)
    assert bodies == [
        whole,
        some | {"series": "sun-azimuth=180"},
        some | {"series": "sun-altitude=20,morning"},
        some | {"series": "sun-altitude=12.5,evening"},
        some | {"series": "hour-best"},
    ]


async def test_no_number_is_told_before_the_rig_is_asked(phone: Phone) -> None:
    await enter(phone, TWO)
    await phone.page.tap("#clip-form > summary")
    await phone.page.select_option("#clip-which", "sun-azimuth")
    await phone.page.fill("#clip-degrees", "south")
    await phone.page.tap("#clip-make")
    await phone.shows("#clip-form .trouble", "“south” is no number of degrees")
    assert await of_rig(phone, TWO) == []


async def test_what_the_rig_refuses_and_what_fails_is_told(phone: Phone) -> None:
    await enter(phone, GONE)
    await phone.page.tap("#clip-form > summary")
    await phone.page.tap("#clip-form details > summary")
    await phone.page.fill("#clip-first", "2030-01-01")
    await phone.page.tap("#clip-make")
    await phone.shows("#clip-form .trouble", "No frame is left for the film")
    await phone.page.fill("#clip-first", "")
    refused(phone)
    await phone.page.tap("#clip-make")
    await phone.shows("#clips-list li", "Not made", 120)
    await phone.shows("#clips-list li", "none has a picture on the rig")
    await phone.picture("clips-failed")


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("theme", THEMES)
async def test_it_keeps_the_rules(phone: Phone, theme: str, language: str) -> None:
    await phone.rig.call("POST", f"shoots/{PIER.id}/clips", json={"size": [64, 64]})
    await phone.page.emulate_media(reduced_motion="reduce")
    await dress(phone, theme)
    await speak(phone, language)
    await enter(phone)
    await phone.page.locator("#clips-list details:not([hidden])").first.wait_for()
    await phone.page.tap("#clip-form > summary")
    await phone.page.select_option("#clip-which", "sun-altitude")
    await phone.page.tap("#clip-form details > summary")
    await phone.page.evaluate("for (const one of document.querySelectorAll('#clips-list details')) one.open = true")
    for width in (360, 320):
        await phone.page.set_viewport_size({"width": width, "height": 780})
        await asyncio.sleep(0.2)
        assert max(await phone.page.evaluate(WIDE)) <= width + 1
        assert await phone.page.evaluate(CLIPPED) == []
        assert [one for one in await phone.page.evaluate(TARGETS) if one[1] < 48 or one[2] < 48] == []
        await phone.page.screenshot(path=f"test-output/page-clips-{theme}-{language}-{width}.png", full_page=True)
    told = await phone.page.evaluate(TEXTS)
    assert [(*text, ratio) for text in told if (ratio := contrast(hexed(text[1]), hexed(text[2]))) < 4.5] == []
    assert await axe(phone) == []


def told(**more: Any) -> dict[str, Any]:
    """A film of the list, as the rig tells it."""
    form = ("width", "height", "fps", "codec", "bits", "steadied")
    now: dict[str, Any] = {"kind": "made", "state": "ready", "shoot": PIER.id, "missing": 0, "remarks": []}
    now |= dict.fromkeys(("camera", "date", "shows", "why", "made_utc", "url", "progress", *form))
    return now | {"frames": 0, "duration_s": 0, "bytes": 0} | more


def of_the_night(shot: bytes) -> None:
    """More than one colour, and each of them dim red."""
    colours = [colour for _, colour in Image.open(io.BytesIO(shot)).convert("RGB").getcolors(1 << 16) or []]
    assert len(colours) > 1
    assert [(red, *others) for red, *others in colours if max(others) > red / 2] == [], (
        "for eyes that are used to the dark"
    )


async def test_how_far_a_clip_has_come_is_drawn_in_the_colours_of_the_night(phone: Phone) -> None:
    now = told(name="made-2026-10-19-200000.mp4", state="making", progress=0.6)
    await phone.page.route("**/clips", lambda route: route.fulfill(json=[now]))
    await dress(phone, "night")
    await enter(phone)
    of_the_night(await phone.page.locator("#clips-list progress").screenshot())


async def test_a_day_is_chosen_in_the_colours_of_the_night(phone: Phone) -> None:
    """A browser draws its own sign beside a date in white; what takes its place is as large as a finger."""
    await phone.page.emulate_media(color_scheme="light", reduced_motion="reduce")
    await dress(phone, "night")
    await enter(phone)
    await phone.page.tap("#clip-form > summary")
    await phone.page.tap("#clip-form details > summary")
    await phone.page.locator("#clip-first").blur()
    shot = await phone.page.locator("#clip-first").screenshot()
    of_the_night(shot)
    sign = Image.open(io.BytesIO(shot)).convert("L").crop((280, 8, 325, 40))
    assert sign.getextrema()[1] > 60, "it is there"


async def test_clips_of_the_same_frames_are_told_apart(phone: Phone) -> None:
    same = {"made_utc": "2026-10-19T18:00:00Z", "frames": 58, "duration_s": 2.32, "bytes": 5_000_000, "url": "/none"}
    one = same | {"width": 1920, "height": 1080, "fps": 25.0, "codec": "h264", "bits": 8, "steadied": True}
    films = [
        told(name="quay.mp4", **one),
        told(name="for-the-editor.mp4", **one | {"codec": "hevc", "bits": 10, "fps": 23.976, "steadied": False}),
        told(name="day.mp4", **one | {"kind": "day", "date": "2026-10-19", "width": 1280, "height": 720}),
        told(name="unknown.mp4", **same),
    ]
    await phone.page.route("**/clips", lambda route: route.fulfill(json=films))
    await enter(phone)
    for film, said in zip(
        reversed(films),  # the newest first
        (
            "unknown.mp4",
            "1280 × 720, H.264, 25 frames/s",
            "for-the-editor.mp4: 1920 × 1080, HEVC, 10 bits, 23.98 frames/s, not steadied",
            "quay.mp4: 1920 × 1080, H.264, 25 frames/s",
        ),
        strict=True,
    ):
        assert await phone.reads(f"[data-clip='{film['name']}'] .how") == said


async def test_a_film_is_moved_by_controls_of_our_own(phone: Phone) -> None:
    """They are large and dim red, where a browser's are small and white."""
    await dress(phone, "night")
    await enter(phone, MOVED)
    await ask(phone)
    await phone.page.locator("#clips-list li .side button").first.tap(timeout=120_000)
    await phone.until("document.querySelector('#clips-list video')?.currentTime > 0.1", 60)
    assert await phone.page.evaluate("document.querySelector('#clips-list video').controls") is False
    pause = phone.page.get_by_role("button", name="Pause")
    await pause.tap()
    await phone.until("document.querySelector('#clips-list video').paused")
    await expect(phone.page.locator("#clips-list .film-bar").get_by_role("button", name="Play")).to_be_visible()
    await phone.page.get_by_label("Place in the clip").fill("500")
    await phone.until("Math.abs(document.querySelector('#clips-list video').currentTime - 1.16) < 0.05")
    await expect(phone.page.get_by_label("Place in the clip")).to_have_attribute("aria-valuetext", "1.2 s of 2.3 s")
    of_the_night(await phone.page.locator("#clips-list .film-bar").screenshot())
    assert [one for one in await phone.page.evaluate(TARGETS) if one[1] < 48 or one[2] < 48] == []
    assert await axe(phone) == []
    await phone.page.locator("#clips-list video").tap()
    await phone.until("!document.querySelector('#clips-list video').paused")
    await phone.page.get_by_role("button", name="Whole screen").tap()
    await phone.until("document.fullscreenElement?.tagName === 'VIDEO'")


async def test_one_that_may_only_look_makes_none(phone: Phone) -> None:
    await enter(phone)
    await expect(phone.page.locator("#clip-form")).to_have_count(1)
    await phone.page.evaluate("document.documentElement.dataset.rights = 'view'")
    await phone.page.tap("#clips-back")
    await phone.page.locator(f"#clips[href*='{PIER.id}']").tap()
    await phone.page.locator("#clips-told").wait_for(state="attached")
    await expect(phone.page.locator("#clip-form")).to_have_count(0)


async def test_without_an_answer_there_is_a_way_on(phone: Phone) -> None:
    await phone.rig.call("POST", f"shoots/{PIER.id}/clips", json={"size": [64, 64]})
    await enter(phone)
    await phone.page.route("**/clips", lambda route: route.abort())
    await phone.page.tap("#clips-back")
    await phone.page.locator(f"#clips[href*='{PIER.id}']").tap()
    await phone.shows("#clips-told", "The rig did not answer")
    phone.faults.clear()  # the browser's own line on what was cut off
    await phone.page.unroute("**/clips")
    await phone.page.tap("#clips-again")
    await phone.page.locator("#clips-list li").first.wait_for()
