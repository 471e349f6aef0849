"""`duskhand support`: one file for somebody who helps. It needs no service, and no frame log that is whole."""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from controller.commands.out_file import in_place
from controller.words.errors import BadInput, DuskhandError

if TYPE_CHECKING:
    from controller.commands.bundle.leave_out import LeaveOut

UNIT = "duskhand"
SETTINGS = Path("etc/duskhand/duskhand.conf")
_OF_SERVICE = {"now.json": "/api/v1/now", "healthz.json": "/healthz", "check.json": "/api/v1/check"}
_PICTURES = 5

_READ_ME = """A support bundle of Duskhand, made {when}.

What is in it: versions, settings without secrets, the frame log's state, shoots and last notes, findings, what the
service and its checks say where it answers, the last lines of its journal, and the kernel's lines about USB.
Left out: secrets, pictures ({pictures}), and the exact place ({place}). The hours of sunrise and sunset in shoots and
notes still tell roughly where the rig stands. Look through it before you pass it on.
"""


def add(parser: argparse.ArgumentParser) -> None:
    from controller.commands import add_directory
    from controller.commands.asking import add_service

    add_directory(parser)
    parser.add_argument("--out", type=Path, metavar="FILE", help="the bundle, a zip (default: here, named by the time)")
    parser.add_argument("--place", action="store_true", help="leave the exact place in")
    parser.add_argument("--pictures", action="store_true", help=f"put the last {_PICTURES} previews in")
    add_service(parser, "address of the service, asked where it answers")
    parser.add_argument("--json", action="store_true", help="print what is in it as JSON")


def run(args: argparse.Namespace, root: Path = Path("/")) -> int:
    """Write the bundle; a part that cannot be had says why in its place. Raises BadInput (no-rig),
    DuskhandError('not-writable')."""
    import time
    import zipfile

    if not args.dir.is_dir():
        raise BadInput("no-rig", "there is no rig here", str(args.dir), "Name the rig's directory with --dir")
    when = time.strftime("%Y-%m-%d %H:%M UTC", time.gmtime())
    out = args.out or Path(f"duskhand-support-{time.strftime('%Y%m%d-%H%M%S', time.gmtime())}.zip")
    parts = gather(args.dir, args.rig.rstrip("/"), root, place=args.place)
    kept = ("left in" if args.pictures else "left out", "left in" if args.place else "in whole degrees")
    parts["read-me.txt"] = _READ_ME.format(when=when, pictures=kept[0], place=kept[1])
    pictures = _previews(args.dir) if args.pictures else []
    with in_place(str(out), "--out") as temporary:
        handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "wb") as file, zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as bundle:
            for name, text in parts.items():
                bundle.writestr(name, text)
            for picture in pictures:
                bundle.write(picture, f"pictures/{picture.parent.parent.name}-{picture.name}")
    names = [*parts, *(f"pictures/{picture.name}" for picture in pictures)]
    if args.json:
        print(json.dumps({"file": str(out), "parts": names}, ensure_ascii=False, indent=2))
    else:
        print(f"{out}: {', '.join(names)}")
        print("Look through it before you pass it on: docs/watching.md tells what is left out.")
    return 0


def gather(directory: Path, url: str, root: Path, *, place: bool) -> dict[str, str]:
    """Name -> text of each part, secrets taken out."""
    from controller.commands.bundle import log, machine
    from controller.commands.bundle.leave_out import LeaveOut, secrets_in
    from controller.words.layout import DATABASE, FINDINGS

    settings = sorted(directory.glob("*.toml")) if directory.is_dir() else []
    conf, addresses = root / SETTINGS, _addresses_of(directory)
    leave = LeaveOut(secrets_in([*settings, conf, *addresses]), place=place)
    frames = _guarded(lambda: log.frame_log(directory / DATABASE))
    leave.learn_places(frames)
    documents: dict[str, Any] = {
        "versions.json": _guarded(lambda: machine.versions(root)),
        "frame-log.json": frames,
        "machine.json": _guarded(lambda: _machine(directory, root)),
        "files.json": _guarded(lambda: machine.sizes(directory)),
        "findings.json": _guarded(lambda: json.loads((directory / FINDINGS).read_bytes())),
    }
    texts = {"journal.txt": machine.journal(UNIT), "unit.txt": machine.unit_properties(UNIT)}
    texts["kernel-usb.txt"] = machine.kernel_usb()
    texts["service.conf"] = "\n".join(_guarded(lambda: leave.variables(_read(conf))))
    for name, path in _OF_SERVICE.items():
        documents[name] = _guarded(partial(_asked, url, path))
        leave.learn_places(documents[name])
    texts["metrics.txt"] = "".join(_guarded(partial(_asked, url, "/metrics", text=True)))
    parts = {name: _dumped(leave.document(document)) for name, document in documents.items()}
    parts |= {name: leave.text(text) for name, text in texts.items()}
    for file in settings:
        parts[f"settings/{file.name}.json"] = _dumped(_guarded(partial(_settings, leave, file)))
    return parts


def _settings(leave: LeaveOut, file: Path) -> Any:
    return leave.settings(_read(file))


def _read(file: Path) -> str:
    return file.read_text("utf-8", errors="replace")


def _addresses_of(directory: Path) -> list[Path]:
    """Files of addresses: the usual one, and the one that rig.toml names."""
    from controller.decide.messages.document import Messages
    from controller.wiring.document import wiring_in

    named = {Messages().addresses_file}
    try:
        rules = wiring_in(directory).messages
        named |= {rules.addresses_file} if rules is not None else set()
    except BadInput:
        pass  # the document is no use; the usual name is looked at all the same
    return [directory / name for name in sorted(named)]


def _machine(directory: Path, root: Path) -> dict[str, Any]:
    """Facts of the machine, and what the checks that need no camera make of them."""
    from dataclasses import asdict

    from controller.decide.checks import look
    from controller.engine.facts.machine import machine

    facts = machine(directory, root)
    found = [finding.model_dump(mode="json") for finding in look(facts, None) if finding.check != "camera"]
    return {"facts": asdict(facts), "checks": found}


def _asked(url: str, path: str, *, text: bool = False) -> Any:
    from controller.commands.asking import call

    return call(url, path, patience_s=60.0, text=text)


def _guarded(part: Callable[[], Any]) -> Any:
    """The part, or why it cannot be had: a bundle is made where something is broken."""
    try:
        return part()
    except (DuskhandError, OSError, ValueError, TypeError, LookupError, AttributeError, RecursionError) as error:
        return [f"cannot be had: {error or type(error).__name__}"]


def _previews(directory: Path) -> list[Path]:
    """The newest, of all shoots and cameras."""
    found = [*directory.glob("shoots/*/previews/*.jpg"), *directory.glob("shoots/*/*/previews/*.jpg")]
    return sorted(found, key=lambda path: path.stat().st_mtime)[-_PICTURES:]


def _dumped(document: Any) -> str:
    return json.dumps(document, ensure_ascii=False, indent=1, default=str)
