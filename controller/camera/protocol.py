"""What the engine asks of a camera: a process with a real body behind it, or a model in a rehearsal."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Protocol

from controller.camera.messages import CardFile, Opened, Release, Report, Status

Listener = Callable[[Report], Awaitable[None]]

CONNECTING = "the camera is being connected"
"""The trouble of a camera that was not looked for yet."""


class Camera(Protocol):
    """A camera that opens itself, heals itself, and tells its listener what happens.

    `Opened` is reported after every (re)connection, `Gone` after every loss.
    """

    id: str
    address: str
    opened: Opened | None  # None while there is no session
    trouble: str | None  # why there is none

    def listen(self, listener: Listener) -> None:
        """Reports go to `listener`, one at a time and in order."""
        ...

    async def start(self) -> None:
        """Begin to connect; returns at once."""
        ...

    async def release(self, order: Release) -> None:
        """Hand the order over, ahead of its time. Raises CameraError where there is no session."""
        ...

    async def cancel(self, seq: int) -> None: ...

    async def fetch(self, seq: int, camera_file: str, directory: str, stem: str) -> None: ...

    async def pause_fetching(self, paused: bool) -> None: ...

    async def files(self, fresh: bool = False) -> list[CardFile]:
        """The card's files; `fresh` also those of which the camera has not told. Raises CameraError."""
        ...

    async def status(self) -> Status:
        """Battery and storage. Raises CameraError."""
        ...

    async def stop(self) -> None:
        """Close the session and end the process."""
        ...
