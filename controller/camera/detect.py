"""Which cameras are on USB. libgphoto2's search leaks and holds the interpreter, so it runs in a throw-away process."""

from __future__ import annotations

import asyncio
import json
import os
import sys
import tempfile
from asyncio.subprocess import DEVNULL, PIPE
from pathlib import Path

from controller.camera.process import environment
from controller.words.errors import CameraError

_LONGEST_S = 20.0


async def detect() -> list[tuple[str, str]]:
    """(model, address) of every camera on USB. Raises CameraError where the search fails or takes too long."""
    try:
        return await _searched()
    except OSError as error:  # a full disk has no room for its settings
        raise _failed(error.strerror or str(error)) from error


async def _searched() -> list[tuple[str, str]]:
    with tempfile.TemporaryDirectory(prefix="duskhand-detect-") as settings:
        process = await asyncio.create_subprocess_exec(
            sys.executable,
            "-m",
            "controller.camera.detect",
            stdin=DEVNULL,
            stdout=PIPE,
            stderr=PIPE,
            env=environment(Path(settings)),
        )
        try:
            out, err = await asyncio.wait_for(process.communicate(), _LONGEST_S)
        except TimeoutError:
            raise _failed(f"it took more than {_LONGEST_S:.0f} s") from None
        finally:
            if process.returncode is None:
                process.kill()
                await process.wait()
    if process.returncode != 0:
        raise _failed(err.decode(errors="replace").strip().rpartition("\n")[2] or f"status {process.returncode}")
    return [(str(model), str(address)) for model, address in json.loads(out)]


def _failed(why: str) -> CameraError:
    remedy = "Unplug the cameras and plug them in again"
    return CameraError("search-failed", f"the search for USB cameras failed: {why}", remedy=remedy, retryable=True)


def _search() -> list[tuple[str, str]]:
    import gphoto2 as gp

    ports = gp.PortInfoList()
    ports.load()
    models = gp.CameraAbilitiesList()
    models.load()
    found = models.detect(ports)
    attached = [(found.get_name(i), found.get_value(i)) for i in range(found.count())]
    return [(model, address) for model, address in attached if address.startswith("usb:")]


if __name__ == "__main__":
    sys.stdout.write(json.dumps(_search()))
    sys.stdout.flush()
    os._exit(0)  # the library's own tidying up may hang on a mute device
