"""The daemon's end of the process that makes a film: one at a time, told of as it goes, stopped and ended at will."""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import signal
import sys
from asyncio.subprocess import PIPE, Process
from collections.abc import Callable
from pathlib import Path
from typing import Any

import controller
from controller.aside.process import ERRORS
from controller.words.errors import StoreError


class ClipProcess:
    """Whoever is cancelled while it waits for a film ends the process with it."""

    def __init__(self) -> None:
        self._process: Process | None = None
        self.paused = False

    async def make(self, task: dict[str, Any], progress: Callable[[float], None]) -> dict[str, Any]:
        """What came of the film. Raises BadInput, DuskhandError('clip-failed'), StoreError('aside-failed')."""
        root = Path(controller.__file__).parents[1]
        command = (sys.executable, "-m", "controller.aside", str(os.getpid()))
        failed = StoreError("aside-failed", "the process that makes a film ended in the middle of it", remedy=_REMEDY)
        try:
            process = self._process = await asyncio.create_subprocess_exec(*command, stdin=PIPE, stdout=PIPE, cwd=root)
        except OSError as error:
            raise failed from error
        try:
            came = await self._talk(process, {"job": "clip", **task}, progress)
        except (ValueError, OSError) as error:
            raise failed from error
        finally:
            self._process, self.paused = None, False
            if process.returncode is None:
                with contextlib.suppress(ProcessLookupError):
                    process.kill()
                await process.wait()
        if (refusal := came.get("error")) is not None:
            raise ERRORS[refusal["kind"]](refusal["code"], refusal["what"], refusal["where"], refusal["remedy"])
        return came

    async def _talk(self, process: Process, task: dict[str, Any], progress: Callable[[float], None]) -> dict[str, Any]:
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write(json.dumps(task).encode())
        process.stdin.close()
        last: dict[str, Any] = {}
        while line := await process.stdout.readline():
            last = json.loads(line)
            if "done" in last:
                progress(last["done"])
        await process.wait()
        if not last or "done" in last:
            raise ValueError("no answer")
        return last

    def pause(self, wanted: bool) -> None:
        """Stop the process where it is, or let it go on; nothing where there is none."""
        if self._process is None or wanted == self.paused:
            return
        with contextlib.suppress(ProcessLookupError):
            self._process.send_signal(signal.SIGSTOP if wanted else signal.SIGCONT)
        self.paused = wanted


_REMEDY = "It is tried again by itself; where it happens again, see the service's log, and whether memory runs out"
