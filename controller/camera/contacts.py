"""A camera's own release contacts, as the daemon tells its process of them: in a file beside libgphoto2's settings."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path

_FILE = "contacts.json"


@dataclass(frozen=True, slots=True)
class Contacts:
    """Pins by their processor's number (BCM); seconds. `first`: before the camera's own release, and not after it."""

    shutter_pin: int
    focus_pin: int | None
    high: bool  # the level that closes a contact
    first: bool
    lead_s: float
    hold_s: float


def tell(settings: Path, contacts: Contacts | None) -> None:
    """Put down what the process for the camera with these settings has; None where it has none. Raises OSError."""
    path = settings / _FILE
    if contacts is None:
        path.unlink(missing_ok=True)
        return
    settings.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(asdict(contacts)) + "\n", encoding="utf-8")


def told(settings: Path) -> Contacts | None:
    """What was put down there. Raises OSError, ValueError, TypeError where that cannot be read."""
    path = settings / _FILE
    return Contacts(**json.loads(path.read_text(encoding="utf-8"))) if path.exists() else None
