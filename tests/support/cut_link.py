"""A link between a phone and its rig that can be lost without a word, as Wi-Fi is: a proxy that passes nothing on."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from urllib.parse import urlsplit


class CutLink:
    """While it is cut nothing comes through in either direction, and no end is told. What was on its way is gone, and
    connections of before stay dead when it is mended, as behind a router that has forgotten them."""

    def __init__(self, rig: str, host: str = "127.0.0.1") -> None:
        """`rig` is the rig's address, `http://HOST:PORT/`; `host` is where the phone finds the link."""
        self._host = host
        there = urlsplit(rig)
        self._there = (there.hostname or "", there.port or 80)
        self._cut = False
        self._answers = True
        self._ends: list[asyncio.StreamWriter] = []
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._ready = threading.Event()
        self.url = ""

    def cut(self) -> None:
        """Lose the link."""
        self._cut = True

    def swallow_answers(self) -> None:
        """What the phone asks still arrives; what the rig says does not."""
        self._answers = False

    def mend(self) -> None:
        """The link is back, for new connections."""
        self._cut, self._answers = False, True

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        server = self._loop.run_until_complete(asyncio.start_server(self._join, self._host, 0))
        self.url = f"http://{self._host}:{server.sockets[0].getsockname()[1]}/"
        self._ready.set()
        self._loop.run_forever()
        server.close()
        for _ in range(3):  # a busy machine sees late those that were just taken
            self._loop.run_until_complete(asyncio.sleep(0.1))
            left = asyncio.all_tasks(self._loop)
            for task in left:
                task.cancel()
            self._loop.run_until_complete(asyncio.gather(*left, return_exceptions=True))
            for end in self._ends:
                end.transport.abort()
        self._loop.run_until_complete(asyncio.sleep(0.1))  # until they are closed
        self._loop.close()

    async def _join(self, phone_in: asyncio.StreamReader, phone_out: asyncio.StreamWriter) -> None:
        self._ends.append(phone_out)
        if self._cut:  # it was taken by this machine's kernel, not by a rig: nobody answers on it, ever
            return
        rig_in, rig_out = await asyncio.open_connection(*self._there)
        self._ends.append(rig_out)
        dead = [False]
        with contextlib.suppress(asyncio.CancelledError):  # the test is over
            await asyncio.gather(self._pass(phone_in, rig_out, dead, True), self._pass(rig_in, phone_out, dead, False))

    async def _pass(
        self, source: asyncio.StreamReader, sink: asyncio.StreamWriter, dead: list[bool], asking: bool
    ) -> None:
        with contextlib.suppress(OSError):
            while data := await source.read(65536):
                dead[0] = dead[0] or self._cut or (not asking and not self._answers)
                if self._cut or (dead[0] and not asking) or (dead[0] and self._answers):
                    continue
                sink.write(data)
                await sink.drain()
            if not dead[0] and not self._cut:
                sink.close()

    def __enter__(self) -> CutLink:
        self._thread.start()
        self._ready.wait()
        return self

    def __exit__(self, *_: object) -> None:
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
