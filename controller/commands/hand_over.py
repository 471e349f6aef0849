"""`duskhand hand-over`: everything that an editor needs of a shoot, in one folder."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from controller.commands.handing.place import Folder
    from controller.results.handover.document import HandedOver
    from controller.store import Store
    from controller.words.documents import Shoot

_LISTED = 20  # reasons that are told


def add(parser: argparse.ArgumentParser) -> None:
    from controller.commands.shoot_log import add_shoot

    add_shoot(parser)
    parser.add_argument(
        "--to", required=True, metavar="FOLDER", help="a new folder, one of an earlier run, or place:NAME"
    )
    parser.add_argument("--name", metavar="PATTERN", help="how pictures are named, such as {shoot}-{seq:06}")
    parser.add_argument("--no-files", action="store_true", help="all but pictures and previews")
    parser.add_argument("--verify", action="store_true", help="read what an earlier run wrote, too")
    parser.add_argument("--json", action="store_true", help="print what came of it as JSON")


def run(args: argparse.Namespace) -> int:
    """Hand over and say what is there; 1 where something of the rig is not. Raises NotFound, BadInput, StoreError,
    CopyError, DuskhandError('hand-over-failed')."""
    from controller.commands.handing.names import Names, RigNames, own_names
    from controller.commands.handing.work import HandOver
    from controller.commands.progress import Progress, stopped_midway
    from controller.commands.shoot_log import find_shoot, read

    rig = args.dir.resolve()

    async def work(store: Store) -> HandedOver:
        shoot = await find_shoot(store, args.shoot)
        last = await store.last_frame(shoot.id)
        last_seq = 0 if last is None else last.seq
        folder = _folder(args, rig, shoot)
        try:
            names: Names = RigNames()
            if folder.renames:
                names = await own_names(
                    store, shoot, last_seq, folder.earlier(shoot.id) if args.name is None else args.name
                )
            with Progress("hand over") as progress:
                handing = HandOver(
                    store,
                    shoot,
                    rig,
                    folder,
                    names,
                    last_seq,
                    files=not args.no_files,
                    progress=progress.step,
                )
                return await handing.run()
        finally:
            await folder.close()

    with stopped_midway():
        made = read(rig, work)
    print(made.model_dump_json(indent=2) if args.json else _text(made))
    return 0 if made.whole else 1


def _folder(args: argparse.Namespace, rig: Path, shoot: Shoot) -> Folder:
    from controller.commands.handing.at_place import WORD, AtPlace
    from controller.commands.handing.on_disk import OnDisk, bad

    if not args.to.strip():
        raise bad("no folder is named", "--to", "Name one that is new or empty")
    if args.to.startswith(WORD):
        name = args.to.removeprefix(WORD)
        return AtPlace(name, rig, shoot.id, renames=args.name is not None, verify=args.verify)
    return OnDisk(Path(args.to), rig, verify=args.verify)


def _text(made: HandedOver) -> str:
    from controller.words.phrases import count

    lines = [made.where]
    lines.append(
        f"{count(made.pictures, 'picture file')}: {made.copied} copied, {made.there} there already;"
        f" {count(made.sidecars, 'sidecar')}"
    )
    if made.previews:
        lines.append(f"{count(made.previews, 'preview')} of frames whose own pictures are not on the rig")
    lines.append(", ".join(made.documents))
    reasons = list(made.missing.items())
    lines += [f"{slots} not there: {why}" for why, slots in reasons[:_LISTED]]
    if len(reasons) > _LISTED:
        lines.append(f"and for {len(reasons) - _LISTED} other reasons: missing.csv")
    return "\n".join([*lines, *made.remarks])
