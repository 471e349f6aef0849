"""What of a shoot lies on the rig's disk, by slot: enough to make its rows anew where the log has lost them."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

from controller.store.files import entries
from controller.words.layout import FIRST_CAMERA, JPEG, frame_stem, preview_path

_PICTURE = re.compile(r"(\d{6,})\.(\w+)")
_DAY = re.compile(r"\d{4}-\d\d-\d\d")
_CAMERA = re.compile(r"camera-\d+")


@dataclass(slots=True)
class OnDisk:
    """The small picture and the copies of one slot; `utc` is when the first of them was written, POSIX seconds."""

    utc: float = float("inf")
    preview: bool = False
    copies: list[tuple[Path, int]] = field(default_factory=list)  # relative to the rig's directory, and bytes

    @property
    def first(self) -> Path | None:
        """The copy that the log names: of a pair the JPEG."""
        paths = sorted((path for path, _ in self.copies), key=lambda path: path.suffix.lower() not in JPEG)
        return paths[0] if paths else None


def cameras(directory: Path, shoot: str) -> list[str]:
    """Those that have files in the shoot's directory."""
    there = directory / preview_path(shoot, 1).parent.parent
    found = [entry.name for entry in entries(there) if entry.is_dir()]
    first = [FIRST_CAMERA] if any(name == "previews" or _DAY.fullmatch(name) for name in found) else []
    return sorted([*first, *(name for name in found if _CAMERA.fullmatch(name))])


def on_disk(directory: Path, shoot: str, camera: str) -> dict[int, OnDisk]:
    """Every slot of which there is a file, by number; takes a time that grows with the files."""
    found: dict[int, OnDisk] = {}
    previews = directory / preview_path(shoot, 1, camera).parent
    for folder in [previews, *_days(previews.parent)]:
        for entry in entries(folder):
            named = _PICTURE.fullmatch(entry.name)
            if named is None:
                continue
            stat = entry.stat()
            slot = found.setdefault(int(named[1]), OnDisk())
            slot.utc = min(slot.utc, stat.st_mtime)
            if folder == previews:
                slot.preview = True
            elif stat.st_size:  # a file of no length is none
                slot.copies.append((Path(entry.path).relative_to(directory), stat.st_size))
    return dict(sorted((seq, slot) for seq, slot in found.items() if slot.preview or slot.copies))


def exposure_of(path: Path) -> tuple[float, float, float] | None:
    """Shutter seconds, f-number and ISO that a picture's Exif tells (CIPA DC-008, 4.6.5); None where it does not."""
    from PIL import ExifTags, Image  # only where a log is made anew

    try:
        with Image.open(path) as image:
            told = image.getexif().get_ifd(ExifTags.IFD.Exif)
        tags = (ExifTags.Base.ExposureTime, ExifTags.Base.FNumber, ExifTags.Base.ISOSpeedRatings)
        shutter_s, aperture, iso = (float(told[tag]) for tag in tags)
    except (OSError, SyntaxError, ValueError, KeyError, TypeError, ZeroDivisionError):
        return None
    return (shutter_s, aperture, iso) if min(shutter_s, aperture, iso) > 0 else None


def beyond(directory: Path, shoot: str, camera: str, seq: int, ahead: int) -> bool:
    """Whether there is a file of any of the `ahead` slots after `seq`: as quick in a large shoot as in a small one."""
    previews = directory / preview_path(shoot, 1, camera).parent
    days = _days(previews.parent)[-2:]
    names = {frame_stem(number) for number in range(seq + 1, seq + 1 + ahead)}
    if any((previews / f"{name}.jpg").exists() for name in names):
        return True
    return any(entry.name.partition(".")[0] in names for day in days for entry in entries(day))


def leftovers(directory: Path, shoot: str, camera: str, seq: int, back: int) -> list[Path]:
    """What was being written when the rig ended, `seq` being its last slot: small pictures of the last slots, and
    copies in the folders of the last days. A copy of an older day is written over when it is fetched again."""
    previews = directory / preview_path(shoot, 1, camera).parent
    numbers = range(max(1, seq - back), seq + back)
    small = [previews / f"{frame_stem(number)}.jpg.part" for number in numbers]
    copies = [Path(e.path) for day in _days(previews.parent)[-2:] for e in entries(day) if e.name.endswith(".part")]
    return [path for path in small if path.exists()] + copies


def _days(folder: Path) -> list[Path]:
    return sorted(Path(entry.path) for entry in entries(folder) if _DAY.fullmatch(entry.name))
