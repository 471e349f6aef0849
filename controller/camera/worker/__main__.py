"""`python -m controller.camera.worker --fd N --parent PID --address ADDRESS …`, started by the link.

Exit status: 0 asked to end or the daemon is gone, 1 the session was lost, 3 no camera for a while (a new process is
due: looking for cameras leaks a little in libgphoto2, as does a camera that does not answer the opening).
"""

from __future__ import annotations

import argparse
import logging
import os
import socket
import sys
import time

from controller.camera.messages import Alive, Close, Hello, Trouble
from controller.camera.wire import VERSION
from controller.camera.worker.channel import Channel, Closed
from controller.camera.worker.disk import Disk
from controller.camera.worker.faults import Fault, opening_trouble, plain
from controller.camera.worker.loop import Ended, Loop
from controller.camera.worker.opening import QUIET_OPENING_S, Body, Finder, Known
from controller.camera.worker.process import prepare

_AGAIN_S = 2.0
_TRIES = 15
_FINISH_S = 1.5  # for reports and disk, at the end


def main() -> int:
    options = _options()
    logging.basicConfig(level=logging.INFO, stream=sys.stderr, format="%(levelname)s %(message)s")
    priority = prepare(options.parent)
    channel = Channel(socket.socket(fileno=options.fd))
    channel.send(Hello(VERSION, os.getpid(), priority))
    try:
        body = _open(channel, options.address, Known(options.model, options.serial, options.shutter_open))
        if body is None:
            return 3
        return _serve(channel, body)
    except (Ended, Closed):
        return 0


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m controller.camera.worker")
    parser.add_argument("--fd", type=int, required=True)
    parser.add_argument("--parent", type=int, required=True)
    parser.add_argument("--address", required=True)
    parser.add_argument("--model", default="", help="of the camera that was open at this address before")
    parser.add_argument("--serial", default="", help="the same")
    parser.add_argument("--shutter-open", action="store_true", help="it was lost while its shutter was held open")
    return parser.parse_args()


def _open(channel: Channel, address: str, known: Known) -> Body | None:
    """Try until the camera is there; None when it is time for a new process."""
    finder = Finder()

    def answers() -> None:
        channel.send(Alive(time.monotonic(), QUIET_OPENING_S))

    for _ in range(_TRIES):
        begun = time.monotonic()
        try:
            return finder.open(address, known, answers)
        except Fault as fault:
            channel.send(opening_trouble(fault, address))
        while (left := begun + _AGAIN_S - time.monotonic()) > 0:
            if any(isinstance(command, Close) for command in channel.receive(left)):
                raise Ended
    return None


def _serve(channel: Channel, body: Body) -> int:
    disk = Disk()
    try:
        channel.send(body.opened())
        loop = Loop(channel, body, disk)
        try:
            loop.run()
        except Ended:
            loop.close()
    except Fault as fault:
        what = f"the camera was lost while {fault.doing} ({plain(fault.reason) or fault.code})"
        remedy = "It is looked for again; see that it has power and its cable"
        channel.send(Trouble("camera-lost", what, remedy, fatal=True))
        return 1
    finally:
        disk.stop(_FINISH_S)
        channel.finish(_FINISH_S)
    return 0


if __name__ == "__main__":
    sys.exit(main())
