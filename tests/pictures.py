"""The README's pictures, from the demo itself: `python -m tests.pictures` writes docs/pictures."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import av
from playwright.sync_api import Browser, sync_playwright

from tests.web.conftest import ARGUMENTS, CHROMIUM

PICTURES = Path(__file__).parents[1] / "docs" / "pictures"
PORT = 8797
LOOK_AFTER_S, LOOKED_AT_S = 100, 60


def page(browser: Browser) -> None:
    """The page at phone size, in the middle of the dusk."""
    page = browser.new_page(viewport={"width": 360, "height": 780}, device_scale_factor=2)
    page.goto(f"http://127.0.0.1:{PORT}/")
    page.wait_for_timeout(1000 * LOOKED_AT_S)  # to open it takes so much of a small machine that a slot may be missed
    page.screenshot(path=PICTURES / "page.png")


def clip_frame(clip: Path, share: float) -> None:
    """One frame of the clip."""
    with av.open(str(clip)) as container:
        wanted = int(container.streams.video[0].frames * share)
        for number, frame in enumerate(container.decode(video=0)):
            if number == wanted:
                frame.to_image().resize((1080, 720)).save(PICTURES / "clip-frame.jpg", quality=85)
                return


def main() -> None:
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as directory, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        command = [sys.executable, "-m", "controller", "demo", "--dir", directory, "--port", str(PORT), "--no-browser"]
        demo = subprocess.Popen(command)
        time.sleep(LOOK_AFTER_S)
        page(browser)
        browser.close()
        if demo.wait() != 0:
            raise SystemExit("the demo failed; see above")
        clip_frame(next(Path(directory).glob("*.mp4")), 0.68)


if __name__ == "__main__":
    main()
