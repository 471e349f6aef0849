"""The films of a shoot as they lie on the disk: each with a record beside it that says what it is of."""

from __future__ import annotations

import contextlib
import logging
import re
import shutil
from pathlib import Path

from pydantic import ValidationError

from controller.store.files import entries, write_atomic
from controller.words.clips import ClipRecord
from controller.words.errors import NotFound
from controller.words.layout import clips_directory

log = logging.getLogger(__name__)

RECORD = ".clip.json"
NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,90}\.mp4")


def clip_file(directory: Path, shoot: str, name: str) -> Path:
    """Where a film lies below the rig's `directory`. Raises NotFound for a name that none can have."""
    if not NAME.fullmatch(name):
        raise no_such_clip(shoot, name)
    return directory / clips_directory(shoot) / name


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
