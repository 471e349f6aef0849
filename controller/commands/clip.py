"""`duskhand clip`: the film of a shoot."""

from __future__ import annotations

import argparse
import os
import sys
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from controller.results.clip.make import ClipResult

T = TypeVar("T")
_LISTED = 20  # gaps, and pictures left out, that are named


def add(parser: argparse.ArgumentParser) -> None:
    from controller.commands.shoot_log import add_camera, add_shoot

    add_shoot(parser)
    add_camera(parser)
    parser.add_argument("--out", type=Path, metavar="FILE", help="the film, .mp4 (default: in the shoot's directory)")
    parser.add_argument("--fps", type=_fps, metavar="N", help="frames a second, 1 to 120 (default: as the plan says)")
    parser.add_argument(
        "--steady", action=argparse.BooleanOptionalAction, default=True, help="remove brightness steps and flicker"
    )
    parser.add_argument("--json", action="store_true", help="print the result as JSON")


def run(args: argparse.Namespace) -> int:
    """Make the film and say what is in it. Raises NotFound, BadInput, StoreError, DuskhandError('clip-failed')."""
    from controller.commands.progress import Progress
    from controller.commands.shoot_log import all_frames, find_shoot, read
    from controller.results.clip.make import make_clip
    from controller.results.report.make import plan_fps
    from controller.store import Store
    from controller.store.files import clip_path
    from controller.words.documents import Frame, Shoot
    from controller.words.layout import FIRST_CAMERA

    async def load(store: Store) -> tuple[Shoot, list[Frame]]:
        shoot = await find_shoot(store, args.shoot)
        return shoot, await all_frames(store, shoot)

    shoot, frames = read(args.dir, load)
    out = args.out or args.dir / clip_path(shoot.id, args.camera or FIRST_CAMERA)
    fps = args.fps or plan_fps(shoot)
    stopped = threading.Event()

    with Progress("clip") as progress:

        def step(done: int, of: int) -> None:
            if stopped.is_set():
                raise KeyboardInterrupt
            progress.step(done // 2, of // 2)  # each picture is looked at first, and drawn later

        result = _gently(lambda: make_clip(shoot, frames, args.dir, out, fps, args.steady, step, args.camera), stopped)
    print(result.model_dump_json(indent=2)) if args.json else _show(result)
    return 0


def _fps(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 1 <= value <= 120:
        raise argparse.ArgumentTypeError(f"{text!r} is no usable frame rate: give 1 to 120 frames a second")
    return value


def _gently(job: Callable[[], T], stopped: threading.Event) -> T:
    """Run `job` in a thread that gives way to others, since a camera may be shooting on this machine.

    On Linux each thread has a niceness of its own, and those that it starts inherit it.
    """
    with ThreadPoolExecutor(1, initializer=os.nice, initargs=(10,)) as pool:
        future = pool.submit(job)
        try:
            return future.result()
        except KeyboardInterrupt:
            stopped.set()
            raise


def _show(result: ClipResult) -> None:
    from controller.results.report.text import counted, duration, size

    print(f"{result.out}")
    print(
        f"{duration(result.duration_s)} at {result.fps:g} fps, {result.width}×{result.height}, {size(result.bytes)}:"
        f" {counted(result.frames, 'frame')} from {result.source}"
    )
    if result.steadied and result.before and result.after:
        before, after = result.before, result.after
        print(
            f"steadied: brightness differences from {before.first_rms_ev:.3f} to {after.first_rms_ev:.3f} EV rms,"
            f" largest from {before.largest_step_ev:.3f} to {after.largest_step_ev:.3f} EV"
        )
    for lines in ([gap.text for gap in result.gaps], result.remarks):
        for line in lines[:_LISTED]:
            print(line)
        if len(lines) > _LISTED:
            print(f"and {len(lines) - _LISTED} more, see --json", file=sys.stdout)
