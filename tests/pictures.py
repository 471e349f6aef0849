"""The pages' pictures, from rigs that shoot: `python -m tests.pictures` writes docs/pictures, in some five minutes.

One evening gives all that show a shoot: the demo's. What comes before an evening is from a rig in the demo's harbour
that is given the plan of docs/first-night.md. One of the two alone: `python -m tests.pictures before`, by the names of
the functions below.

The demo is started before this program makes itself humble: what looks at it must not cost it a slot. Where one is
missed all the same, since something else kept the machine, nothing of that evening is kept.
"""

from __future__ import annotations

import asyncio
import contextlib
import io
import math
import os
import shutil
import sys
import tempfile
from collections.abc import AsyncIterator
from pathlib import Path
from subprocess import PIPE
from typing import Any

import av
import httpx
from PIL import Image
from playwright.async_api import Browser, Page, async_playwright

from tests.support.dusk_rig import DuskRig, dusk_rig
from tests.support.rigs import EVENING_UTC
from tests.test_house import ROOT, plans_in
from tests.web.conftest import ARGUMENTS, CHROMIUM

PICTURES = ROOT / "docs" / "pictures"
URL = "http://127.0.0.1:8797/"
CHANGED_AT, SEEN_AT = 40, 220
"""Frames done when a change is looked at, by day, and when the first screen is, some seconds after civil dusk: it is
dark by then."""
LATER_UTC = EVENING_UTC + 6 * 3600
COLOURS = 64  # the page has few: a third of the bytes, and no difference to be seen
PATIENCE_MS = 120_000
HUMBLE = 15


@contextlib.asynccontextmanager
async def humble_browser() -> AsyncIterator[Browser]:
    """A browser that yields to everything else; this program does so too from here on."""
    os.nice(HUMBLE - os.nice(0))
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        await browser.close()


async def phone(browser: Browser, url: str) -> Page:
    """The page at phone size, once it shows the rig."""
    context = await browser.new_context(
        viewport={"width": 360, "height": 780}, device_scale_factor=2, has_touch=True, is_mobile=True
    )
    page = await context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    await page.goto(url)
    return page


