"""The daemon's end of a camera process: starting it, speaking with it, ending it."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import os
import socket
import sys
from asyncio.subprocess import DEVNULL, PIPE, Process
from collections.abc import Callable
from pathlib import Path

import controller
from controller.camera.messages import Command, Opened
from controller.camera.wire import Decoder, Message, WireError, encode

log = logging.getLogger(__name__)

_READ = 1 << 16
_KILLED_S = 5.0


class WorkerProcess:
    """One camera process. `take` gets every message that it sends, in order, on the event loop."""

    def __init__(self, id: str, process: Process, sock: socket.socket, take: Callable[[Message], None]) -> None:
        self._id, self._process, self._sock, self._take = id, process, sock, take
        self._sending = asyncio.Lock()
        self._reading = asyncio.create_task(self._read(), name=f"camera {id} reports")
        self._logging = asyncio.create_task(self._log(), name=f"camera {id} log")

    @classmethod
    async def start(
        cls,
        id: str,
        address: str,
        known: Opened | None,
        settings: Path,
        take: Callable[[Message], None],
        *,
        shutter_open: bool = False,
    ) -> WorkerProcess:
        """Start a process for the camera at `address`; raises OSError where none can be started.

        `known` is the camera that was open there last, `shutter_open` whether it was lost while its shutter was held
        open; `settings` the directory of libgphoto2's own files.
        """
        ours, theirs = socket.socketpair()
        try:
            ours.setblocking(False)
            process = await asyncio.create_subprocess_exec(
                sys.executable,
                "-m",
                "controller.camera.worker",
                f"--fd={theirs.fileno()}",
                f"--parent={os.getpid()}",
                f"--address={address}",
                f"--model={known.model if known else ''}",
                f"--serial={known.serial if known else ''}",
                *(["--shutter-open"] if shutter_open else []),
                stdin=DEVNULL,
                stdout=DEVNULL,
                stderr=PIPE,
                pass_fds=(theirs.fileno(),),
                env=environment(settings),
            )
        except BaseException:
            ours.close()
            raise
        finally:
            theirs.close()
        return cls(id, process, ours, take)

    @property
    def pid(self) -> int:
        return self._process.pid

    async def send(self, command: Command) -> None:
        """Raises OSError where the process does not read any more."""
        async with self._sending:
            await asyncio.get_running_loop().sock_sendall(self._sock, encode(command))

    async def ended(self) -> int:
        """Wait until the process is gone and all that it said is taken in; its exit status, negative for a signal."""
        await asyncio.wait({self._reading})
        if (error := self._reading.exception()) is not None:
            log.error("%s: a report was not taken up", self._id, exc_info=error)
        with contextlib.suppress(TimeoutError):
            return await asyncio.wait_for(self._process.wait(), _KILLED_S)
        self.kill()  # it closed its socket and hangs
        return await self._process.wait()

    def kill(self) -> None:
        with contextlib.suppress(ProcessLookupError):
            self._process.kill()

    async def close(self) -> None:
        """End what is left and give everything back."""
        self.kill()
        await self._process.wait()
        for task in (self._reading, self._logging):
            try:
                await asyncio.wait_for(task, _KILLED_S)
            except TimeoutError:
                pass
            except Exception:
                log.exception("%s: what its process said was not all taken up", self._id)
        self._sock.close()

    async def _read(self) -> None:
        loop, decoder = asyncio.get_running_loop(), Decoder()
        try:
            while data := await loop.sock_recv(self._sock, _READ):
                for message in decoder.feed(data):
                    self._take(message)
        except WireError as error:
            log.error("%s: %s", self._id, error)
            self.kill()
        except OSError as error:
            log.info("%s: its process closed the line: %s", self._id, error)

    async def _log(self) -> None:
        assert self._process.stderr is not None
        last, ours = "", False
        while line := await self._line(self._process.stderr):
            level, _, text = line.decode(errors="replace").rstrip().partition(" ")
            number = logging.getLevelNamesMapping().get(level)
            if number is None:  # the library's own words, or how the process broke
                ours = ours or level in ("Traceback", "Fatal")
                number, text = logging.WARNING if ours else logging.DEBUG, f"{level} {text}"
            log.log(logging.DEBUG if text == last else number, "%s: %s", self._id, text)
            last = text

    async def _line(self, stream: asyncio.StreamReader) -> bytes:
        try:
            return await stream.readline()
        except ValueError:  # longer than the reader's buffer, which is then emptied
            return b"WARNING a line too long to be kept\n"


def environment(settings: Path) -> dict[str, str]:
    """C locale, since the library's labels are translated; settings of its own, since nothing locks their file.

    Where the user's home has a settings file of an older libgphoto2, that would be taken instead, so the home is
    another one too.
    """
    root = str(Path(controller.__file__).resolve().parent.parent)
    path = os.environ.get("PYTHONPATH")
    return {
        **{name: value for name, value in os.environ.items() if name not in ("LANGUAGE", "LC_MESSAGES", "LANG")},
        "LC_ALL": "C",
        "XDG_CONFIG_HOME": str(settings),
        "HOME": str(settings),
        "PYTHONPATH": root if not path else f"{root}{os.pathsep}{path}",
    }
