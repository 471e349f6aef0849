"""`python -m controller.camera.worker --fd N --parent PID --address ADDRESS …`, started by the link.

It tries to open the camera once; when that fails, or when the session is lost, it tells so and waits for the word to
try again. Exit status 0: asked to end, or the daemon is gone.
"""

from __future__ import annotations

import argparse
import contextlib
import logging
import os
import socket
import sys
import time

from controller.camera.messages import Again, Alive, Close, Hello, Trouble
from controller.camera.wire import VERSION
from controller.camera.worker.channel import Channel, Closed
from controller.camera.worker.disk import Disk
from controller.camera.worker.faults import Fault, opening_trouble, plain
from controller.camera.worker.loop import Ended, Loop
from controller.camera.worker.opening import QUIET_OPENING_S, Body, Finder, Known, reset_port
from controller.camera.worker.process import prepare

_FINISH_S = 1.5  # for reports and disk, at the end
_BEAT_S = 1.0


def main() -> int:
    options = _options()
    logging.basicConfig(level=logging.INFO, stream=sys.stderr, format="%(levelname)s %(message)s")
    priority = prepare(options.parent)
    channel = Channel(socket.socket(fileno=options.fd))
    channel.send(Hello(VERSION, os.getpid(), priority))
    disk = Disk()
    known = Known(options.model, options.serial, options.shutter_open)
    try:
        body = _open(channel, options.address, known, None)
        port = None
        while True:
            if body is not None:
                known, port = Known(body.name, body.serial), body.address
                _serve(channel, body, disk)
                body = None
            again = _told(channel)
            known = known._replace(shutter_open=again.shutter_open)
            body = _open(channel, options.address, known, (port or options.address) if again.reset else None)
    except (Ended, Closed):
        return 0
    finally:
        disk.stop(_FINISH_S)
        channel.finish(_FINISH_S)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m controller.camera.worker")
    parser.add_argument("--fd", type=int, required=True)
    parser.add_argument("--parent", type=int, required=True)
    parser.add_argument("--address", required=True)
    parser.add_argument("--model", default="", help="of the camera that was open at this address before")
    parser.add_argument("--serial", default="", help="the same")
    parser.add_argument("--shutter-open", action="store_true", help="it was lost while its shutter was held open")
    return parser.parse_args()


def _told(channel: Channel) -> Again:
    """Wait for the word to try again; raises Ended, or Closed where the daemon is gone."""
    while True:
        for command in channel.receive(_BEAT_S):
            if isinstance(command, Close):
                raise Ended
            if isinstance(command, Again):
                return command


def _open(channel: Channel, address: str, known: Known, reset: str | None) -> Body | None:
    """One attempt, with the port `reset` before it; tells why where it fails."""
    if reset is not None:
        reset_port(reset)

    def answers() -> None:
        channel.send(Alive(time.monotonic(), QUIET_OPENING_S))

    try:
        return Finder().open(address, known, answers)
    except Fault as fault:
        channel.send(opening_trouble(fault, address))
        return None


def _serve(channel: Channel, body: Body, disk: Disk) -> None:
    """Work with a body until its session is lost; raises Ended, Closed."""
    loop: Loop | None = None
    try:
        channel.send(body.opened())
        loop = Loop(channel, body, disk)
        try:
            loop.run()
        except Ended:
            with contextlib.suppress(Fault):
                loop.close()
            raise
    except Fault as fault:
        what = f"the camera was lost while {fault.doing} ({plain(fault.reason) or fault.code})"
        remedy = "It is looked for again; see that it has power and its cable"
        channel.send(Trouble("camera-lost", what, remedy, fatal=True))
        with contextlib.suppress(Fault):
            body.session.close() if loop is None else loop.give_up()


if __name__ == "__main__":
    sys.exit(main())
