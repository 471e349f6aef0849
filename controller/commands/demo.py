"""`duskhand demo`: a whole dusk, shot with a simulated camera while you watch."""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import io
import json
import os
import sys
import time
from collections.abc import AsyncIterator
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING

from controller.commands.asking import DEFAULT_PORT
from controller.commands.figures import number, whole
from controller.words.errors import BadInput, CameraError
from controller.words.times import iso

if TYPE_CHECKING:
    from controller.daemon import Rig
    from controller.decide.plan import Plan

EVENING_UTC = 1792497600.0
"""Noon UTC of the demo's evening, 20 October 2026."""

DEFAULT_RATE = 30.0
FOUND_WALL_S = 5.0
"""Wall seconds in which also a busy machine has found the camera and looked at it. Then come the test frames."""


def add(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--port", type=whole, default=DEFAULT_PORT, help="port of the page (default: %(default)s)")
    parser.add_argument(
        "--dir", type=Path, default=Path("duskhand-demo"), help="where log, frames and clip go (default: %(default)s)"
    )
    parser.add_argument(
        "--rate",
        type=number,
        default=DEFAULT_RATE,
        help="how many times faster than the wall's the evening runs, 1 to 200 (default: %(default)g)",
    )
    parser.add_argument("--frames", type=whole, help="stop after so many frames (default: the whole dusk)")
    parser.add_argument("--no-browser", action="store_true", help="do not open the page in a browser")


def run(args: argparse.Namespace) -> int:
    """Shoot the evening; then the clip and the report."""
    if not 1 <= args.rate <= 200:
        raise BadInput("bad-rate", f"{args.rate:g} is no usable rate", "--rate", "Give a number from 1 to 200")
    if args.frames is not None and args.frames < 1:
        raise BadInput("bad-frames", f"{args.frames} frames make no clip", "--frames", "Give a number from 1 up")
    return asyncio.run(_demo(args))


def _plan(frames: int | None) -> Plan:
    from controller.decide.plan import plan_from, read_plan

    plan = read_plan(resources.files("controller.commands").joinpath("demo_evening.toml").read_text("utf-8"))
    if frames is None:
        return plan
    document = plan.document()
    document["when"] = {"start": document["when"]["start"], "frames": frames}
    return plan_from(document)


@contextlib.asynccontextmanager
async def _camera(args: argparse.Namespace, plan: Plan, epoch_utc: float, epoch_mono: float) -> AsyncIterator[str]:
    """The simulated camera, as a process of its own; yields its libgphoto2 address."""
    command = [sys.executable, "-m", "controller.simulated", "--card", str(args.dir / "card"), "--exit-with-stdin"]
    command += ["--rate", repr(args.rate), "--epoch-mono", repr(epoch_mono), "--epoch-utc", str(iso(epoch_utc))]
    command += ["--latitude", repr(plan.site.latitude), "--longitude", repr(plan.site.longitude)]
    pipe = asyncio.subprocess.PIPE
    process = await asyncio.create_subprocess_exec(*command, stdin=pipe, stdout=pipe, start_new_session=True)
    assert process.stdout is not None
    assert process.stdin is not None
    try:
        line = await asyncio.wait_for(process.stdout.readline(), 30)
        if not line:
            raise CameraError("demo-camera", "the simulated camera did not start", remedy="See its words above")
        yield json.loads(line)["address"]
    finally:
        process.stdin.close()
        try:
            await asyncio.wait_for(process.wait(), 5)
        except TimeoutError:
            process.kill()
            await process.wait()


async def _demo(args: argparse.Namespace) -> int:
    from controller.commands.service import on_signal, serving, start_log
    from controller.daemon import Rig
    from controller.decide.schedule import windows
    from controller.engine.first_light import BEGIN_S, BEGIN_WALL_S
    from controller.words.clock import ScaledClock

    start_log(30)
    await _end_earlier_demos(args.dir)
    stop = asyncio.Event()
    on_signal(stop)
    plan = _plan(args.frames)
    start_utc = next(iter(windows(plan, EVENING_UTC))).start_utc
    epoch_mono = time.monotonic()
    epoch_utc = start_utc - FOUND_WALL_S * args.rate - max(BEGIN_S, BEGIN_WALL_S * args.rate)
    clock = ScaledClock(epoch_utc, epoch_mono, args.rate)
    async with _camera(args, plan, epoch_utc, epoch_mono) as address:
        rig = Rig(args.dir, clock, [address])
        async with serving(rig, "127.0.0.1", args.port) as server:
            print("An invented evening at an invented harbour, seen by a simulated camera.")
            print(
                f"The evening runs {args.rate:g} times faster than the wall's clock. Watch it: {server.url}", flush=True
            )
            if not args.no_browser:
                _open_browser(server.url)
            shoot = await rig.start_shoot(plan.document())
            if not await _watch(rig, shoot.id, stop):
                await _stop(rig, shoot.id)
                print("Stopped. What was shot is kept in", args.dir)
                return 130
            code = await asyncio.to_thread(_aftermath, args.dir, shoot.id)
            if sys.stdout.isatty() and not stop.is_set():
                print(f"The page stays at {server.url} until you press Ctrl-C.", flush=True)
                await stop.wait()
            return code


async def _end_earlier_demos(directory: Path) -> None:
    """A demo that was killed left its shoot open; its evening cannot go on."""
    from controller.store import Store
    from controller.store.files import database_path
    from controller.words.documents import ShootState

    if database_path(directory).exists():
        async with await Store.open(database_path(directory)) as store:
            for shoot in await store.open_shoots():
                await store.change_shoot(shoot.id, state=ShootState.STOPPED, cause="the demo was ended")


async def _stop(rig: Rig, shoot: str) -> None:
    """End the shoot with the demo, giving its last frames a moment."""
    await rig.shoots.stop(shoot)
    await rig.shoots.wait_for_end(shoot, 5.0)


def _open_browser(url: str) -> None:
    import webbrowser

    if os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"):
        webbrowser.open(url)


async def _watch(rig: Rig, shoot: str, stop: asyncio.Event) -> bool:
    """Say in the terminal how it goes, until the shoot has ended; False where the user stopped it."""
    from controller.words.documents import ENDED

    wide = sys.stderr.isatty()
    said = 0.0
    while True:
        now = await rig.now()
        if now.shoot is not None and now.shoot.id == shoot and now.shoot.state in ENDED:
            if wide:
                print(file=sys.stderr)
            return True
        if stop.is_set():
            return False
        if now.shoot is not None and (wide or time.monotonic() - said > 15):
            said = time.monotonic()
            left = "" if now.frames_left is None else f" of {now.frames_done + now.frames_left}"
            sun = 0.0 if now.sun_altitude_deg is None else now.sun_altitude_deg
            label = "" if now.exposure is None else now.exposure.label
            pace = "" if now.interval_s is None else f"every {now.interval_s:.1f} s"
            line = f"{now.shoot.state}  frame {now.frames_done}{left}  sun {sun:+.1f}°  {label}  {pace}"
            print(f"\r\033[K{line}" if wide else line, end="" if wide else "\n", file=sys.stderr, flush=True)
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(stop.wait(), 1.0)


def _aftermath(directory: Path, shoot: str) -> int:
    from controller.commands import main
    from controller.words.layout import clip_path

    print(flush=True)
    code = main(["clip", shoot, "--dir", str(directory)])  # first and in the rig's own place: the report tells of it
    print(flush=True)
    text, page = directory / f"{shoot}-report.txt", directory / f"{shoot}-report.html"
    written = io.StringIO()
    with contextlib.redirect_stdout(written):
        code = max(code, main(["report", shoot, "--dir", str(directory), "--html", str(page)]))
    print(written.getvalue(), flush=True)
    text.write_text(written.getvalue(), "utf-8")
    clip = directory / clip_path(shoot)
    print(f"\nThe clip: {clip}\nThe report: {text}\nThe frames and the log stay in {directory}. To look again later:")
    print(f"  {sys.argv[0]} serve --dir {directory}", flush=True)
    return code
