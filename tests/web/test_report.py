"""The report in a browser: reached from the frames' room, in both themes, on narrow screens, on paper, as a file."""

from __future__ import annotations

import asyncio
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from playwright.async_api import Browser, expect

from tests.support.dusk_rig import DuskRig, dusk_rig
from tests.support.rigs import EVENING_UTC
from tests.support.told_shoot import ToldShoot
from tests.web.conftest import Phone
from tests.web.screens import THEMES, dress, enter_room
from tests.web.test_files import contrast
from tests.web.test_rules import TARGETS, TEXTS, WIDE, axe, hexed

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

TWO = ToldShoot(
    "2026-10-18-two", EVENING_UTC - 172_800, 90, missed=[3, 4, 60], lost=[70], cameras=("camera-1", "camera-2"),
    plan={"site": {"timezone": "Europe/Stockholm"}},
)  # fmt: skip
GROUND = {"night": "rgb(0, 0, 0)", "day": "rgb(246, 244, 239)"}
PAPER = "getComputedStyle(document.documentElement).backgroundColor"
TREE = "document.getElementById('report-stands').shadowRoot"
INSIDE = f"getComputedStyle({TREE}.querySelector('.root[data-theme={{}}]')).backgroundColor"
RULES = (TARGETS, TEXTS, WIDE)
LOOKS = """
[...document.querySelectorAll("header *, section, section *")].map((element) => {
  const style = getComputedStyle(element);
  return [element.tagName, style.color, style.fill, style.stroke, style.fontSize, style.fontWeight, style.display,
          style.marginTop, style.paddingTop, style.borderTopWidth].join();
})
"""


@pytest.fixture(scope="module")
def rig(tmp_path_factory: pytest.TempPathFactory):
    directory = tmp_path_factory.mktemp("report")
    TWO.tell(directory / "rig")
    clip = directory / "rig" / "shoots" / TWO.id / "clips" / "a-clip.mp4"
    clip.parent.mkdir(parents=True, exist_ok=True)
    clip.write_bytes(b"no film at all")
    with dusk_rig(directory) as running:
        yield running


async def ask_for_it(phone: Phone, shoot: str = TWO.id) -> None:
    """Open the page, go to the frames of that shoot and tap its report."""
    await phone.open()
    await phone.page.evaluate("location.hash = 'frames'")
    await phone.page.locator("#which option").first.wait_for(state="attached")
    await phone.page.select_option("#which", shoot)
    await phone.page.locator(f"#report[href*='{shoot}']").wait_for()
    await phone.page.tap("#report")


async def test_the_frames_room_leads_to_it_and_back(phone: Phone) -> None:
    """It is shown within the page: the address stays the page's, and so does the link."""
    await ask_for_it(phone)
    await phone.shows("#report-told", "being worked out")
    await phone.page.locator("#report-stands h1").wait_for(timeout=120_000)
    assert await phone.page.evaluate("location.hash") == f"#frames/report/{TWO.id}/camera-1"
    assert "the rest is of camera-1" in await phone.reads("#report-stands .root")
    assert await phone.page.locator("#report-stands nav").count() == 0
    links = "[...document.getElementById('report-stands').shadowRoot.querySelectorAll('a')].map((a) => a.href)"
    assert await phone.page.evaluate(links) == [f"{phone.rig.url}api/v1/shoots/{TWO.id}/clips/a-clip.mp4"]
    await phone.page.tap("#report-back")
    await phone.page.locator(f"#report[href*='{TWO.id}']").wait_for()
    assert await phone.page.locator("#which").input_value() == TWO.id, "one comes back to the shoot that one left"
    await phone.page.go_back()
    await phone.page.locator("#report-stands h1").wait_for(timeout=120_000)


