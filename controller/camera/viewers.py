"""Those who look through a camera: each gets the newest picture, and none that it has no time for."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncGenerator

from controller.camera.messages import LiveImage
from controller.words.errors import CameraError

_EARLY = 0.9
"""Of the time between two pictures: the body's own beat is not quite even, and one just too early is not to be left."""


class Viewers:
    """The viewers of one camera, and how many pictures a second they want at most."""

    def __init__(self, id: str) -> None:
        self._id = id
        self._wanted: dict[asyncio.Queue[LiveImage | None], float] = {}
        self._due: dict[asyncio.Queue[LiveImage | None], float] = {}  # when each wants its next, monotonic

    def __len__(self) -> int:
        return len(self._wanted)

    @property
    def per_s(self) -> float:
        return max(self._wanted.values(), default=0.0)

    def join(self, per_s: float) -> asyncio.Queue[LiveImage | None]:
        queue: asyncio.Queue[LiveImage | None] = asyncio.Queue(maxsize=1)
        self._wanted[queue] = per_s
        return queue

    def leave(self, queue: asyncio.Queue[LiveImage | None]) -> bool:
        """Whether it was still looking: a release has ended it for the body too."""
        self._due.pop(queue, None)
        return self._wanted.pop(queue, None) is not None

    def show(self, image: LiveImage | None) -> None:
        """Hand a picture to those whose time it is, since another may want more of them; None ends their looking."""
        now = time.monotonic()
        for queue, per_s in [*self._wanted.items()]:
            if image is not None and image.jpeg and now < self._due.get(queue, now):
                continue
            self._due[queue] = now + _EARLY / per_s
            if queue.full():
                queue.get_nowait()
            queue.put_nowait(image)
        if image is None:
            self._wanted.clear()
            self._due.clear()

    async def pictures(self, queue: asyncio.Queue[LiveImage | None]) -> AsyncGenerator[bytes]:
        """JPEGs until the looking ends. Raises CameraError where the body gives none."""
        while (image := await queue.get()) is not None:
            if not image.jpeg:
                remedy = "See that the lens cap is off and the camera is not in playback; not every body has live view"
                raise CameraError("no-live-view", image.why, where=self._id, remedy=remedy)
            yield image.jpeg
