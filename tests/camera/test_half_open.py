"""A session that was opened and could not be made ready: it is let go, for a body has one and no other."""

from __future__ import annotations

from pathlib import Path

from controller.camera.messages import Gone, Opened
from tests.camera.ear import connected
from tests.camera.test_faults import descriptors, pid
from tests.support.simcam import start_simulated_camera


async def test_openings_in_vain_hold_no_line_to_the_body(tmp_path: Path) -> None:
    """The card's listing is refused in two openings after a loss; the third one works, in the same process."""
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, ear):
            process, before = pid(link), descriptors(pid(link))
            camera.control("refuse", operation="list", code="general_error", times=2)
            camera.control("fault", word="drop")
            await ear.count(Gone, 1)
            await ear.count(Opened, 2)
            assert pid(link) == process
            assert descriptors(process) == before
