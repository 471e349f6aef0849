"""Which films of a shoot lie in the rig's directory, and what was told of each when it was made."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from controller.results.report.documents import ClipMade

LISTED = 400
"""Clips that are listed: the newest ones."""

_TOLD = ("frames", "duration_s", "fps", "width", "height", "steadied", "before", "after", "url")


def clips(directory: Path, shoot_directory: Path) -> list[ClipMade]:
    """Films in `shoot_directory`, relative to the rig's `directory`, by name; those still being made are left out."""
    root = directory / shoot_directory
    paths = [path for pattern in ("*.mp4", "clips/*.mp4", "*/*.mp4") for path in root.glob(pattern)]
    found = {}
    for path in paths:
        if path.name.startswith("."):
            continue
        try:
            stat = path.stat()
        except OSError:  # gone meanwhile
            continue
        found[path] = stat.st_mtime, stat.st_size
    newest = sorted(found, key=lambda path: found[path])[-LISTED:]
    return [_clip(directory, path, *found[path]) for path in sorted(newest)]


def _clip(directory: Path, path: Path, made_utc: float, size: int) -> ClipMade:
    bare = {"path": str(path.relative_to(directory)), "name": path.name, "bytes": size, "made_utc": made_utc}
    told = _told(path.with_suffix(".json"))
    try:
        return ClipMade.model_validate(bare | told)
    except ValidationError:
        return ClipMade.model_validate(bare)


def _told(path: Path) -> dict[str, Any]:
    try:
        document = json.loads(path.read_bytes())
    except (OSError, ValueError):
        return {}
    if not isinstance(document, dict):
        return {}
    result = document.get("result")
    told = document | (result if isinstance(result, dict) else {})
    return {name: told[name] for name in _TOLD if told.get(name) is not None}
