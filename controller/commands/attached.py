"""Cameras opened by a command itself, where no service holds them."""

from __future__ import annotations

import asyncio
import logging
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from controller.camera.detect import detect
from controller.camera.link import CameraLink
from controller.camera.protocol import CONNECTING
from controller.store import Store
from controller.store.files import database_path
from controller.words.bodies import BodySeen
from controller.words.errors import DuskhandError

CONNECT_S = 30.0


@asynccontextmanager
async def attached(addresses: list[str]) -> AsyncIterator[list[CameraLink]]:
    """Links to the cameras named, or to all on USB, each open or with its trouble told; closed on the way out.

    Raises BadInput where an address is none, CameraError where USB cannot be searched.
    """
    logging.getLogger("controller.camera").setLevel(logging.ERROR)  # troubles are told by the command, and once
    links = [CameraLink(address, id=f"camera-{n}") for n, address in enumerate(addresses or await _on_usb(), 1)]
    started = []
    try:
        for link in links:
            started.append(link)
            await link.start()
        end = asyncio.get_running_loop().time() + CONNECT_S
        while True:
            late = asyncio.get_running_loop().time() > end
            if late or all(link.trouble != CONNECTING for link in links):
                break
            await asyncio.sleep(0.05)
        yield links
    finally:
        await asyncio.gather(*(link.stop() for link in started))


async def kept_bodies(directory: Path) -> list[BodySeen]:
    """Bodies in the log of a rig, those seen last first; none where there is no log, or it cannot be read."""
    if not database_path(directory).exists():
        return []
    try:
        async with await Store.open(database_path(directory), read_only=True) as store:
            return await store.bodies()
    except DuskhandError as error:
        print(f"duskhand: what bodies were seen to do was not read: {error}", file=sys.stderr)
        return []


async def _on_usb() -> list[str]:
    return [address for _, address in await detect()]
