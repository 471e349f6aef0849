"""A phone in front of a rig: Debian's Chromium at phone size, and what it may not do while a test runs."""

from __future__ import annotations

import asyncio
import json
import re
import shutil
import time
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
import pytest_asyncio
from playwright.async_api import Browser, Page, async_playwright

from tests.support.dusk_rig import DuskRig, dusk_rig

CHROMIUM = shutil.which("chromium-headless-shell") or "/usr/bin/chromium"
"""Debian's; without its own windows it takes a third of the processor's time."""
ARGUMENTS = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
).split()
OUTPUT = Path(__file__).parent.parent.parent / "test-output"


@dataclass
class Phone:
    """A page as a hand holds it."""

    page: Page
    rig: DuskRig
    faults: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)

    async def open(self) -> None:
        """Open the page and wait until it shows the rig."""
        await self.page.goto(self.rig.url)
        await self.page.locator("#link", has_text="Live").wait_for()

    async def reads(self, selector: str) -> str:
        """The text that stands there; blanks that no line breaks at as others."""
        return (await self.page.inner_text(selector)).replace("\u00a0", " ")

    async def shows(self, selector: str, text: str | re.Pattern[str], within_s: float = 90) -> None:
        """Wait until that text stands there."""
        await self.page.locator(selector, has_text=text).wait_for(timeout=within_s * 1000)

    async def told(self, now: dict[str, Any]) -> None:
        """Open the page upon a stream that says this `now` and then nothing more."""
        stream = f"retry: 60000\nevent: now\ndata: {json.dumps(now)}\n\n"
        await self.page.route(
            "**/api/v1/events", lambda route: route.fulfill(content_type="text/event-stream", body=stream)
        )
        await self.page.goto(self.rig.url)
        await self.page.locator("#plan:not(:empty), #start").first.wait_for()

    async def hold(self) -> None:
        """Hold until it is resumed."""
        await self.page.tap("#hold")
        await self.page.locator("#change-do:enabled").wait_for(timeout=90_000)
        await self.page.tap("#change-do")

    async def until(self, expression: str, within_s: float = 30) -> None:
        """Wait until a JavaScript expression holds; asked from here, since the page forbids `eval`."""
        end = time.monotonic() + within_s
        while not await self.page.evaluate(expression):
            assert time.monotonic() < end, expression
            await asyncio.sleep(0.05)

    async def picture(self, name: str) -> None:
        """Keep what is seen, to be looked at."""
        OUTPUT.mkdir(exist_ok=True)
        await self.page.screenshot(path=OUTPUT / f"page-{name}.png")


@pytest_asyncio.fixture(loop_scope="module", scope="module")
async def browser() -> AsyncIterator[Browser]:
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        await browser.close()


@pytest.fixture(scope="module")
def rig(tmp_path_factory: pytest.TempPathFactory):
    with dusk_rig(tmp_path_factory.mktemp("dusk")) as running:
        yield running


@pytest_asyncio.fixture(loop_scope="module")
async def phone(browser: Browser, rig: DuskRig) -> AsyncIterator[Phone]:
    """A phone whose page, when the test is over, has raised no error and asked no other host."""
    context = await browser.new_context(viewport={"width": 360, "height": 780}, has_touch=True, is_mobile=True)
    page = await context.new_page()
    phone = Phone(page, rig)
    page.on("console", lambda said: phone.faults.append(said.text) if said.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: phone.faults.append(str(error)))
    page.on("request", lambda request: phone.requests.append(request.url))
    yield phone
    await context.close()
    assert phone.faults == []
    assert [url for url in phone.requests if not url.startswith(rig.url)] == []
