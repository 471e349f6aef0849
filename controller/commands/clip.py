"""`duskhand clip`: the film of a shoot."""

from __future__ import annotations

import argparse
import contextlib
import math
import os
import sys
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from controller.results.clip.make import ClipResult
    from controller.results.clip.options import ClipOptions

T = TypeVar("T")
_LISTED = 20  # gaps, and pictures left out, that are named


def add(parser: argparse.ArgumentParser) -> None:
    from controller.commands import add_directory, clip_series
    from controller.commands.figures import whole
    from controller.commands.shoot_log import add_camera

    parser.add_argument("shoot", metavar="SHOOT", nargs="+", help="id of a shoot, or last; of several, one film")
    add_directory(parser)
    add_camera(parser)
    clip_series.add(parser)
    parser.add_argument("--out", type=Path, metavar="FILE", help="the film, .mp4 (default: in the shoot's directory)")
    parser.add_argument("--fps", type=_fps, metavar="N", help="frames a second, 1 to 120 (default: as the plan says)")
    parser.add_argument(
        "--steady", action=argparse.BooleanOptionalAction, default=True, help="remove brightness steps and flicker"
    )
    parser.add_argument("--tones", action="store_true", help="steady the tones too, by histogram")
    parser.add_argument("--codec", metavar="CODEC", default="h264", help="h264 or hevc (default: %(default)s)")
    parser.add_argument(
        "--bits", type=whole, metavar="N", default=8, help="8 or 10 of each colour (default: %(default)s)"
    )
    parser.add_argument("--size", type=_size, metavar="WxH", help="pixels to fit into (default: 1920x1080, or upright)")
    parser.add_argument("--crop", type=_window, metavar="X,Y,W,H", help="window in the picture, fractions 0 to 1")
    parser.add_argument("--pan-to", type=_window, metavar="X,Y,W,H", help="window to which that of --crop moves")
    parser.add_argument(
        "--burn", type=_words, metavar="WHAT", default=(), help="write into the film: time, sun or both"
    )
    parser.add_argument(
        "--retime", metavar="HOW", default="off", help="time runs evenly: nearest or blend picks frames"
    )
    parser.add_argument(
        "--scene-s-per-s", metavar="N", help="seconds of the scene in one of a retimed film, such as 100 or 5min"
    )
    parser.add_argument("--source", metavar="SOURCE", default="auto", help="auto, fetched, embedded or developed")
    parser.add_argument("--json", action="store_true", help="print the result as JSON")


def run(args: argparse.Namespace) -> int:
    """Make the film and say what is in it. Raises NotFound, BadInput, StoreError, DuskhandError('clip-failed')."""
    from controller.commands import clip_series
    from controller.commands.progress import Progress, stopped_midway
    from controller.commands.shoot_log import all_frames, find_shoot, read
    from controller.results.clip.make import make_clip
    from controller.store import Store
    from controller.store.files import clip_path, write_atomic
    from controller.words.documents import Frame, Shoot
    from controller.words.errors import DuskhandError
    from controller.words.layout import FIRST_CAMERA

    with _as_typed():
        asked = clip_series.wanted(args)

    async def load(store: Store) -> tuple[Shoot, list[Frame], list[str]]:
        found = [await find_shoot(store, name) for name in args.shoot]
        shoots = list({shoot.id: shoot for shoot in found}.values())
        if asked is None and len(shoots) == 1:
            return shoots[0], await all_frames(store, shoots[0]), []
        with Progress("frames") as looked:
            return await clip_series.chosen(args, asked, store, shoots, looked.step)

    shoot, frames, left_out = read(args.dir, load)
    name = clip_path(shoot.id, args.camera or FIRST_CAMERA)
    out = args.out or args.dir / name.with_stem(name.stem + clip_series.suffix(asked, len(args.shoot) > 1))
    options = _options(args, args.fps or shoot.fps)
    stopped = threading.Event()

    with Progress("clip") as progress:

        def step(done: int, of: int) -> None:
            if stopped.is_set():
                raise KeyboardInterrupt
            progress.step(done // 2, of // 2)  # each picture is looked at first, and drawn later

        with stopped_midway(), _as_typed():
            result = _gently(lambda: make_clip(shoot, frames, args.dir, out, options, step), stopped)
    result.remarks[:0] = left_out
    shoots = (args.dir / "shoots").resolve()  # there the report and the phone look for what is told of a film
    if result.unfinished is None and shoots in Path(result.out).resolve().parents:
        write_atomic(Path(result.out).with_suffix(".json"), (result.model_dump_json(indent=2) + "\n").encode())
    print(result.model_dump_json(indent=2)) if args.json else _show(result)
    if result.unfinished is not None:
        remedy = "Free some space there and give the same command again: it goes on from there"
        raise DuskhandError("clip-unfinished", f"the clip ends early: {result.unfinished}", result.out, remedy)
    return 0


def _options(args: argparse.Namespace, fps: float) -> ClipOptions:
    from controller.commands.figures import seconds
    from controller.results.clip.options import clip_options
    from controller.words.errors import BadInput

    if args.tones and not args.steady:
        raise BadInput("bad-clip", "tones are steadied along with brightness", "--tones", "Leave out --no-steady")
    names = ("codec", "bits", "size", "crop", "pan_to", "burn", "retime", "scene_s_per_s", "source", "camera")
    if args.scene_s_per_s is not None:
        try:
            args.scene_s_per_s = float(args.scene_s_per_s)
        except ValueError:
            args.scene_s_per_s = seconds(args.scene_s_per_s, "--scene-s-per-s", math.inf)
    steady = "tones" if args.tones else "level" if args.steady else "off"
    with _as_typed():
        return clip_options(fps=fps, steady=steady, **{name: getattr(args, name) for name in names})


@contextlib.contextmanager
def _as_typed() -> Iterator[None]:
    """'--pan-to', as it was typed, not 'pan_to.w'."""
    from controller.words.errors import BadInput

    try:
        yield
    except BadInput as error:
        if error.code in ("bad-clip", "bad-series", "clip-memory"):
            error.where = "--" + error.where.partition(".")[0].replace("_", "-")
        raise


def _fps(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 1 <= value <= 120:
        raise argparse.ArgumentTypeError(f"{text!r} is no usable frame rate: give 1 to 120 frames a second")
    return value


def _size(text: str) -> tuple[int, int]:
    try:
        width, height = (int(part) for part in text.lower().replace("×", "x").split("x"))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no size: give width and height, such as 1920x1080") from None
    return width, height


def _window(text: str) -> dict[str, float]:
    try:
        x, y, w, h = (float(part) for part in text.split(","))
    except ValueError:
        what = (
            f"{text!r} is no window: give its left and upper edge, width and height as fractions, such as 0,0,0.5,0.5"
        )
        raise argparse.ArgumentTypeError(what) from None
    return {"x": x, "y": y, "w": w, "h": h}


def _words(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(","))


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
