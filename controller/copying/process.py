"""The daemon's end of a place's process."""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import sys
from asyncio.subprocess import PIPE, Process
from pathlib import Path
from typing import Any

import controller
from controller.copying.far import BY_ITSELF
from controller.words.errors import CopyError

STALL_S = 180.0
"""Wall seconds without a word, after which a process hangs; a place that is slow tells of every piece."""


class PlaceProcess:
    """Started when it is first asked something; `settings` are the place's, with its keys."""

    def __init__(self, settings: dict[str, Any], rig: Path) -> None:
        self._settings = {**settings, "rig": str(rig)}
        self._process: Process | None = None
        self._busy = asyncio.Lock()
        self._over = False

    async def ask(self, **task: Any) -> dict[str, Any]:
        """One task's answer; waits for the one before. Cancelled, the process is ended. Raises CopyError."""
        async with self._busy:
            try:
                return await self._ask(task)
            except CopyError:
                raise
            except BaseException:
                await self._end()
                raise

    async def rest(self) -> None:
        """End the process until something is asked again; its memory is given back."""
        async with self._busy:
            await self._end()

    async def close(self) -> None:
        """End it for good, in the middle of what it does."""
        self._over = True
        await self._end()

    async def _ask(self, task: dict[str, Any]) -> dict[str, Any]:
        self._require_wanted()
        try:
            if self._process is None:
                self._process = await self._start()
                if self._over:  # let go of meanwhile: nobody would end it
                    await self._end()
                self._require_wanted()
                self._write(self._process, self._settings)
            self._write(self._process, task)
            while True:
                came = await asyncio.wait_for(self._read(self._process), STALL_S)
                if "bytes" not in came:  # else a sign of progress, and of life
                    break
        except TimeoutError:
            await self._end()
            what = f"it has been silent for {STALL_S:.0f} s"
            raise CopyError("place-away", what, remedy=BY_ITSELF, retryable=True) from None
        except (OSError, ValueError) as error:
            await self._end()
            raise CopyError("copy-process", "the process that copies died", remedy="See the service's log") from error
        if (refusal := came.get("error")) is not None:
            raise CopyError(**refusal, retryable=True)
        done: dict[str, Any] = came["done"]
        return done

    def _require_wanted(self) -> None:
        if self._over:
            raise CopyError("place-away", "the rig lets go of this place", remedy=BY_ITSELF)

    async def _start(self) -> Process:
        root = Path(controller.__file__).parents[1]
        command = (sys.executable, "-m", "controller.copying", str(os.getpid()))
        return await asyncio.create_subprocess_exec(*command, stdin=PIPE, stdout=PIPE, cwd=root)

    def _write(self, process: Process, task: dict[str, Any]) -> None:
        assert process.stdin is not None
        process.stdin.write(json.dumps(task).encode() + b"\n")

    async def _read(self, process: Process) -> dict[str, Any]:
        assert process.stdout is not None
        answer: dict[str, Any] = json.loads(await process.stdout.readline())
        return answer

    async def _end(self) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        if process.stdin is not None:
            process.stdin.close()
        with contextlib.suppress(ProcessLookupError):
            process.kill()
        await process.wait()
