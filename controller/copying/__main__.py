"""The process of one place: a task a line comes in, an answer a line goes out, signs of progress in between.

The first line tells the place, its keys with it: so they stand in no command line and in no environment.
"""

from __future__ import annotations

import asyncio
import json
import os
import sys
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

from controller.copying.directory import Directory
from controller.copying.far import Far
from controller.copying.pace import Pace
from controller.copying.source import Source
from controller.copying.transfer import put, there
from controller.words.errors import CopyError
from controller.words.processes import die_with

_TELL_EVERY_S = 1.0


class Place:
    """Connected when it is first needed, and anew after every failure."""

    def __init__(self, settings: dict[str, Any]) -> None:
        self._settings = settings
        self._kind, self._rig = settings.pop("kind"), Path(settings.pop("rig"))
        per_s = settings.pop("rate_kb_s")
        self._pace = Pace(None if per_s is None else per_s * 1000)
        self._far: Far | None = None
        self._came, self._told_mono = 0, 0.0

    async def do(self, task: dict[str, Any]) -> dict[str, Any]:
        """One task's answer. Raises CopyError."""
        self._came = 0
        try:
            far = await self._reach()
            if task["do"] == "put":
                sums, sent = [], []
                for file in task["files"]:
                    source = Source(Path(file["path"]), file["bytes"], file["sha256"])
                    sent.append(await put(far, file["name"], source))
                    sums.append(source.sha256)
                answer: dict[str, Any] = {"sums": sums, "sent": sent}
            else:
                answer = {
                    "whole": all([await there(far, file["name"], file["sha256"]) for file in task["files"]]),
                    "on_rig": all(_on_rig(file) for file in task["files"]),
                }
            room = await far.room()
        except BaseException:
            await self.close()
            raise
        if self._kind == "directory":
            await self.close()  # the next task finds out whether the disk is still there
        told = {"where": room.where, "elsewhere": room.elsewhere, "free_bytes": room.free_bytes}
        return {**answer, **told, "moved": self._came}

    async def close(self) -> None:
        far, self._far = self._far, None
        if far is not None:
            with suppress(CopyError):
                await far.close()

    async def _reach(self) -> Far:
        if self._far is None:
            told = {**self._settings, "pace": self._pace, "progress": self._progress}
            if self._kind == "directory":
                self._far = Directory(rig=self._rig, **told)
            elif self._kind == "sftp":
                from controller.copying.sftp import Sftp

                self._far = await Sftp.connect(**told)
            else:
                from controller.copying.s3 import S3

                self._far = S3(**told)
        return self._far

    def _progress(self, size: int) -> None:
        self._came += size
        if time.monotonic() - self._told_mono >= _TELL_EVERY_S:
            self._told_mono = time.monotonic()
            _say({"bytes": self._came})


def _on_rig(file: dict[str, Any]) -> bool:
    """Whether the rig's own file is what the log says."""
    try:
        Source(Path(file["path"]), file["bytes"], file["sha256"]).whole()
    except CopyError:
        return False
    return True


def _say(answer: dict[str, Any]) -> None:
    sys.stdout.write(json.dumps(answer) + "\n")
    sys.stdout.flush()


async def serve() -> None:
    """Until the daemon closes the pipe."""
    place = None
    while line := await asyncio.to_thread(sys.stdin.readline):
        task = json.loads(line)
        if place is None:
            place = Place(task)
            continue
        try:
            _say({"done": await place.do(task)})
        except CopyError as error:
            told = {"code": error.code, "what": error.what, "where": error.where, "remedy": error.remedy}
            _say({"error": {**told, "file": error.file}})


def main() -> None:
    die_with(int(sys.argv[1]))
    os.nice(15)  # after camera, page and everything else that the rig does
    asyncio.run(serve())


if __name__ == "__main__":
    main()
