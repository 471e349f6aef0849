"""`duskhand report`: what was planned, what was got, and why anything is missing."""

from __future__ import annotations

import argparse


def add(parser: argparse.ArgumentParser) -> None:
    from controller.commands.shoot_log import add_camera, add_shoot

    add_shoot(parser)
    add_camera(parser)
    parser.add_argument("--verify", action="store_true", help="read every fetched file and compare size and checksum")
    parser.add_argument("--json", action="store_true", help="print the report as JSON")


def run(args: argparse.Namespace) -> int:
    """Print the report; 1 where --verify finds a file that is not whole. Raises NotFound, BadInput, StoreError."""
    from controller.commands.progress import Progress
    from controller.commands.shoot_log import all_frames, find_shoot, read
    from controller.results.report.integrity import verify
    from controller.results.report.make import report
    from controller.results.report.text import render
    from controller.store import Store
    from controller.words.documents import Frame, Note, Shoot

    async def load(store: Store) -> tuple[Shoot, list[Frame], list[Note]]:
        shoot = await find_shoot(store, args.shoot)
        return shoot, await all_frames(store, shoot), await store.notes(shoot.id)

    shoot, frames, notes = read(args.dir, load)
    integrity = None
    if args.verify:
        with Progress("reading files") as progress:
            integrity = verify(args.dir, frames, progress.step)
    made = report(shoot, frames, notes, integrity, args.camera)
    print(made.model_dump_json(indent=2) if args.json else render(made))
    return 1 if integrity is not None and integrity.damaged else 0
