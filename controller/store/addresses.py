"""Where messages go: read where one is sent, and at the start, so that trouble shows before the first is due."""

from __future__ import annotations

import os
from pathlib import Path

from controller.words.errors import BadInput

VARIABLE = "DUSKHAND_MESSAGES_TO"
_MOST_BYTES = 64_000


def addresses(file: Path | None) -> list[str]:
    """Of the environment's variable, or of a file that its owner alone can read. Raises BadInput (bad-addresses)."""
    where, text = VARIABLE, os.environ.get(VARIABLE, "")
    if not text.strip() and file is not None:
        where, text = str(file), _read(file)
    found = [line.strip() for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    if not found:
        raise BadInput("bad-addresses", "there is no address in it", where, "Write one address a line")
    return found


def _read(file: Path) -> str:
    try:
        with file.open("rb") as opened:
            mode = os.fstat(opened.fileno()).st_mode
            if mode & 0o077:
                remedy = f"Make it its owner's alone: chmod 600 {file}"
                raise BadInput("bad-addresses", "others than its owner may read it", str(file), remedy)
            return opened.read(_MOST_BYTES).decode()
    except OSError as error:
        remedy = "Make it, with one address a line, readable by the user of the service alone"
        raise BadInput("bad-addresses", f"cannot be read: {error.strerror or error}", str(file), remedy) from error
    except UnicodeDecodeError as error:
        raise BadInput("bad-addresses", "not UTF-8 text", str(file), "Save it as UTF-8") from error