async def keep(page: Page, into: Path, name: str, until: str | None = None) -> None:
    """What is seen now, or what is above the first element `until`, as a PNG with a palette."""
    box = await page.locator(until).first.bounding_box() if until else None
    shown: Any = {"x": 0, "y": 0, "width": 360, "height": math.floor(box["y"]) - 1} if box else None
    seen = Image.open(io.BytesIO(await page.screenshot(clip=shown))).convert("RGB")
    few = seen.quantize(COLOURS, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    few.save(into / f"{name}.png", optimize=True)


def clip_frame(directory: Path, into: Path, share: float) -> None:
    """One frame of the clip that the demo made."""
    clip = next(directory.glob("shoots/*/*.mp4"))
    with av.open(str(clip)) as container:
        wanted = int(container.streams.video[0].frames * share)
        for number, frame in enumerate(container.decode(video=0)):
            if number == wanted:
                frame.to_image().resize((1080, 720)).save(into / "clip-frame.jpg", quality=80)
                return


def put(made: Path) -> None:
    for picture in made.iterdir():
        shutil.copy(picture, PICTURES)


async def frames(count: int) -> dict[str, Any]:
    """The demo's `now` once it has so many frames."""
    async with httpx.AsyncClient() as client:
        while True:
            with contextlib.suppress(httpx.TransportError):  # it has not begun to answer
                now: dict[str, Any] = (await client.get(f"{URL}api/v1/now")).json()
                if now["frames_done"] >= count:
                    return now
            await asyncio.sleep(0.5)


async def demo() -> None:
    """The demo while it shoots: a change, the first screen; and afterwards: curves, report, a frame of the clip."""
    with tempfile.TemporaryDirectory() as directory:
        rig = Path(directory, "rig")  # where `dusk_rig` has its own
        made = Path(tempfile.mkdtemp(dir=directory))
        command = ["-m", "controller", "demo", "--dir", str(rig), "--port", str(httpx.URL(URL).port), "--no-browser"]
        process = await asyncio.create_subprocess_exec(sys.executable, *command, stdout=PIPE)  # at a terminal it stays
        try:
            async with humble_browser() as browser, asyncio.timeout(600):
                await while_it_shoots(browser, made)
            printed, _ = await process.communicate()
        finally:
            with contextlib.suppress(ProcessLookupError):
                process.terminate()
        print(printed.decode())
        if process.returncode != 0:
            raise SystemExit("the demo failed; see above")
        clip_frame(rig, made, 0.68)
        async with humble_browser() as browser:
            with dusk_rig(Path(directory), rate=1, utc=LATER_UTC) as later:
                await when_it_is_over(browser, later, made)
        put(made)


async def while_it_shoots(browser: Browser, made: Path) -> None:
    await frames(1)
    page = await phone(browser, URL)
    await frames(CHANGED_AT)
    await page.tap("#change")
    await page.tap("[data-part=pace]")
    await page.fill("#pace-to", "15")
    await page.locator("#change-do:enabled").wait_for()
    await keep(page, made, "change")
    await page.tap("#change-sheet .leave")
    await frames(SEEN_AT)
    await keep(page, made, "page")
    await page.context.close()


async def when_it_is_over(browser: Browser, rig: DuskRig, made: Path) -> None:
    (shoot,) = await rig.call("GET", "shoots")
    troubles = await rig.call("GET", f"shoots/{shoot['id']}/frames/troubles")
    if troubles["missed"]:
        raise SystemExit(f"{troubles['missed']} slots were missed: run it once more when the machine is free")
    page = await phone(browser, rig.url + "#frames")
    await page.locator("#which option").first.wait_for(state="attached")
    await page.tap("[data-view=curves]")
    await page.locator("#curves path.line").first.wait_for(state="attached")
    await asyncio.sleep(3)  # what else is fetched comes a moment later
    await keep(page, made, "curves")
    await page.goto(f"{rig.url}api/v1/shoots/{shoot['id']}/report.html")
    await keep(page, made, "report", until="section:has(h2:text-is('Lateness'))")
    await page.context.close()


async def harbour(rig: DuskRig) -> None:
    """Keep the tutorial's plan on a rig whose camera is there."""
    plan = plans_in(ROOT / "docs" / "first-night.md")["harbour.toml"]
    while not (await rig.call("GET", "cameras"))[0]["connected"]:
        await asyncio.sleep(0.2)
    await rig.call("PUT", f"plans/{plan['name']}", json=plan)


async def before() -> None:
    """Is it ready, and the sheet that starts the plan: on an evening that goes no faster than any."""
    async with humble_browser() as browser:
        with (
            tempfile.TemporaryDirectory() as directory,
            dusk_rig(Path(directory), rate=1, utc=EVENING_UTC - 3600) as rig,
        ):
            await harbour(rig)
            page = await phone(browser, rig.url + "#camera")
            await page.tap("[data-part=checks] > summary")
            await page.locator("#check-summary:not(:empty)").wait_for()
            await page.select_option("#check-plan", index=1)
            await page.locator("#check-summary", has_text="for this plan").wait_for()
            await page.evaluate("document.querySelector('[data-part=checks]').scrollIntoView()")
            await keep(page, PICTURES, "ready")
            await page.goto(rig.url)
            await page.tap("#start")
            await page.locator("#start-comes", has_text="frames").wait_for()
            await keep(page, PICTURES, "start")
            await page.context.close()


async def main(wanted: list[str]) -> None:
    PICTURES.mkdir(exist_ok=True)
    for make in (demo, before):
        if not wanted or make.__name__ in wanted:
            await make()


if __name__ == "__main__":
    asyncio.run(main(sys.argv[1:]))
