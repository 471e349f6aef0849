"""`duskhand report`: what was planned, what was got, and why anything is missing."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from controller.results.report.gather import Gatherer
    from controller.results.report.integrity import Integrity
    from controller.words.documents import Frame, Note, Shoot

_LONG = 20_000  # frames from which on even adding them up takes long enough to say how far it is


def add(parser: argparse.ArgumentParser) -> None:
    from controller.commands.shoot_log import add_camera, add_shoot

    add_shoot(parser)
    add_camera(parser)
    parser.add_argument("--verify", action="store_true", help="read every fetched file and compare size and checksum")
    parser.add_argument("--html", type=Path, metavar="FILE", help="write the report as a page that stands alone")
    parser.add_argument("--json", action="store_true", help="print the report as JSON")


def run(args: argparse.Namespace) -> int:
    """Print the report; 1 where --verify finds a file that is not whole. Raises NotFound, BadInput, StoreError,
    DuskhandError('not-writable')."""
    page_file = None if args.html is None else _PageFile(args.html)
    try:
        return _run(args, page_file)
    finally:
        if page_file is not None:
            page_file.close()


def _run(args: argparse.Namespace, page_file: _PageFile | None) -> int:
    from controller.results.report.clips import clips
    from controller.results.report.integrity import Verifier, kept
    from controller.results.report.text import render
    from controller.words.layout import verified_path

    verifier = Verifier(args.dir) if args.verify else None
    shoot, gather, notes = _read(args, verifier)
    path = args.dir / verified_path(shoot.id)
    integrity = kept(path) if verifier is None else verifier.integrity(time.time())
    if verifier is not None and integrity is not None:
        _keep(path, integrity)
    made, curves, track = gather.drawn(notes, integrity, args.camera, clips(args.dir, shoot.id))
    if page_file is not None:
        from controller.results.report.page import page

        page_file.write(page(made, curves, track))
    if args.json:
        print(made.model_dump_json(indent=2))
    else:
        print(render(made))
        if page_file is not None:
            print(f"\nThe page: {args.html}")
    return 1 if verifier is not None and integrity is not None and integrity.whole < integrity.checked else 0


def _read(args: argparse.Namespace, verifier: Callable[[Frame], None] | None) -> tuple[Shoot, Gatherer, list[Note]]:
    """The log, added up; every frame goes to `verifier` too."""
    from controller.aside.report import gathered
    from controller.commands.progress import Progress
    from controller.commands.shoot_log import find_shoot, read
    from controller.store import Store

    with Progress("reading files" if verifier else "reading") as progress:

        async def load(store: Store) -> tuple[Shoot, Gatherer, list[Note]]:
            shoot = await find_shoot(store, args.shoot)
            done, of = 0, shoot.counts.done + shoot.counts.lost + shoot.counts.missed

            def also(frame: Frame) -> None:
                nonlocal done
                done += 1
                if verifier is not None:
                    verifier(frame)
                if verifier is not None or of > _LONG:
                    progress.step(done, max(done, of))

            return shoot, await gathered(store, shoot, also), await store.notes(shoot.id)

        return read(args.dir, load)


def _keep(path: Path, integrity: Integrity) -> None:
    """For later reports. Who may only read in the rig's directory is told so, and has the answer all the same."""
    from controller.store.files import write_atomic
    from controller.words.errors import StoreError

    try:
        write_atomic(path, integrity.model_dump_json(indent=1).encode())
    except StoreError as error:
        print(f"duskhand report: what was found is not kept for later: {error}", file=sys.stderr)


class _PageFile:
    """A file that is written whole or not at all. It is tried first, since the work before may take minutes."""

    def __init__(self, path: Path) -> None:
        """Raises DuskhandError('not-writable')."""
        self._path, self._temporary = path, path.with_name(f".{path.name}.part")
        self._try(self._temporary.touch)

    def write(self, text: str) -> None:
        """Raises DuskhandError('not-writable')."""
        self._try(lambda: self._temporary.write_text(text, "utf-8"))
        self._try(lambda: self._temporary.replace(self._path))

    def close(self) -> None:
        """Leave nothing half written."""
        self._temporary.unlink(missing_ok=True)

    def _try(self, work: Callable[[], object]) -> None:
        from controller.commands.out_file import unwritten

        try:
            work()
        except OSError as error:
            raise unwritten(error, self._path, "--html") from error
