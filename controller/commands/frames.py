"""`duskhand frames`: the frame log of a shoot, for people, as CSV, Parquet or JSON."""

from __future__ import annotations

import argparse
import contextlib
import json
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from controller.store import Store
    from controller.words.documents import Frame, Shoot


def add(parser: argparse.ArgumentParser) -> None:
    from controller.commands.shoot_log import add_shoot

    add_shoot(parser)
    parser.add_argument("--camera", metavar="NAME", help="of several cameras that one (default: all)")
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--csv", metavar="OUT", help="write the log as CSV to a file, or to standard output for -")
    form.add_argument("--parquet", metavar="OUT", help="write the log as Parquet to a file")
    form.add_argument("--json", action="store_true", help="print the log as a JSON array")


def run(args: argparse.Namespace) -> int:
    """Print or write every slot of a shoot. Raises NotFound, StoreError, DuskhandError('not-writable')."""
    from controller.commands.shoot_log import all_frames, find_shoot, read
    from controller.results.cameras import main_camera

    async def load(store: Store) -> tuple[Shoot, list[Frame]]:
        shoot = await find_shoot(store, args.shoot)
        return shoot, await all_frames(store, shoot)

    if args.csv or args.parquet:
        return read(args.dir, lambda store: _write(store, args))
    shoot, frames = read(args.dir, load)
    if args.camera is not None:
        camera = main_camera(frames, args.camera)
        frames = [frame for frame in frames if frame.camera == camera]
    if args.json:
        print(json.dumps([frame.model_dump(mode="json") for frame in frames], ensure_ascii=False, indent=2))
    else:
        _show(shoot, frames)
    return 0


async def _write(store: Store, args: argparse.Namespace) -> int:
    """To a file, page by page: a log of months is not held in memory."""
    from controller.commands.csv_file import csv_file, parquet_file
    from controller.commands.shoot_log import all_frames, find_shoot, pages
    from controller.results.cameras import main_camera

    shoot, count = await find_shoot(store, args.shoot), 0
    if args.camera is not None and await store.last_frame(shoot.id, args.camera) is None:
        main_camera(await all_frames(store, shoot), args.camera)  # which names those that there are
    with contextlib.ExitStack() as files:
        write = files.enter_context(csv_file(args.csv) if args.csv else parquet_file(args.parquet))
        async for page in pages(store, shoot, args.camera):
            for frame in page:
                write(frame)
            count += len(page)
    if args.csv != "-":
        print(f"{count} slots in {args.csv or args.parquet}")
    return 0


def _show(shoot: Shoot, frames: list[Frame]) -> None:
    from controller.words import site_time

    if not frames:
        print("No slot has come due yet.")
        return
    several = len({frame.camera for frame in frames}) > 1
    camera = f"  {'CAMERA':<9}" if several else ""
    print(f"{'SLOT':>5}{camera}  {'DUE':<9}  {'LATE':>8}  {'EVERY':>6}  {'EXPOSURE':<26}  {'SUN':>6}  STATE")
    zone, day = site_time.zone_of(shoot.plan.get("site", {}).get("timezone")), None
    for frame in frames:
        if (on := site_time.day(frame.due_utc, zone)) != day:
            day = on
            print(f"{day}, times of {zone.key}")
        print(_line(frame, site_time.clock(frame.due_utc, zone), several))


def _line(frame: Frame, due: str, several: bool) -> str:
    from controller.words.stops import exposure_label

    late = f"{frame.late_ms:.1f} ms" if frame.late_ms is not None else ""
    exposure = ""
    if frame.shutter_s and frame.aperture and frame.iso:
        exposure = exposure_label(frame.shutter_s, frame.aperture, frame.iso)
    sun = f"{frame.sun_altitude_deg:.1f}°".replace("-", "−") if frame.sun_altitude_deg is not None else ""
    state = f"{frame.state.value}: {frame.cause}" if frame.cause else frame.state.value
    camera = f"  {frame.camera:<9}" if several else ""
    return f"{frame.seq:5d}{camera}  {due:<9}  {late:>8}  {frame.interval_s:4.1f} s  {exposure:<26}  {sun:>6}  {state}"
