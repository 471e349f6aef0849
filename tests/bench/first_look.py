"""How soon the page shows something on one bar of Wi-Fi, and how much of it goes over the link.

`python -m tests.bench.first_look [ROUNDS]`: Chromium at phone size, its cache empty, throttled by the DevTools protocol
(`Network.emulateNetworkConditions`) to 400 kbit/s each way and 400 ms for each request. "First content" is the
browser's own `first-contentful-paint` (W3C Paint Timing); "first figures" is the countdown drawn. The floor is an HTML
file of one line from the same machine under the same throttle.
"""

from __future__ import annotations

import asyncio
import functools
import http.server
import sys
import tempfile
import threading
from pathlib import Path
from statistics import median

from playwright.async_api import Browser, Page, async_playwright

from tests.bench.rigs import machine, ratio
from tests.support.dusk_rig import DuskRig, dusk_rig
from tests.web.conftest import ARGUMENTS, CHROMIUM

LATENCY_MS, BITS_PER_S = 400, 400_000


PAINTED = "performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? null"
FIGURES = "/\\d/.test(document.getElementById('countdown')?.textContent ?? '')"


async def throttled(browser: Browser) -> Page:
    """A page of its own, with nothing in the cache."""
    context = await browser.new_context(viewport={"width": 360, "height": 780}, has_touch=True, is_mobile=True)
    page = await context.new_page()
    devtools = await context.new_cdp_session(page)
    await devtools.send("Network.enable")
    rate = BITS_PER_S / 8
    conditions = {"offline": False, "latency": LATENCY_MS, "downloadThroughput": rate, "uploadThroughput": rate}
    await devtools.send("Network.emulateNetworkConditions", conditions)
    return page


async def until(page: Page, expression: str) -> float:
    """Milliseconds since the navigation began at which it holds (true, or a number of its own)."""
    while True:
        found = await page.evaluate(f"[({expression}), performance.now()]")
        if found[0]:
            return float(found[1] if found[0] is True else found[0])
        await asyncio.sleep(0.02)


async def look(browser: Browser, url: str, figures: bool) -> tuple[float, float, int, int]:
    """First content and first figures, ms; requests; bytes over the link."""
    page = await throttled(browser)
    sizes: list[int] = []
    asked: list[str] = []

    async def weigh(request) -> None:  # type: ignore[no-untyped-def]
        if not request.url.endswith("/events"):
            measured = await request.sizes()
            sizes.append(measured["responseBodySize"] + measured["responseHeadersSize"])

    page.on("request", lambda request: asked.append(request.url))
    page.on("requestfinished", weigh)
    await page.goto(url, wait_until="commit")
    painted = await until(page, PAINTED)
    shown = await until(page, FIGURES) if figures else painted
    await asyncio.sleep(3)
    await page.context.close()
    return painted, shown, len(asked), sum(sizes)


async def main(rounds: int, rig: DuskRig, bare: str) -> None:
    print(machine())
    await rig.shoot()
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        floors, looks = [], []
        for _ in range(rounds):
            floors.append((await look(browser, bare, False))[0])
            looks.append(await look(browser, rig.url, True))
        await browser.close()
    painted, shown = [one[0] for one in looks], [one[1] for one in looks]
    floor = median(floors)
    print(f"one line of HTML    first content {floor / 1000:.2f} s (median of {rounds})")
    print(
        f"the page            first content {median(painted) / 1000:.2f} s, at most {max(painted) / 1000:.2f} s"
        f" (goal 1.0), {ratio(median(painted), floor)}"
    )
    print(f"                    first figures {median(shown) / 1000:.2f} s, at most {max(shown) / 1000:.2f} s,"
          f" {ratio(median(shown), floor)}")  # fmt: skip
    print(
        f"                    {max(one[2] for one in looks)} requests (goal 12),"
        f" {max(one[3] for one in looks) / 1000:.1f} kB with headers (goal 100)"
    )


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        (Path(name) / "bare").mkdir()
        (Path(name) / "bare" / "index.html").write_text("<!doctype html><title>floor</title><p>One line")
        handler = functools.partial(http.server.SimpleHTTPRequestHandler, directory=str(Path(name) / "bare"))
        handler.log_message = lambda *_: None  # type: ignore[attr-defined]
        with http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
            threading.Thread(target=server.serve_forever, daemon=True).start()
            with dusk_rig(Path(name) / "dusk") as rig:
                address = f"http://127.0.0.1:{server.server_address[1]}/"
                asyncio.run(main(int(sys.argv[1]) if len(sys.argv) > 1 else 9, rig, address))
            server.shutdown()
