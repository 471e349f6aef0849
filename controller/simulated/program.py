"""The simulated camera's program: options in, one line of JSON out when it listens, until SIGTERM."""

from __future__ import annotations

import argparse
import json
import logging
import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from controller.simulated.body import Body, Pace
from controller.simulated.card import Card
from controller.simulated.clouds import SKIES
from controller.simulated.commands import commands
from controller.simulated.control import Control
from controller.simulated.eye import Eye
from controller.simulated.faults import Faults
from controller.simulated.lens import FOCAL_LENGTH_MM, Lens
from controller.simulated.light import Place, sunset_azimuth
from controller.simulated.makers import MAKERS
from controller.simulated.record import Record
from controller.simulated.script import parse
from controller.simulated.server import Server
from controller.simulated.styles import CONTRAST
from controller.words.clock import ScaledClock


def size(text: str) -> tuple[int, int]:
    width, _, height = text.partition("x")
    if not (width.isdigit() and height.isdigit() and int(width) >= 48 and int(height) >= 32):
        raise argparse.ArgumentTypeError(f"'{text}' is no size: write WIDTHxHEIGHT, such as 1620x1080")
    return int(width) // 2 * 2, int(height) // 2 * 2


def moment(text: str) -> float:
    try:
        found = datetime.fromisoformat(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"'{text}' is no ISO time: write 2026-10-03T16:40:00Z") from error
    return found.replace(tzinfo=found.tzinfo or UTC).timestamp()


def within(low: float, high: float) -> Callable[[str], float]:
    def number(text: str) -> float:
        value = float(text)
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(f"{text} is not within {low:g} to {high:g}")
        return value

    return number


def script(text: str) -> str:
    try:
        parse(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from error
    return text


def parser() -> argparse.ArgumentParser:
    out = argparse.ArgumentParser(prog="python -m controller.simulated", description=__doc__)
    add = out.add_argument
    add("--card", type=Path, required=True, help="directory that is the memory card")
    add("--capacity", type=within(0, 1e15), default=32e9, help="bytes on the card")
    add("--port", type=int, default=0, help="PTP/IP command port, 0 for any")
    add("--event-port", type=int, default=0, help="PTP/IP event port, 0 for any")
    add("--control-port", type=int, default=0, help="control port, 0 for any")
    add(
        "--rate", type=within(1e-3, 1e5), default=1.0, help="how many times faster than the wall the scene's clock runs"
    )
    add("--epoch-mono", type=float, help="CLOCK_MONOTONIC second that belongs to --epoch-utc (now)")
    add("--epoch-utc", type=moment, help="scene time at --epoch-mono (now)")
    add("--latitude", type=within(-90, 90), default=57.7, help="degrees, north positive")
    add("--longitude", type=within(-180, 180), default=11.95, help="degrees, east positive")
    add("--azimuth", type=within(0, 360), help="where the camera looks (where the sun sets next)")
    add("--clouds", choices=list(SKIES), default="clear", help="the weather")
    add("--style", choices=list(CONTRAST), default="standard", help="tone curve of the JPEGs")
    add("--thumb", choices=["bars", "whole"], default="bars", help="3:2 between black bars, or the picture squeezed")
    add("--seed", type=int, default=1, help="of clouds, stars, noise and the drawing")
    add(
        "--faults", type=script, default="", help="what goes wrong at which release; see controller/simulated/script.py"
    )
    add("--maker", choices=list(MAKERS), default="generic", help="whose dialect of the protocol the camera speaks")
    add("--files", choices=["jpeg", "raw+jpeg"], default="jpeg", help="what a frame leaves on the card; RAW is a DNG")
    add("--size", type=size, default=(1620, 1080), help="pixels, WIDTHxHEIGHT")
    add("--readout", type=within(0, 60), default=0.05, help="seconds to read the sensor, by the scene's clock")
    add("--write", type=within(0, 60), default=0.15, help="seconds to write a frame, by the scene's clock")
    add("--buffer", type=within(1, 1000), default=6, help="frames that may wait to be written")
    add("--record", type=Path, help="append a line of JSON for each exposure to this file")
    add("--exit-with-stdin", action="store_true", help="end when standard input closes")
    add("--verbose", action="store_true", help="log to standard error")
    return out


def _die(failure: threading.ExceptHookArgs) -> None:
    """A camera without one of its threads would lie: end loudly instead."""
    threading.__excepthook__(failure)
    os._exit(70)


def _refuse(what: str) -> int:
    print(f"python -m controller.simulated: {what}", file=sys.stderr, flush=True)
    return 2


def _reason(error: Exception) -> str:
    return (error.strerror if isinstance(error, OSError) else None) or str(error).rstrip(".")


def main() -> int:
    options = parser().parse_args()
    threading.excepthook = _die
    logging.basicConfig(level=logging.INFO if options.verbose else logging.WARNING)
    epoch_mono = time.monotonic() if options.epoch_mono is None else options.epoch_mono
    epoch_utc = time.time() if options.epoch_utc is None else options.epoch_utc
    clock = ScaledClock(epoch_utc, epoch_mono, options.rate)
    place = Place(options.latitude, options.longitude)
    azimuth = sunset_azimuth(place, epoch_utc) + 4 if options.azimuth is None else options.azimuth
    lens = Lens(options.size[0], options.size[1], azimuth)
    eye = Eye(lens, place, options.clouds, options.style, options.seed, options.thumb == "bars")
    expected = options.size[0] * options.size[1] * (1 if options.files == "jpeg" else 3)
    try:
        card = Card(options.card, round(options.capacity), expected)
    except (OSError, ValueError) as error:
        return _refuse(f"--card {options.card}: {_reason(error)}. Give a directory that can be written")
    try:
        record = Record(options.record)
    except (OSError, ValueError) as error:
        return _refuse(f"--record {options.record}: {_reason(error)}. Give a file that can be written")
    pace = Pace(options.readout, options.write, int(options.buffer))
    body = Body(clock, card, eye, record, pace, FOCAL_LENGTH_MM, options.files == "raw+jpeg", MAKERS[options.maker])
    faults = Faults(body, options.faults)
    try:
        server = Server(body, faults, options.port, options.event_port)
        control = Control(options.control_port, commands(body, eye, faults))
    except (OSError, OverflowError) as error:
        code = _refuse(f"cannot listen: {_reason(error)}. Give other ports, or 0 for any")
        os._exit(code)  # the body's threads run already
    port, event_port = server.ports
    ended = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: ended.set())
    if options.exit_with_stdin:
        threading.Thread(target=_watch_stdin, args=(ended,), daemon=True).start()
    address = f"ptpip:127.0.0.1:{port}:{event_port}"
    ready = {"port": port, "event_port": event_port, "control_port": control.port, "address": address}
    print(json.dumps(ready), flush=True)
    ended.wait()
    faults.stop()
    server.close()
    body.stop()
    return 0


def _watch_stdin(ended: threading.Event) -> None:
    while os.read(0, 4096):
        pass
    ended.set()
