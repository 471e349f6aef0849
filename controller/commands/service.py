"""A rig and its server in one event loop, for `serve` and `demo`."""

from __future__ import annotations

import asyncio
import contextlib
import fcntl
import logging
import signal
import socket
import struct
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from api.server import Server
from api.tls import Tls
from controller.commands import journal
from controller.daemon import Rig

SIOCGIFADDR = 0x8915  # linux/sockios.h
PLAIN = "%(asctime)s %(message)s"


def start_log(level: int = logging.INFO, *, verbose: bool = False) -> None:
    """One line an event, with its time, to standard error; an entry with fields where the journal keeps that.

    What the libraries say of themselves, and who says what, is for `verbose` only.
    """
    named = "%(asctime)s %(levelname).1s %(name)s: %(message)s"
    if journal.is_kept():
        logging.basicConfig(handlers=[journal.Journal()], level=level, format="%(message)s")
    else:
        form = named if verbose else PLAIN
        logging.basicConfig(stream=sys.stderr, level=level, format=form, datefmt="%Y-%m-%d %H:%M:%S")
    logging.getLogger("apscheduler").setLevel(logging.WARNING)
    if verbose:
        for own in ("controller", "api"):
            logging.getLogger(own).setLevel(logging.DEBUG)
    else:
        logging.getLogger("uvicorn").setLevel(logging.WARNING)


def on_signal(stop: asyncio.Event) -> None:
    """Set `stop` when the process is asked to end."""
    for number in (signal.SIGINT, signal.SIGTERM):
        asyncio.get_running_loop().add_signal_handler(number, stop.set)


def own_addresses() -> list[str]:
    """IPv4 addresses of this machine that others on its networks can reach (netdevice(7), SIOCGIFADDR)."""
    found = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        for _, name in socket.if_nameindex():
            request = struct.pack("256s", name.encode()[:15])
            with contextlib.suppress(OSError):  # an interface without an address
                found.append(socket.inet_ntoa(fcntl.ioctl(probe, SIOCGIFADDR, request)[20:24]))
    return [address for address in found if not address.startswith("127.")]


def answers(address: str, port: int) -> bool:
    """Whether something listens there."""
    try:
        with socket.create_connection((address, port), timeout=1.0):
            return True
    except (OSError, OverflowError):
        return False


@asynccontextmanager
async def serving(rig: Rig, host: str, port: int, tls: Tls | None = None) -> AsyncIterator[Server]:
    """The rig opened and its page answering; both ended on the way out. Raises BadInput where the port is taken."""
    server = Server(rig, host, port, tls)
    server.bind()
    stop = asyncio.Event()
    await rig.open()
    task = asyncio.create_task(server.run_until(stop))
    try:
        ready = asyncio.create_task(server.ready.wait())
        await asyncio.wait({task, ready}, return_when=asyncio.FIRST_COMPLETED)
        ready.cancel()
        yield server
    finally:
        stop.set()
        try:
            await task
        finally:
            await rig.close()
