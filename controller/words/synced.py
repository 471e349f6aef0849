"""What survives a power cut."""

from __future__ import annotations

import os
from pathlib import Path


def sync_directory(directory: Path) -> None:
    """Make renames in `directory`, and files that are new or gone there, survive a power cut. Raises OSError."""
    handle = os.open(directory, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
