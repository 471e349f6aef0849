"""Taking a camera's power away for a moment, by a command of the owner's: hubs and relays differ too much."""

from __future__ import annotations

import asyncio
import logging
import os
import shlex
import shutil
from asyncio.subprocess import DEVNULL, PIPE, STDOUT
from collections.abc import Callable

from controller.camera.messages import Trouble
from controller.words.errors import BadInput
from controller.words.processes import end_session

log = logging.getLogger(__name__)

LONGEST_S = 60.0
"""After so long the command is ended; it has to switch off, wait, and switch on again."""

_SAID = 200
_REMEDY = "Run the command by hand; the camera is looked for all the same"


class PowerCycle:
    """One command for all cameras of a rig, without a shell. Raises BadInput where it is none, or not there.

    It finds the camera's name and libgphoto2 port in DUSKHAND_CAMERA and DUSKHAND_PORT of its environment.
    """

    def __init__(self, command: str, longest_s: float = LONGEST_S) -> None:
        try:
            self._words = shlex.split(command)
        except ValueError as error:
            raise _bad(command, str(error).lower()) from error
        if not self._words or shutil.which(self._words[0]) is None:
            raise _bad(command, "there is no such program")
        self._longest_s = longest_s
        self._clear: list[Callable[[], float]] = []
        self._one = asyncio.Lock()

    def spares(self, clear_s: Callable[[], float]) -> None:
        """Another camera whose releases are not to be disturbed: `clear_s` gives the seconds to its next one."""
        self._clear.append(clear_s)

    def clear_s(self) -> float:
        """Seconds until the next release of any camera."""
        return min((clear_s() for clear_s in self._clear), default=float("inf"))

    async def cycle(self, camera: str, port: str) -> Trouble | None:
        """Run the command; what went wrong, None where it did not."""
        async with self._one:
            log.warning("%s: its power is taken away and given back: %s", camera, shlex.join(self._words))
            environment = {**os.environ, "DUSKHAND_CAMERA": camera, "DUSKHAND_PORT": port}
            try:
                process = await asyncio.create_subprocess_exec(
                    *self._words, stdin=DEVNULL, stdout=PIPE, stderr=STDOUT, env=environment, start_new_session=True
                )
            except OSError as error:
                return _failed(f"could not be started: {error.strerror or error}")
            try:
                said, _ = await asyncio.wait_for(process.communicate(), self._longest_s)
            except BaseException as error:
                await end_session(process)
                if isinstance(error, TimeoutError):
                    return _failed(f"took more than {self._longest_s:g} s, and was ended")
                raise
        if process.returncode != 0:
            last = said.decode(errors="replace").strip().rpartition("\n")[2][:_SAID]
            return _failed(f"ended with {process.returncode}{f': {last}' if last else ''}")
        return None


def _failed(how: str) -> Trouble:
    return Trouble("power-cycle-failed", f"the command that cuts the camera's power {how}", _REMEDY)


def _bad(command: str, why: str) -> BadInput:
    remedy = "Name a program with its arguments, as in --power-cycle 'usb-power --port 2'"
    return BadInput("bad-power-cycle", why, where=f"--power-cycle '{command}'", remedy=remedy)
