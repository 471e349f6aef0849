"""`duskhand report`: what was planned, what was got, and why anything is missing."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from controller.results.report.integrity import Integrity


def add(parser: argparse.ArgumentParser) -> None:
    from controller.commands.shoot_log import add_camera, add_shoot

    add_shoot(parser)
    add_camera(parser)
    parser.add_argument("--verify", action="store_true", help="read every fetched file and compare size and checksum")
    parser.add_argument("--html", type=Path, metavar="FILE", help="write the report as a page that stands alone")
    parser.add_argument("--json", action="store_true", help="print the report as JSON")


def run(args: argparse.Namespace) -> int:
    """Print the report; 1 where --verify finds a file that is not whole. Raises NotFound, BadInput, StoreError."""
    from controller.aside.report import gathered
    from controller.commands.progress import Progress
    from controller.commands.shoot_log import find_shoot, read
    from controller.results.report.clips import clips
    from controller.results.report.gather import Gatherer
    from controller.results.report.integrity import Verifier, kept
    from controller.results.report.text import render
    from controller.store import Store
    from controller.words.documents import Frame, Note, Shoot
    from controller.words.layout import verified_path

    verifier = Verifier(args.dir) if args.verify else None
    with Progress("reading files") as progress:

        async def load(store: Store) -> tuple[Shoot, Gatherer, list[Note]]:
            shoot = await find_shoot(store, args.shoot)
            done, of = 0, shoot.counts.done + shoot.counts.lost + shoot.counts.missed

            def check(frame: Frame) -> None:
                nonlocal done
                done += 1
                if verifier is not None:
                    verifier(frame)
                    progress.step(done, max(done, of))

            return shoot, await gathered(store, shoot, check), await store.notes(shoot.id)

        shoot, gather, notes = read(args.dir, load)
    path = args.dir / verified_path(shoot.id)
    integrity = kept(path) if verifier is None else verifier.integrity(time.time())
    if verifier is not None and integrity is not None:
        _keep(path, integrity)
    made, curves, track = gather.drawn(notes, integrity, args.camera, clips(args.dir, shoot.id))
    if args.html is not None:
        from controller.results.report.page import page

        _write(args.html, page(made, curves, track))
    if args.json:
        print(made.model_dump_json(indent=2))
    else:
        print(render(made))
        if args.html is not None:
            print(f"\nThe page: {args.html}")
    return 1 if verifier is not None and integrity is not None and integrity.damaged else 0


def _keep(path: Path, integrity: Integrity) -> None:
    """For later reports. One that may only read in the rig's directory is told, and has its answer all the same."""
    from controller.store.files import write_atomic
    from controller.words.errors import StoreError

    try:
        write_atomic(path, integrity.model_dump_json(indent=1).encode())
    except StoreError as error:
        print(f"duskhand report: what was found is not kept for later: {error}", file=sys.stderr)


@contextmanager
def _written(path: Path | None) -> Iterator[Callable[[str], None]]:
    """Writes a file whole or not at all; asked for first, since the work before may take minutes. Raises BadInput."""
    from controller.words.errors import BadInput

    if path is None:
        yield lambda text: None
        return
    temporary = path.with_name(f".{path.name}.part")

    def write(text: str) -> None:
        temporary.write_text(text, "utf-8")
        temporary.replace(path)

    try:
        temporary.touch()
        yield write
    except OSError as error:
        what = error.strerror or str(error)
        raise BadInput("not-writable", what, str(path), "Choose another file with --html") from error
    finally:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)
