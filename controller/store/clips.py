"""The films of a shoot as they lie on the disk.

The rig's own have a record beside them that says what each is of. Those that a command made lie in the shoot's
directory, or in that of one of its cameras.
"""

from __future__ import annotations

import contextlib
import json
import logging
import re
import shutil
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from controller.store.files import entries, write_atomic
from controller.words.clips import ClipForm, ClipKind, ClipRecord, ClipState, first_of
from controller.words.errors import NotFound
from controller.words.layout import clip_name, clips_directory, shoot_directory

log = logging.getLogger(__name__)

RECORD = ".clip.json"
NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,200}\.mp4")


def own_file(directory: Path, shoot: str, name: str) -> Path:
    """Where a film that the rig makes lies below its `directory`. Raises NotFound for a name that none can have."""
    if not NAME.fullmatch(name):
        raise no_such_clip(shoot, name)
    return directory / clips_directory(shoot) / name


def clip_file(directory: Path, shoot: str, name: str) -> Path:
    """Where any film of the shoot lies. Raises NotFound where there is none of that name."""
    own = own_file(directory, shoot, name)
    path = own if own.is_file() else by_command(directory, shoot).get(name)
    if path is None:
        raise no_such_clip(shoot, name)
    return path


def by_command(directory: Path, shoot: str) -> dict[str, Path]:
    """Films that the rig did not make itself, by the names under which they are served."""
    root = directory / shoot_directory(shoot)
    found = [*root.glob("*.mp4"), *root.glob("camera-*/*.mp4")]
    names = {clip_name(path.relative_to(root)): path for path in found}
    return {name: path for name, path in names.items() if NAME.fullmatch(name) and path.is_file()}


def no_such_clip(shoot: str, name: str) -> NotFound:
    remedy = f"List them with GET /api/v1/shoots/{shoot}/clips"
    return NotFound("no-such-clip", "the shoot has no such film", name, remedy)


def keep(directory: Path, record: ClipRecord) -> None:
    """Write a record down. Raises StoreError."""
    path = _record_path(directory, record.shoot, record.name)
    write_atomic(path, record.model_dump_json().encode())


def records(directory: Path, shoot: str) -> list[ClipRecord]:
    """Of one shoot, by day and name; one that cannot be read is logged and left out."""
    found = []
    for entry in entries(directory / clips_directory(shoot)):
        if entry.name.endswith(RECORD):
            try:
                found.append(ClipRecord.model_validate_json(Path(entry.path).read_bytes()))
            except (OSError, ValidationError) as error:
                log.warning("%s is no record of a film: %s", entry.path, error)
    return sorted(found, key=lambda record: (record.since_utc or 0.0, record.name))


def listed(directory: Path, shoot: str) -> dict[str, ClipRecord]:
    """Of every film, by name: those of the rig's own, without films that somebody has deleted, and a command's."""
    found = {name: made for name, path in by_command(directory, shoot).items() if (made := _other(shoot, name, path))}
    for record in records(directory, shoot):
        if record.state is not ClipState.READY or (directory / clips_directory(shoot) / record.name).is_file():
            found[record.name] = record
    return found


def _other(shoot: str, name: str, path: Path) -> ClipRecord | None:
    try:
        stat = path.stat()
    except OSError:  # gone meanwhile
        return None
    made: dict[str, Any] = {"shoot": shoot, "name": name, "kind": ClipKind.MADE, "state": ClipState.READY}
    made |= {"bytes": stat.st_size, "made_utc": stat.st_mtime}
    try:
        told = json.loads(path.with_suffix(".json").read_bytes())
        known = {key: told[key] for key in ("frames", "duration_s")}
        form = {key: told.get(key) for key in ClipForm.model_fields}  # of older versions not all of it
        missing = sum(gap["slots"] for gap in told["gaps"])
        return ClipRecord(**made, **known, **form, missing=missing, remarks=first_of(told["remarks"]))
    except (OSError, ValueError, KeyError, TypeError):  # of an older version, changed by hand, or moved there
        return ClipRecord(**made)


def of_all_shoots(directory: Path) -> list[ClipRecord]:
    """Of every shoot that has any."""
    shoots = [entry.name for entry in entries(directory / "shoots") if entry.is_dir()]
    return [record for shoot in sorted(shoots) for record in records(directory, shoot)]


def tidy(directory: Path, shoot: str, name: str) -> None:
    """Remove what the making of a film left half done, and would otherwise go on from."""
    for entry in entries(directory / clips_directory(shoot)):
        if entry.name.startswith(f".{name}."):
            if entry.is_dir(follow_symlinks=False):
                shutil.rmtree(entry.path, ignore_errors=True)
            else:
                with contextlib.suppress(OSError):  # it is in nobody's way
                    Path(entry.path).unlink()


def _record_path(directory: Path, shoot: str, name: str) -> Path:
    return directory / clips_directory(shoot) / (name.removesuffix(".mp4") + RECORD)
