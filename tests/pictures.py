"""The pages' pictures, from rigs that shoot: `python -m tests.pictures` writes docs/pictures, in some eight minutes.

Those of README come from the demo itself; those of docs/first-night.md from a rig in the demo's harbour that is given
that page's plan. To renew some: `python -m tests.pictures before during`, by the names of the functions below.
"""

from __future__ import annotations

import asyncio
import io
import sys
import tempfile
from pathlib import Path

import av
from PIL import Image
from playwright.async_api import Browser, Page, async_playwright

from tests.support.dusk_rig import DuskRig, dusk_rig
from tests.support.rigs import EVENING_UTC
from tests.test_house import ROOT, plans_in
from tests.web.conftest import ARGUMENTS, CHROMIUM

PICTURES = ROOT / "docs" / "pictures"
PORT = 8797
LOOK_AFTER_S, LOOKED_AT_S = 100, 60
COLOURS = 64  # the page has few: a third of the bytes, and no difference to be seen
PATIENCE_MS = 120_000


async def phone(browser: Browser, url: str) -> Page:
    """The page at phone size, once it shows the rig."""
    context = await browser.new_context(
        viewport={"width": 360, "height": 780}, device_scale_factor=2, has_touch=True, is_mobile=True
    )
    page = await context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    await page.goto(url)
    return page


async def keep(page: Page, name: str) -> None:
    """What is seen now, as a PNG with a palette."""
    seen = Image.open(io.BytesIO(await page.screenshot())).convert("RGB")
    few = seen.quantize(COLOURS, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    few.save(PICTURES / f"{name}.png", optimize=True)


def clip_frame(directory: Path, share: float) -> None:
    """One frame of the clip that the demo made."""
    clip = next(directory.glob("shoots/*/*.mp4"))
    with av.open(str(clip)) as container:
        wanted = int(container.streams.video[0].frames * share)
        for number, frame in enumerate(container.decode(video=0)):
            if number == wanted:
                frame.to_image().resize((1080, 720)).save(PICTURES / "clip-frame.jpg", quality=80)
                return


async def demo(browser: Browser) -> None:
    """README's: the first screen in the middle of the dusk, and a frame of the clip."""
    with tempfile.TemporaryDirectory() as directory:
        command = ["-m", "controller", "demo", "--dir", directory, "--port", str(PORT), "--no-browser"]
        process = await asyncio.create_subprocess_exec(sys.executable, *command)
        await asyncio.sleep(LOOK_AFTER_S)
        page = await phone(browser, f"http://127.0.0.1:{PORT}/")
        await asyncio.sleep(LOOKED_AT_S)  # to open it takes so much of a small machine that a slot may be missed
        await keep(page, "page")
        await page.context.close()
        if await process.wait() != 0:
            raise SystemExit("the demo failed; see above")
        clip_frame(Path(directory), 0.68)


async def harbour(rig: DuskRig) -> str:
    """Keep the tutorial's plan on a rig; its name."""
    plan = plans_in(ROOT / "docs" / "first-night.md")["harbour.toml"]
    name = plan["name"]
    while not (await rig.call("GET", "cameras"))[0]["connected"]:
        await asyncio.sleep(0.2)
    await rig.call("PUT", f"plans/{name}", json=plan)
    return str(name)


async def before(browser: Browser) -> None:
    """Is it ready, and the sheet that starts the plan: on an evening that goes no faster than any."""
    with tempfile.TemporaryDirectory() as directory, dusk_rig(Path(directory), rate=1, utc=EVENING_UTC - 3600) as rig:
        await harbour(rig)
        page = await phone(browser, rig.url + "#camera")
        await page.tap("[data-part=checks] > summary")
        await page.locator("#check-summary:not(:empty)").wait_for()
        await page.select_option("#check-plan", index=1)
        await page.locator("#check-summary", has_text="for this plan").wait_for()
        await page.evaluate("document.querySelector('[data-part=checks]').scrollIntoView()")
        await keep(page, "ready")
        await page.goto(rig.url)
        await page.tap("#start")
        await page.locator("#start-comes", has_text="frames").wait_for()
        await keep(page, "start")
        await page.context.close()


async def during(browser: Browser) -> None:
    """A change that is looked at, then the curves and the report of the evening."""
    with tempfile.TemporaryDirectory() as directory, dusk_rig(Path(directory), utc=EVENING_UTC - 1900) as rig:
        name = await harbour(rig)
        started = await rig.call("POST", "shoots", json={"plan": name})
        await rig.until(lambda now: now["frames_done"] >= 30, 200)
        page = await phone(browser, rig.url)
        await page.tap("#change")
        await page.tap("[data-part=pace]")
        await page.fill("#pace-to", "15")
        await asyncio.sleep(1)
        await page.locator("#effect-says", has_not_text="Working out").wait_for()
        await keep(page, "change")
        await rig.until(lambda now: now["shoot"]["state"] == "done", 400)
        await page.goto(rig.url + "?again#frames")  # not the same address: else nothing is loaded anew
        await page.locator("#which option").first.wait_for(state="attached")
        await page.tap("[data-view=curves]")
        await page.locator("#curves path.line").first.wait_for(state="attached")
        await asyncio.sleep(5)
        await keep(page, "curves")
        await page.goto(f"{rig.url}api/v1/shoots/{started['id']}/report.html")
        await keep(page, "report")
        await page.context.close()


async def main(wanted: list[str]) -> None:
    PICTURES.mkdir(exist_ok=True)
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        for make in (demo, before, during):
            if not wanted or make.__name__ in wanted:
                await make(browser)
        await browser.close()


if __name__ == "__main__":
    asyncio.run(main(sys.argv[1:]))
