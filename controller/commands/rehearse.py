"""`duskhand rehearse`: a plan run by the real engine before a model of sky and camera, in seconds."""

from __future__ import annotations

import argparse
import contextlib
from pathlib import Path
from typing import TYPE_CHECKING

from controller.commands import add_directory
from controller.commands.figures import whole
from controller.commands.out_file import in_place

if TYPE_CHECKING:
    from datetime import date

    from controller.decide.plan import Plan
    from controller.rehearsal import CameraModel, View, Weather
    from controller.results.report.curves import Curves
    from controller.words.documents import Frame


def add(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the plan document (TOML), or - for standard input")
    parser.add_argument(
        "--date", metavar="YYYY-MM-DD", help="the window that starts on that local day (default: open now, or next)"
    )
    parser.add_argument(
        "--windows", type=whole, default=1, metavar="N", help="windows of a repeated plan (default: %(default)s)"
    )
    parser.add_argument(
        "--sky",
        default="clear",
        metavar="SKY",
        help="clear, cloudy, or a CSV file with the columns minute,transmission: minutes from the first "
        "window's start, shares of a clear sky's light (default: %(default)s)",
    )
    parser.add_argument(
        "--seed", type=whole, default=0, metavar="N", help="which of the cloudy skies (default: %(default)s)"
    )
    parser.add_argument(
        "--like",
        metavar="SHOOT",
        help="the view's brightness over the model sky, by sun altitude, as an earlier shoot of --dir metered it",
    )
    add_directory(parser)
    model = parser.add_argument_group("the model camera")
    model.add_argument(
        "--write-s", default="0.5", metavar="S", help="seconds that it takes to write a frame (default: %(default)s)"
    )
    model.add_argument(
        "--sleep-s", metavar="S", help="falls asleep after so many seconds without a release (default: never)"
    )
    model.add_argument(
        "--wake-s", default="2", metavar="S", help="seconds that it takes to wake up (default: %(default)s)"
    )
    model.add_argument("--card", metavar="SIZE", help="room on its card, such as 64GB (default: it never fills)")
    model.add_argument("--frame-mb", default="30", metavar="MB", help="megabytes of a frame (default: %(default)s)")
    out = parser.add_argument_group("results")
    out.add_argument("--csv", metavar="OUT", help="write every slot as CSV, with the columns of a real shoot; - prints")
    out.add_argument("--plot", metavar="OUT", help="draw the curves as a picture: a file that ends in .svg or .png")
    out.add_argument("--json", action="store_true", help="print the summary as JSON")


def run(args: argparse.Namespace) -> int:
    """Rehearse, and print what came of it. Raises BadInput."""
    import json
    import os
    import shutil
    import sys

    from controller.commands.csv_file import csv_file
    from controller.commands.days import day
    from controller.commands.drawing import Style
    from controller.commands.plan_file import in_file, read
    from controller.commands.rehearse_text import render
    from controller.decide.wiring.motion import with_gap
    from controller.engine.starting import first_window
    from controller.rehearsal import rehearse_now
    from controller.results.report.curves import Collector, Curves
    from controller.results.report.plots import format_of
    from controller.wiring.document import wiring_in
    from controller.words.errors import BadInput

    if not 1 <= args.windows <= 1000:
        raise BadInput("bad-windows", f"{args.windows} is out of range", "--windows", "Give 1 to 1000")
    picture = Path(args.plot) if args.plot else None
    kind = format_of(picture) if picture is not None else ""
    plan, camera, moves_s = read(args.file), _camera(args), wiring_in(args.dir).moves_s
    wanted = None if args.date is None else day(args.date)
    try:
        now_utc = _begun(plan, wanted)
        start_utc = first_window(plan, now_utc).start_utc
    except BadInput as error:
        raise in_file(error, args.file) from None
    weather = _weather(args.sky, args.seed, start_utc)
    view = None if args.like is None else _view(plan, args.like, args.dir)
    curves = Curves()
    collect = Collector(curves)
    with csv_file(args.csv) if args.csv else contextlib.nullcontext() as write:

        def take(frame: Frame) -> None:
            collect(frame)
            if write is not None:
                write(frame)

        came = rehearse_now(
            with_gap(plan, moves_s),
            now_utc=now_utc,
            weather=weather,
            settings=camera,
            seed=args.seed,
            windows=args.windows,
            view=view,
            on_frame=take,
        )
    if picture is not None:
        _draw(picture, kind, curves, plan, _title(args.sky, args.seed))
    if args.json:
        print(json.dumps(came.summary.model_dump(mode="json"), ensure_ascii=False, indent=2))
    elif args.csv != "-":
        style = Style.of(sys.stdout.encoding, os.environ, sys.stdout.isatty())
        columns = shutil.get_terminal_size().columns
        print(style.text(render(plan, came.summary, came.notes, _title(args.sky, args.seed), columns)))
        from controller.commands.curves_chart import charts

        if drawn := charts(curves, plan.site.zone, style, columns):
            print("", *drawn, sep="\n")
        if moves_s is not None and moves_s > plan.pace.min_gap_s:
            print(f"The gap is {moves_s:.3g} s at least, not {plan.pace.min_gap_s:.3g} s: the motion rig needs it")
        for name in filter(None, (args.csv, args.plot)):
            print(f"written: {name}")
    return 0


def _begun(plan: Plan, wanted: date | None) -> float:
    """When the rehearsed shoot is started: now, or ahead of the window that starts on a day. Raises BadInput."""
    import time

    from controller.decide.schedule import Window, windows_of
    from controller.engine.run import CHECK_LEAD_S
    from controller.engine.starting import first_window

    if wanted is None:
        return time.time()
    window = next(found for _, found in windows_of(plan, wanted) if isinstance(found, Window))
    ahead = window.start_utc - CHECK_LEAD_S - 1.0
    return ahead if first_window(plan, ahead).start_utc == window.start_utc else window.start_utc


def _view(plan: Plan, shoot: str, directory: Path) -> View:
    """What the camera's view has above the model sky, by the log of a shoot. Raises NotFound, BadInput."""
    from controller.commands.shoot_log import all_frames, find_shoot, read
    from controller.rehearsal import view_of
    from controller.store import Store
    from controller.words.errors import BadInput

    async def load(store: Store) -> list[Frame]:
        return await all_frames(store, await find_shoot(store, shoot))

    frames = read(directory, load)
    if not any(frame.scene_ev is not None for frame in frames):
        raise BadInput("not-metered", "no frame of that shoot was metered", f"--like {shoot}", "Name another shoot")
    return view_of(plan, frames)


def _camera(args: argparse.Namespace) -> CameraModel:
    from controller.commands.figures import megabytes, seconds, size
    from controller.rehearsal import CameraModel, Spread

    return CameraModel(
        write_s=Spread(seconds(args.write_s, "--write-s", 3600.0), 0.2),
        bytes_per_frame=int(megabytes(args.frame_mb, "--frame-mb") * 1e6),
        card_bytes=None if args.card is None else int(size(args.card, "--card")),
        sleeps_after_s=None if args.sleep_s is None else seconds(args.sleep_s, "--sleep-s", 86_400.0),
        wakes_in_s=seconds(args.wake_s, "--wake-s", 3600.0),
    )


def _weather(sky: str, seed: int, start_utc: float) -> Weather:
    from controller.decide.plan_hints import nearest
    from controller.rehearsal import clear, cloudy, from_table, read_table
    from controller.words.errors import BadInput

    if sky in ("clear", "cloudy"):
        return clear() if sky == "clear" else cloudy(seed)
    try:
        text = Path(sky).read_text("utf-8")
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "it is not UTF-8 text"
        near = nearest(sky, ("clear", "cloudy"))
        meant = f"Did you mean {near}? " if near else ""
        remedy = f"{meant}Give clear, cloudy, or a FILE.csv with the columns minute,transmission"
        what = f"cannot be read: {why}" if "." in sky or "/" in sky else "is neither a sky nor a file"
        raise BadInput("no-such-file", what, f"--sky {sky}", remedy) from error
    return from_table(*read_table(text, sky), start_utc)


def _title(sky: str, seed: int) -> str:
    if sky == "clear":
        return "a clear sky"
    return f"a cloudy sky (seed {seed})" if sky == "cloudy" else f"the clouds of {Path(sky).name}"


def _draw(path: Path, kind: str, curves: Curves, plan: Plan, sky: str) -> None:
    from controller.results.report.plots import plot

    drawn = plot(curves, plan.site.zone, f"{plan.name}, rehearsed under {sky}", kind)
    with in_place(str(path), "--plot") as temporary:
        temporary.write_bytes(drawn)
