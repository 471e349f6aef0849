"""A slow network between rig and camera: real bytes through a relay that lets only so many pass in a second."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

_PIECE = 4096


@asynccontextmanager
async def slow_line(port: int, event_port: int, bytes_per_s: float) -> AsyncIterator[str]:
    """The address under which the camera at these ports is reached over the slow line."""
    relays = [await _relay(port, bytes_per_s), await _relay(event_port, bytes_per_s)]
    ports = [relay.sockets[0].getsockname()[1] for relay in relays]
    try:
        yield f"ptpip:127.0.0.1:{ports[0]}:{ports[1]}"
    finally:
        for relay in relays:
            relay.close()


async def _relay(port: int, bytes_per_s: float) -> asyncio.Server:
    async def joined(near: asyncio.StreamReader, back: asyncio.StreamWriter) -> None:
        far, forth = await asyncio.open_connection("127.0.0.1", port)
        await asyncio.gather(_pass_on(near, forth, bytes_per_s), _pass_on(far, back, bytes_per_s))

    return await asyncio.start_server(joined, "127.0.0.1", 0)


async def _pass_on(source: asyncio.StreamReader, sink: asyncio.StreamWriter, bytes_per_s: float) -> None:
    loop = asyncio.get_running_loop()
    free = loop.time()
    try:
        while data := await source.read(_PIECE):
            sink.write(data)
            await sink.drain()
            free = max(free, loop.time()) + len(data) / bytes_per_s
            if free > loop.time() + 0.002:
                await asyncio.sleep(free - loop.time())
    except OSError:
        pass
    finally:
        sink.close()
