"""The camera's own truth: a line of JSON for each exposure that it took, whatever became of the files."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any


class Record:
    """Appends to `path`, flushed per line; counts only where `path` is None."""

    def __init__(self, path: Path | None) -> None:
        self._file = path.open("a", encoding="utf-8", buffering=1) if path else None
        self.taken = self.written = 0

    def add(self, *, written: bool, **fields: Any) -> None:
        self.taken += 1
        self.written += written
        if self._file:
            self._file.write(json.dumps({**fields, "written": written}) + "\n")

    def close(self) -> None:
        if self._file:
            self._file.close()
