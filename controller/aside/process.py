"""One process after the other, each for one answer."""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import sys
from asyncio.subprocess import PIPE
from pathlib import Path
from typing import Any

import controller
from controller.words.errors import BadInput, Conflict, DuskhandError, NotFound, StoreError

REHEARSAL_S, FORECAST_S, MESSAGE_S, CLIP_CHECK_S = 300.0, 60.0, 120.0, 30.0
"""Wall seconds that a rehearsal, a forecast, the sending of a message or a look at what a film needs may take."""

ERRORS: dict[str, type[DuskhandError]] = {kind.__name__: kind for kind in (BadInput, NotFound, Conflict, DuskhandError)}


class Aside:
    """Answers to one kind of question, `job`, one at a time; `patience_s` wall seconds are the most that one takes."""

    def __init__(self, job: str, patience_s: float) -> None:
        self.job, self.patience_s = job, patience_s
        self._busy = asyncio.Lock()

    @property
    def busy(self) -> bool:
        return self._busy.locked()

    async def answer(self, **task: Any) -> dict[str, Any]:
        """Have `task`, JSON-able, worked out; waits for the one before. Cancelled, its process is ended.

        Raises what the work raises: BadInput, NotFound, Conflict; BadInput (too-long) where it takes too long;
        StoreError (aside-failed) where no process can be started or it dies.
        """
        async with self._busy:
            came = await self._in_a_process(json.dumps({"job": self.job, **task}).encode())
        if (error := came.get("error")) is not None:
            raise ERRORS[error["kind"]](error["code"], error["what"], error["where"], error["remedy"])
        return came

    async def _in_a_process(self, task: bytes) -> dict[str, Any]:
        root = Path(controller.__file__).parents[1]
        command = (sys.executable, "-m", "controller.aside", str(os.getpid()))
        failed = StoreError("aside-failed", f"the process for the {self.job} did not answer", remedy="See the log")
        try:
            process = await asyncio.create_subprocess_exec(*command, stdin=PIPE, stdout=PIPE, cwd=root)
        except OSError as error:
            raise failed from error
        try:
            async with asyncio.timeout(self.patience_s):
                answer, _ = await process.communicate(task)
        except TimeoutError:
            what = f"the {self.job} takes longer than {self.patience_s:.0f} s"
            remedy = "Ask of fewer or shorter windows, or with longer intervals"
            raise BadInput("too-long", what, "plan", remedy) from None
        finally:
            if process.returncode is None:
                with contextlib.suppress(ProcessLookupError):
                    process.kill()
                await process.wait()
        try:
            came: dict[str, Any] = json.loads(answer)
        except ValueError as error:
            raise failed from error
        return came
