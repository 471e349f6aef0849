"""Which films of a shoot lie in the rig's directory, and what was told of each when it was made."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from urllib.parse import quote

from pydantic import ValidationError

from controller.results.report.documents import ClipMade
from controller.words.layout import clip_name, shoot_directory

LISTED = 400
"""Clips that are listed: the newest ones."""

_TOLD = ("frames", "duration_s", "fps", "width", "height", "steadied", "before", "after")
_BESIDE = (".clip.json", ".json")  # the rig's own record, and what was told when the film was made


def clips(directory: Path, shoot: str) -> list[ClipMade]:
    """Films of a shoot in the rig's `directory`, by name; those still being made are left out."""
    root = directory / shoot_directory(shoot)
    paths = [path for pattern in ("*.mp4", "clips/*.mp4", "camera-*/*.mp4") for path in root.glob(pattern)]
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
    at = f"/api/v1/shoots/{quote(shoot)}/clips/"
    return [
        _clip(directory, path, *found[path], at + quote(clip_name(path.relative_to(root)))) for path in sorted(newest)
    ]


def _clip(directory: Path, path: Path, made_utc: float, size: int, url: str) -> ClipMade:
    name = str(path.relative_to(directory))
    bare = {"path": name, "name": path.name, "bytes": size, "made_utc": made_utc, "url": url}
    told = {key: value for ending in _BESIDE for key, value in _told(path.with_suffix(ending)).items()}
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
    return {name: document[name] for name in _TOLD if document.get(name) is not None}
