"""How soon the page is right again after its link was lost without a word, and that nothing was done twice.

`python -m tests.bench.link_lost [SECONDS …]`: the page goes through a link that is cut, for 30 s and 10 min where no
times are given. In the outage a person taps Hold, whose order goes nowhere; another phone changes the interval.
Measured: from the mending of the link until the page shows the new interval and says that it is live.

With `--packets`, as root, the browser stands behind a network of its own whose packets are lost, so that connections
that are being made wait as those over a bad radio do.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from playwright.async_api import Browser, Page, async_playwright

from tests.bench.rigs import machine
from tests.support.cut_link import CutLink
from tests.support.dusk_rig import DuskRig, dusk_rig
from tests.web.conftest import ARGUMENTS, CHROMIUM

SHOWN = "[document.getElementById('link').textContent, document.getElementById('interval').textContent]"


async def until(page: Page, wanted: tuple[str, str]) -> None:
    while tuple(text.replace("\u00a0", " ") for text in await page.evaluate(SHOWN)) != wanted:
        await asyncio.sleep(0.02)


@dataclass(frozen=True)
class Link:
    """The way from the browser to the rig."""

    url: str
    cut: Callable[[], None]
    mend: Callable[[], None]
    browser: str


@contextlib.contextmanager
def stalling(rig: DuskRig) -> Iterator[Link]:
    """Connections are made, and pass nothing on."""
    with CutLink(rig.url) as link:
        yield Link(link.url, link.cut, link.mend, CHROMIUM)


@contextlib.contextmanager
def losing(rig: DuskRig) -> Iterator[Link]:
    """Packets are sent to a neighbour that is not there. Needs root, and iproute2."""
    here, there = ("duskrig", "10.87.0.1", "02:00:00:87:00:01"), ("duskphone", "10.87.0.2", "02:00:00:87:00:02")
    inside = ["ip", "netns", "exec", there[0]]

    def neighbours(right: bool) -> None:
        for before, own, other in (([], here, there), (inside, there, here)):
            address = other[2] if right else "02:00:00:87:00:99"
            subprocess.run(
                [*before, "ip", "neigh", "replace", other[1], "lladdr", address, "dev", own[0], "nud", "permanent"],
                check=True,
            )  # fmt: skip

    def ip(*words: str) -> None:
        subprocess.run(["ip", *words], check=True)

    ip("netns", "add", there[0])
    try:
        ip("link", "add", here[0], "address", here[2], "type", "veth",
           "peer", "name", there[0], "address", there[2], "netns", there[0])  # fmt: skip
        ip("address", "add", f"{here[1]}/24", "dev", here[0])
        ip("link", "set", here[0], "up")
        ip("-n", there[0], "address", "add", f"{there[1]}/24", "dev", there[0])
        for name in ("lo", there[0]):
            ip("-n", there[0], "link", "set", name, "up")
        neighbours(right=True)
        with CutLink(rig.url, here[1]) as link, tempfile.TemporaryDirectory() as name:
            browser = Path(name) / "browser"
            browser.write_text(f'#!/bin/sh\nexec {" ".join(inside)} {CHROMIUM} "$@"\n')
            browser.chmod(0o755)
            yield Link(link.url, lambda: neighbours(right=False), lambda: neighbours(right=True), str(browser))
    finally:
        ip("netns", "delete", there[0])  # and with it both ends of the link


async def outage(browser: Browser, rig: DuskRig, link: Link, seconds: float) -> None:
    shoot = await rig.shoot(when={"start": "now", "duration": "12h"})  # ten minutes are five hours there
    context = await browser.new_context(viewport={"width": 360, "height": 780}, has_touch=True)
    page = await context.new_page()
    await page.goto(link.url)
    await page.locator("#link", has_text="Live").wait_for()
    link.cut()
    begun = time.monotonic()
    await page.locator("#link", has_text="No link").wait_for()
    noticed_s = time.monotonic() - begun
    await page.tap("#hold")
    await asyncio.sleep(seconds - noticed_s)
    await rig.call("POST", f"shoots/{shoot}/pace", json={"to_s": 28, "over_s": 0})
    await rig.until(lambda now: abs(now["interval_s"] - 28) < 0.01)
    link.mend()
    mended = time.monotonic()
    await until(page, ("Live", "28.0 s"))
    right_s = time.monotonic() - mended
    await asyncio.sleep(5)
    after = await rig.call("GET", f"shoots/{shoot}")
    print(
        f"lost for {seconds:4.0f} s   noticed after {noticed_s:.1f} s, right again {right_s:.2f} s after its return"
        f" (goal 2), then {after['state']} (the hold that was tapped was not done later)"
    )
    await context.close()


async def main(spans: list[float], rig: DuskRig, link: Link) -> None:
    print(machine())
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=link.browser, args=ARGUMENTS)
        for seconds in spans:
            await outage(browser, rig, link, seconds)
        await browser.close()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(prog="python -m tests.bench.link_lost", description=__doc__)
    parser.add_argument("seconds", nargs="*", type=float, default=[30.0, 600.0])
    parser.add_argument("--packets", action="store_true", help="lose packets below TCP; needs root")
    args = parser.parse_args()
    way = losing if args.packets else stalling
    with tempfile.TemporaryDirectory() as name, dusk_rig(Path(name)) as rig, way(rig) as link:
        asyncio.run(main(args.seconds, rig, link))
