"""The document of a rig's second places, in the rig's directory. It holds secrets, so nobody else may read it."""

from __future__ import annotations

import os
from pathlib import Path

from controller.decide.places import AnyPlace, read_places
from controller.words.errors import BadInput

NAME = "places.toml"


def places_in(directory: Path) -> dict[str, AnyPlace]:
    """Places by name; none where there is no document. Raises BadInput (bad-places) that names it."""
    path = directory / NAME
    try:
        descriptor = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
    except FileNotFoundError:
        return {}
    except OSError as error:
        what = f"cannot be read: {error.strerror or error}"
        raise BadInput("bad-places", what, str(path), "Let the service's user read it, or remove it") from error
    with os.fdopen(descriptor, "rb") as file:
        if os.fstat(descriptor).st_mode & 0o077:
            what, remedy = "others on this machine may read it, and it holds secrets", f"chmod 600 {path}"
            raise BadInput("bad-places", what, str(path), remedy)
        try:
            text = file.read().decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise BadInput("bad-places", "not UTF-8 text", str(path), "Save it as UTF-8") from error
        except OSError as error:
            raise BadInput("bad-places", f"cannot be read: {error.strerror}", str(path), "Look at the disk") from error
    try:
        return read_places(text)
    except BadInput as error:
        where = f"{path}, {error.where}" if error.where else str(path)
        raise BadInput(error.code, error.what, where, error.remedy) from None
