"""What a phone that shows the page costs the rig: processor time of the daemon per client of the event stream.

`python -m tests.bench.listeners [SECONDS] [CLIENTS]`: a rig shoots once a second, as fast as a page has to follow;
first nobody looks, then so many real pages in Chromium do, each for so many seconds, in turns. The difference, divided
by the clients, is what one costs, as a share of one core. The floor is the rig that nobody looks at.
"""

from __future__ import annotations

import asyncio
import sys
import tempfile
from pathlib import Path
from statistics import median

from playwright.async_api import Browser, async_playwright

from tests.bench.rigs import machine, ratio, used_s
from tests.support.dusk_rig import DuskRig, dusk_rig
from tests.web.conftest import ARGUMENTS, CHROMIUM

PLAN = {
    "pace": {"kind": "steady", "interval_s": 1.0, "min_gap_s": 0.2},
    "light": {"kind": "follow", "shutter_s": [0.0005, 0.5], "iso": [100, 3200], "aperture": [2.8, 2.8]},
}
ROUNDS = 3


async def share(rig: DuskRig, seconds: float) -> float:
    """Share of one core over so many seconds."""
    before = used_s(rig.process.pid)
    await asyncio.sleep(seconds)
    return (used_s(rig.process.pid) - before) / seconds


async def watched(browser: Browser, rig: DuskRig, clients: int, seconds: float) -> float:
    contexts = []
    for _ in range(clients):
        contexts.append(await browser.new_context(viewport={"width": 360, "height": 780}))
        page = await contexts[-1].new_page()
        await page.goto(rig.url)
        await page.locator("#link", has_text="Live").wait_for()
    await asyncio.sleep(2)
    found = await share(rig, seconds)
    for context in contexts:
        await context.close()
    await asyncio.sleep(2)
    return found


async def main(seconds: float, clients: int, rig: DuskRig) -> None:
    print(machine())
    await rig.shoot(**PLAN)
    await rig.until_frames(10)
    alone, looked = [], []
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        for _ in range(ROUNDS):
            alone.append(await share(rig, seconds))
            looked.append(await watched(browser, rig, clients, seconds))
        await browser.close()
    now = await rig.call("GET", "now")
    each = (median(looked) - median(alone)) / clients
    print(f"nobody looks      {median(alone) * 100:5.2f} % of one core")
    print(f"{clients} pages look      {median(looked) * 100:5.2f} %")
    print(f"one page costs    {each * 100:5.2f} % (goal: at most 2); of the rig alone {ratio(each, median(alone))}")
    print(f"frames {now['frames_done']}, missed {now['frames_missed']}")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name, dusk_rig(Path(name), rate=1.0, readout=0.01, write=0.02) as rig:
        given = [float(value) for value in sys.argv[1:3]]
        asyncio.run(main(given[0] if given else 30.0, int(given[1]) if len(given) > 1 else 4, rig))
