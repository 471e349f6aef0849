"""Where things lie in a rig's directory."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path

DATABASE = "frames.sqlite3"
FINDINGS = "watching.json"  # those that stand, over a restart
OF_THE_SERVICE = Path("/var/lib/duskhand")
"""The directory of a rig that `systemd/install` has made a service: the unit's StateDirectory."""


def database_path(directory: Path) -> Path:
    """The frame log of a rig's directory."""
    return directory / DATABASE


JPEG = frozenset({".jpg", ".jpeg"})
"""How such a file's name ends, in small letters: the first of a pair, and what every program shows."""

FIRST_CAMERA = "camera-1"
"""The rig's only camera, mostly: its files have no directory of their own, those of others have."""


def frame_directory(shoot: str, due_utc: float, camera: str = FIRST_CAMERA) -> Path:
    """Where fetched files of a slot go, relative to the rig's directory: a directory per shoot and UTC day."""
    return _of(shoot, camera) / datetime.fromtimestamp(due_utc, UTC).strftime("%Y-%m-%d")


def frames_of_day(directory: Path, shoot: str, due_utc: float, camera: str = FIRST_CAMERA) -> str:
    """The same below a rig's directory, as text."""
    return _of_day(directory, shoot, due_utc // 86_400, camera)


@lru_cache(maxsize=64)
def _of_day(directory: Path, shoot: str, day: float, camera: str) -> str:
    return str(directory / frame_directory(shoot, day * 86_400, camera))


def _of(shoot: str, camera: str) -> Path:
    return Path("shoots") / shoot / ("" if camera == FIRST_CAMERA else camera)


def shoot_document_path(shoot: str) -> Path:
    """What a shoot says of itself beside its pictures, relative to the rig's directory."""
    return Path("shoots") / shoot / "shoot.json"


def frame_stem(seq: int) -> str:
    """File name of a slot, without extension."""
    return f"{seq:06d}"


def preview_path(shoot: str, seq: int, camera: str = FIRST_CAMERA) -> Path:
    """The small picture of a slot, relative to the rig's directory."""
    return _of(shoot, camera) / "previews" / f"{frame_stem(seq)}.jpg"


def clip_path(shoot: str, camera: str = FIRST_CAMERA) -> Path:
    """The film of a shoot, relative to the rig's directory."""
    return _of(shoot, camera) / f"{shoot}.mp4"


def clip_name(path: Path) -> str:
    """The name under which a film at `path`, relative to its shoot's directory, is served."""
    return "-".join(part for part in path.parts if part != "clips")


def clips_directory(shoot: str) -> Path:
    """Where the films that the rig makes of a shoot lie, of all its cameras, relative to the rig's directory."""
    return Path("shoots") / shoot / "clips"


def shoot_directory(shoot: str) -> Path:
    """All files of a shoot, relative to the rig's directory."""
    return Path("shoots") / shoot


def verified_path(shoot: str) -> Path:
    """What was found when a shoot's files were last read, relative to the rig's directory."""
    return Path("shoots") / shoot / "verified.json"
