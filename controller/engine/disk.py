"""The rig's disk: fetching stops while it is nearly full; releases go on."""

from __future__ import annotations

import contextlib
import logging
from pathlib import Path

from controller.camera.link import CameraLink
from controller.store.files import room
from controller.words.errors import CameraError

log = logging.getLogger(__name__)

DISK_RESERVE = (64_000_000, 300_000_000)
DISK_RESERVE_SHARE = 0.1
"""What fetching leaves free on the rig's disk for log and previews: a share of it, between two bounds in bytes. It goes
on again at half as much more."""


class RigDisk:
    """`free` bytes at the last look, the `reserve` that fetching leaves, and whether it is `paused` for want of it."""

    def __init__(self, directory: Path, links: list[CameraLink]) -> None:
        self._directory, self._links = directory, links
        self.free, self.reserve, self.paused = 0, 0.0, False

    async def look(self) -> None:
        """Look at the disk, and tell the cameras where fetching has to stop or may go on."""
        self.free, whole = room(self._directory)
        least, most = DISK_RESERVE
        self.reserve = max(least, min(most, whole * DISK_RESERVE_SHARE))
        paused = self.free < self.reserve * (1.5 if self.paused else 1.0)
        if paused == self.paused:
            return
        self.paused = paused
        log.warning("fetching %s: %d MB free", "paused" if paused else "goes on", self.free // 1_000_000)
        for link in self._links:
            with contextlib.suppress(CameraError):  # the link tells the camera process that comes next
                await link.pause_fetching(paused)
