"""The report in a browser: reached from the frames' room, in both themes, on narrow screens, on paper, as a file."""

from __future__ import annotations

import asyncio
import subprocess
import sys
from pathlib import Path

import pytest
from playwright.async_api import Browser

from tests.support.dusk_rig import DuskRig, dusk_rig
from tests.support.rigs import EVENING_UTC
from tests.support.told_shoot import ToldShoot
from tests.web.conftest import Phone
from tests.web.screens import THEMES, dress
from tests.web.test_files import contrast
from tests.web.test_rules import TARGETS, TEXTS, WIDE, axe, hexed

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

TWO = ToldShoot(
    "2026-10-18-two", EVENING_UTC - 172_800, 90, missed=[3, 4, 60], lost=[70], cameras=("camera-1", "camera-2"),
    plan={"site": {"timezone": "Europe/Stockholm"}},
)  # fmt: skip
GROUND = {"night": "rgb(0, 0, 0)", "day": "rgb(246, 244, 239)"}
PAPER = "getComputedStyle(document.documentElement).backgroundColor"


@pytest.fixture(scope="module")
def rig(tmp_path_factory: pytest.TempPathFactory):
    directory = tmp_path_factory.mktemp("report")
    TWO.tell(directory / "rig")
    clip = directory / "rig" / "shoots" / TWO.id / "clips" / "a-clip.mp4"
    clip.parent.mkdir(parents=True, exist_ok=True)
    clip.write_bytes(b"no film at all")
    with dusk_rig(directory) as running:
        yield running


async def test_the_frames_room_leads_to_it_and_back(phone: Phone) -> None:
    await phone.open()
    await phone.page.evaluate("location.hash = 'frames'")
    await phone.page.locator("#which option").first.wait_for(state="attached")
    await phone.page.select_option("#which", TWO.id)
    await phone.page.locator(f"#report[href*='{TWO.id}']").wait_for()
    await phone.page.tap("#report")
    await phone.page.locator("h1", has_text=TWO.id).wait_for(timeout=120_000)
    assert phone.page.url.endswith(f"/api/v1/shoots/{TWO.id}/report.html?camera=camera-1")
    assert "the rest is of camera-1" in await phone.reads("main")
    await phone.page.tap("nav a")
    await phone.page.locator("#link", has_text="Live").wait_for()


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


async def test_the_file_stands_alone(browser: Browser, kept: Path) -> None:
    """It follows the phone's own setting, is dark on white on paper, and asks for nothing."""
    asked: list[str] = []
    for scheme, ground in (("dark", GROUND["night"]), ("light", GROUND["day"])):
        context = await browser.new_context(color_scheme=scheme, offline=True, java_script_enabled=True)
        page = await context.new_page()
        page.on("request", lambda request: asked.append(request.url))
        await page.goto(kept.as_uri())
        assert await page.evaluate(PAPER) == ground
        await page.emulate_media(media="print", color_scheme=scheme)
        assert await page.evaluate(PAPER) == "rgb(255, 255, 255)"
        assert await page.evaluate("getComputedStyle(document.querySelector('h1')).color") == "rgb(0, 0, 0)"
        await context.close()
    assert asked == [kept.as_uri()] * 2
