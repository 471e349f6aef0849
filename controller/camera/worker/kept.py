"""What a camera process keeps of bodies for the processes after it: which way each of them is released."""

from __future__ import annotations

import json
from pathlib import Path

from controller.camera.worker.process import own_directory

_FILE = "release.json"


def kept_file() -> Path | None:
    """Beside libgphoto2's own settings; None where there is no directory for them."""
    directory = own_directory()
    return None if directory is None else directory / _FILE


class Kept:
    """A body's name -> the name of its way. A file that is damaged or not there is as good as an empty one."""

    def __init__(self, path: Path | None) -> None:
        self._path = path

    def way(self, body: str) -> str:
        """What was kept for a body; empty where nothing was."""
        return self._all().get(body, "")

    def keep(self, body: str, way: str) -> None:
        """Raises OSError. Not synced: what is lost by a power cut is learned again from one refused call."""
        if self._path is None:
            return
        fresh = self._path.with_suffix(".new")
        fresh.write_text(json.dumps(self._all() | {body: way}, indent=1) + "\n", encoding="utf-8")
        fresh.replace(self._path)

    def _all(self) -> dict[str, str]:
        try:
            found = json.loads(self._path.read_text(encoding="utf-8")) if self._path else {}
        except (OSError, ValueError):
            return {}
        return {str(body): str(way) for body, way in found.items()} if isinstance(found, dict) else {}