@pytest.mark.parametrize("theme", THEMES)
async def test_within_the_page_it_keeps_the_rules(phone: Phone, theme: str) -> None:
    await phone.page.emulate_media(reduced_motion="reduce")
    await dress(phone, theme)
    await ask_for_it(phone)
    await phone.page.locator("#report-stands h1").wait_for(timeout=120_000)
    await phone.picture(f"report-room-{theme}")
    assert await phone.page.evaluate(PAPER) == GROUND[theme]
    assert await phone.page.locator("#report-stands svg.plot").count() == 3
    assert await axe(phone) == []
    inside = INSIDE.format(await phone.page.evaluate("document.documentElement.dataset.theme"))
    assert await phone.page.evaluate(inside) == GROUND[theme]
    targets, texts, wide = (rule.replace("document.query", f"{TREE}.query").replace("body *", "*") for rule in RULES)
    assert [one for one in await phone.page.evaluate(targets) if one[1] < 48 or one[2] < 48] == []
    told = await phone.page.evaluate(texts)
    assert len(told) > 50
    assert [(*text, ratio) for text in told if (ratio := contrast(hexed(text[1]), hexed(text[2]))) < 4.5] == []
    for width in (360, 320):
        await phone.page.set_viewport_size({"width": width, "height": 640})
        await asyncio.sleep(0.2)
        assert max(await phone.page.evaluate(wide)) <= width + 1


async def test_its_colours_are_those_of_the_report_by_itself(phone: Phone) -> None:
    """Nothing of the page's style sheet reaches it, and all of its own does."""
    seen: list[list[str]] = []
    await ask_for_it(phone)
    await phone.page.locator("#report-stands h1").wait_for(timeout=120_000)
    seen.append(await phone.page.evaluate(LOOKS.replace("document", TREE)))
    await phone.page.goto(f"{phone.rig.url}api/v1/shoots/{TWO.id}/report.html", timeout=120_000)
    seen.append(await phone.page.evaluate(LOOKS))
    assert len(seen[0]) > 200
    assert seen[0] == seen[1]


async def test_a_report_that_is_refused_or_not_reached_is_told_in_the_page(phone: Phone) -> None:
    await phone.open()
    await phone.page.evaluate("location.hash = 'frames/report/no-such-shoot'")
    await phone.shows("#report-told", "No shoot of this id")
    await expect(phone.page.locator("#report-waited")).to_be_hidden()
    assert "{" not in await phone.reads("#report-told"), "words, no document"
    assert all("404" in fault for fault in phone.faults)
    phone.faults.clear()
    await phone.page.context.set_offline(True)
    await phone.page.tap("#report-again")
    await phone.shows("#report-told", "did not answer")
    await phone.page.context.set_offline(False)
    await phone.page.evaluate(f"location.hash = 'frames/report/{TWO.id}'")
    await phone.page.locator("#report-stands h1").wait_for(timeout=120_000)
    assert all("ERR_INTERNET_DISCONNECTED" in fault for fault in phone.faults)
    phone.faults.clear()


async def test_a_report_whose_link_is_lost_is_asked_for_again_once_it_is_back(phone: Phone) -> None:
    await phone.open()
    await enter_room(phone, "frames")
    phone.rig.process.send_signal(signal.SIGSTOP)
    try:
        await phone.page.evaluate(f"location.hash = 'frames/report/{TWO.id}'")
        await phone.shows("#report-told", "asked for again once it is back", within_s=40)
        await phone.picture("report-no-link")
    finally:
        phone.rig.process.send_signal(signal.SIGCONT)
    await phone.page.locator("#report-stands h1").wait_for(timeout=120_000)
    await expect(phone.page.locator("#report-told")).to_be_empty()
    assert len([url for url in phone.requests if "report.html" in url]) == 2


async def test_while_it_is_worked_out_that_is_said_and_one_may_leave(phone: Phone) -> None:
    """An answer that does not come: the seconds run, and whoever leaves is not waited for."""
    ended = asyncio.Event()
    phone.page.on("requestfailed", lambda request: ended.set() if "report.html" in request.url else None)
    await phone.page.route("**/report.html**", lambda route: ended.wait())
    await ask_for_it(phone)
    await phone.shows("#report-waited", "2 s")
    assert await axe(phone) == []
    await phone.page.tap("#report-back")
    await phone.page.locator("#report:not([hidden])").wait_for()
    await asyncio.wait_for(ended.wait(), 10)


