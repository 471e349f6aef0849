"""The HTTP server over a rig."""

from __future__ import annotations

import asyncio
import errno
import socket
from collections.abc import Iterator
from contextlib import contextmanager

import uvicorn

from api.app import create_app
from api.connections import Connection
from api.rig import Rig
from api.tls import Tls
from controller.words.errors import BadInput

_LOOK_TICKS = 600


class Server(uvicorn.Server):
    """Uvicorn, ending the event streams first: it would wait for them otherwise, and they never end by themselves."""

    def __init__(self, rig: Rig, host: str, port: int, tls: Tls | None = None) -> None:
        """`port` 0 takes a free one; see `url` once it serves."""
        self.rig, self._tls = rig, tls
        self.ready = asyncio.Event()
        super().__init__(
            uvicorn.Config(
                create_app(rig),
                host=host,
                port=port,
                access_log=False,
                proxy_headers=False,  # who asks is who is connected
                log_config=None,
                http=Connection,
                ws="none",
                server_header=False,
                timeout_graceful_shutdown=3,
                ssl_context_factory=None if tls is None else lambda *_: tls.context,
            )
        )

    def bind(self) -> None:
        """Take the port, before anything else is started. Raises BadInput where that cannot be."""
        host, port = self.config.host, self.config.port
        if not 0 <= port <= 65535:
            raise BadInput("bad-port", f"{port} is no port", "--port", "Give a number from 0 (any free one) to 65535")
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        # The protocol is named since asyncio sets TCP_NODELAY only where it is: without, each answer waits 40 ms.
        self._socket = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            self._socket.bind((host, port))
        except OSError as error:
            self._socket.close()
            remedy = "Choose another with --port, or end the program that has it"
            if error.errno not in (errno.EADDRINUSE, errno.EACCES):
                remedy = "Give an address of this machine with --host, or 0.0.0.0 for all of them"
            what = f"cannot listen there: {error.strerror or error}"
            raise BadInput("port-taken", what, where=f"{host}, port {port}", remedy=remedy) from error

    async def serve(self, sockets: list[socket.socket] | None = None) -> None:
        """Serve on the bound port."""
        await super().serve(sockets or [self._socket])

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        self.ready.set()

    async def run_until(self, stop: asyncio.Event) -> None:
        """Serve on the bound port until `stop` is set."""
        serving = asyncio.create_task(self.serve())
        stopping = asyncio.create_task(stop.wait())
        await asyncio.wait({serving, stopping}, return_when=asyncio.FIRST_COMPLETED)
        self.should_exit = True
        stopping.cancel()
        await serving

    async def on_tick(self, counter: int) -> bool:
        """What uvicorn does ten times a second; a renewed certificate is looked for now and then."""
        if self._tls is not None and counter % _LOOK_TICKS == 0:
            self._tls.look()
        return await super().on_tick(counter)

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Signals are the command's: it has a camera and a log to close after the server."""
        yield

    @property
    def url(self) -> str:
        """Where this server answers."""
        address = self._socket.getsockname()
        host = "127.0.0.1" if address[0] in ("0.0.0.0", "::") else address[0]
        scheme = "http" if self._tls is None else "https"
        return f"{scheme}://[{host}]:{address[1]}/" if ":" in host else f"{scheme}://{host}:{address[1]}/"

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        self.rig.hub.close()
        await super().shutdown(sockets)
