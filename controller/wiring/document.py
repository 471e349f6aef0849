"""The document of a rig's wiring, in the rig's directory."""

from __future__ import annotations

from pathlib import Path

from controller.decide.wiring import Wiring, read_wiring
from controller.words.errors import BadInput

NAME = "rig.toml"


def wiring_in(directory: Path) -> Wiring:
    """What the document of a rig's directory says; nothing where there is none. Raises BadInput that names it."""
    path = directory / NAME
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        return Wiring()
    except OSError as error:
        what = f"cannot be read: {error.strerror or error}"
        raise BadInput("bad-wiring", what, str(path), "Let this user read it, or remove it") from error
    except UnicodeDecodeError as error:
        raise BadInput("bad-wiring", "not UTF-8 text", str(path), "Save it as UTF-8") from error
    try:
        return read_wiring(text)
    except BadInput as error:
        where = f"{path}, {error.where}" if error.where else str(path)
        raise BadInput(error.code, error.what, where, error.remedy) from None