async def test_it_can_be_kept_as_a_file_and_printed(phone: Phone, browser: Browser, tmp_path: Path) -> None:
    await dress(phone, "night")
    await ask_for_it(phone)
    await phone.page.locator("#report-stands h1").wait_for(timeout=120_000)
    async with phone.page.expect_download() as coming:
        await phone.page.tap("#report-keep")
    download = await coming.value
    assert download.suggested_filename == f"{TWO.id}-report.html"
    file = tmp_path / "report.html"
    await download.save_as(file)
    assert await stands_alone(browser, file)
    await phone.page.evaluate("window.print = () => { document.title = 'printed'; }")
    await phone.page.tap("#report-print")
    assert await phone.page.title() == "printed"
    await phone.page.emulate_media(media="print")
    assert await phone.page.evaluate(PAPER) == "rgb(255, 255, 255)"
    await expect(phone.page.locator("#report-print")).to_be_hidden()
    await expect(phone.page.locator("footer")).to_be_hidden()
    assert await phone.page.evaluate(f"getComputedStyle({TREE}.querySelector('h1')).color") == "rgb(0, 0, 0)"
    await phone.picture("report-paper")


@pytest.mark.parametrize("theme", THEMES)
async def test_it_keeps_the_rules_of_the_page(phone: Phone, theme: str) -> None:
    """WCAG 2.2 by axe-core; targets for gloves, contrast of every text, in drawings too, and narrow screens."""
    await dress(phone, theme)
    await phone.page.goto(f"{phone.rig.url}api/v1/shoots/{TWO.id}/report.html", timeout=120_000)
    await phone.picture(f"report-{theme}")
    assert await phone.page.evaluate(PAPER) == GROUND[theme]
    assert await phone.page.locator("svg.plot").count() == 3
    assert await axe(phone) == []
    assert [target for target in await phone.page.evaluate(TARGETS) if target[1] < 48 or target[2] < 48] == []
    texts = await phone.page.evaluate(TEXTS)
    weak = [(*text, ratio) for text in texts if (ratio := contrast(hexed(text[1]), hexed(text[2]))) < 4.5]  # 1.4.3
    assert weak == []
    for width in (320, 360):  # 1.4.10
        await phone.page.set_viewport_size({"width": width, "height": 640})
        await asyncio.sleep(0.2)
        assert max(await phone.page.evaluate(WIDE)) <= width + 1
    assert [url for url in phone.requests if "report.html" not in url] == []


@pytest.fixture
def kept(rig: DuskRig, tmp_path: Path) -> Path:
    """The same as a file, by the command beside the service."""
    out = tmp_path / "report.html"
    code = "from controller.commands import main; raise SystemExit(main())"
    words = ["report", TWO.id, "--dir", str(rig.directory), "--html", str(out)]
    done = subprocess.run([sys.executable, "-c", code, *words], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert f"The page: {out}" in done.stdout
    assert [path.name for path in tmp_path.iterdir()] == ["report.html"]
    return out


async def stands_alone(browser: Browser, file: Path) -> bool:
    """It follows the phone's own setting, is dark on white on paper, and asks for nothing."""
    asked: list[str] = []
    for scheme, ground in (("dark", GROUND["night"]), ("light", GROUND["day"])):
        context = await browser.new_context(color_scheme=scheme, offline=True, java_script_enabled=True)
        page = await context.new_page()
        page.on("request", lambda request: asked.append(request.url))
        await page.goto(file.as_uri())
        assert await page.evaluate(PAPER) == ground
        await page.emulate_media(media="print", color_scheme=scheme)
        assert await page.evaluate(PAPER) == "rgb(255, 255, 255)"
        assert await page.evaluate("getComputedStyle(document.querySelector('h1')).color") == "rgb(0, 0, 0)"
        assert await page.locator("a").count() == 0
        await context.close()
    return asked == [file.as_uri()] * 2


async def test_the_file_stands_alone(browser: Browser, kept: Path) -> None:
    assert await stands_alone(browser, kept)
