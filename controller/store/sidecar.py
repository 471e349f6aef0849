"""A shoot's own words beside its pictures: what plan it runs and how it stands, so that it can go on without its log.

`shoots/ID/shoot.json` is the shoot's document as over REST, without its counts. It is written anew when something
changes that a start needs; of the states of a shoot under way it tells only that it is under way.
"""

from __future__ import annotations

import asyncio
import logging
from pathlib import Path

from pydantic import ValidationError

from controller.store.files import write_atomic
from controller.words.documents import ENDED, Shoot, ShootState
from controller.words.layout import shoot_document_path

log = logging.getLogger(__name__)

_APART = ENDED | {ShootState.WAITING, ShootState.HELD}


class Sidecars:
    """Of the shoots in one rig's directory."""

    def __init__(self, directory: Path) -> None:
        self._directory = directory
        self._written: dict[str, str] = {}
        self._lock = asyncio.Lock()

    async def keep(self, shoot: Shoot) -> None:
        """Write what a start needs of it, where that has changed. Raises StoreError."""
        text = _text(shoot)
        async with self._lock:
            if self._written.get(shoot.id) != text:
                path = self._directory / shoot_document_path(shoot.id)
                await asyncio.to_thread(write_atomic, path, text.encode())
                self._written[shoot.id] = text
            if shoot.state in ENDED:
                self._written.pop(shoot.id, None)


def read_all(directory: Path) -> tuple[list[Shoot], list[Path]]:
    """The shoots below a rig's directory, oldest first, and documents that cannot be read."""
    found, unread = [], []
    for path in sorted(directory.glob(str(shoot_document_path("*")))):
        try:
            shoot = Shoot.model_validate_json(path.read_bytes())
        except (OSError, ValidationError) as error:
            log.warning("%s: %s", path, error)
            unread.append(path)
        else:
            found.append(shoot)
    return sorted(found, key=lambda shoot: shoot.created_utc), unread


def _text(shoot: Shoot) -> str:
    if shoot.state not in _APART:
        shoot = shoot.model_copy(update={"state": ShootState.SHOOTING, "cause": None})
    return shoot.model_dump_json(exclude={"counts"}, indent=1)
