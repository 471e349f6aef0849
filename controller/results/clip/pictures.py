"""The pictures that a clip is made of: which file stands for which slot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import Enum
from pathlib import Path
from typing import Literal

from controller.results.cameras import main_camera, only
from controller.results.clip import raw
from controller.results.clip import small as small_pictures
from controller.results.clip.geometry import LONG_EDGE, SAME_SHAPE, SHORT_EDGE
from controller.results.clip.raw import Development
from controller.results.clip.reading import Unreadable
from controller.words.documents import Frame, FrameState
from controller.words.layout import JPEG, preview_path

Source = Literal["auto", "fetched", "embedded", "developed"]
Key = tuple[str, int]
"""Shoot and slot, since a clip may join shoots."""
GONE = "the file is missing"


class Kind(Enum):
    """What is shown of a file; the value, for people, is what one such picture is called."""

    FETCHED = "fetched picture"
    EMBEDDED = "picture from a RAW file"
    DEVELOPED = "developed RAW file"
    PREVIEW = "preview"


@dataclass(frozen=True, slots=True)
class Picture:
    """A slot of the clip and the file that shows it."""

    frame: Frame
    path: Path
    kind: Kind
    how: Development | None = None  # of those that are developed: the same for the whole clip; none: unreadable
    between: float | None = None  # of previews that lie between black bars: width by height of the picture in them

    @property
    def fetched(self) -> bool:
        """Whether it is of a full file; otherwise of the preview."""
        return self.kind is not Kind.PREVIEW


@dataclass(frozen=True, slots=True)
class Chosen:
    """A picture for each slot that has one, in order, and why each other slot has none."""

    camera: str
    slots: list[Frame]
    pictures: list[Picture]
    without: dict[Key, str]
    remarks: list[str]
    other_source: bool = False  # another source has pictures
    stand_ins: dict[Key, Picture] = field(default_factory=dict)  # previews of full files, should these be damaged
    gone: list[Picture] = field(default_factory=list)  # previews in place of files that should be on the rig


def key(frame: Frame) -> Key:
    """Of a slot of one camera."""
    return frame.shoot, frame.seq


def choose(frames: Sequence[Frame], directory: Path, camera: str | None = None, source: Source = "auto") -> Chosen:
    """Full files where most slots have one, with previews between; else previews, with full files between.

    A clip that changes between full files and small pictures every few frames would pulse in sharpness. A full file is
    a fetched JPEG, or else a RAW file: the picture that the body put into it if that is large enough for a clip, or its
    development. A `source` that is named is used alone. The clip is of one camera: see `main_camera`, which raises
    BadInput.
    """
    named, camera = camera is not None, main_camera(frames, camera)
    slots = [frame for frame in frames if frame.camera == camera and frame.state != FrameState.DUE]
    jpegs = {key(frame): path for frame in slots if (path := _file(frame, directory, JPEG)) is not None}
    raws = {key(frame): path for frame in slots if (path := _file(frame, directory, raw.SUFFIXES)) is not None}
    full: dict[Key, tuple[Path, Kind]] = {}
    if source in ("auto", "embedded", "developed") and raws.keys() - (jpegs.keys() if source == "auto" else set()):
        kind = {"embedded": Kind.EMBEDDED, "developed": Kind.DEVELOPED}.get(source) or _best(raws)
        full.update({slot: (path, kind) for slot, path in raws.items()})
    if source in ("auto", "fetched"):
        full.update({slot: (path, Kind.FETCHED) for slot, path in jpegs.items()})
    small: dict[Key, Path] = {}
    if source == "auto":
        small = {key(frame): path for frame in slots if (path := _preview(frame, directory)) is not None}
    prefer_full = 2 * len(full) >= len(full.keys() | small.keys())
    pictures, without, stand_ins, gone = [], {}, {}, []
    for frame in slots:
        slot = key(frame)
        if slot in full and (prefer_full or slot not in small):
            pictures.append(Picture(frame, *full[slot]))
            if slot in small:
                stand_ins[slot] = Picture(frame, small[slot], Kind.PREVIEW)
        elif slot in small:
            pictures.append(Picture(frame, small[slot], Kind.PREVIEW))
            if slot not in full and _why(frame, source) == GONE:
                gone.append(pictures[-1])
        else:
            without[slot] = _why(frame, source)
    remarks = [] if named else only(camera, (frame.camera for frame in frames))
    other_source = not pictures and (bool(jpegs or raws) or any(_preview(frame, directory) for frame in slots))
    previews = [picture.path for picture in pictures if picture.kind is Kind.PREVIEW]
    shape = small_pictures.between(previews or [picture.path for picture in stand_ins.values()])
    if shape is not None:
        stand_ins = {slot: replace(picture, between=shape) for slot, picture in stand_ins.items()}
        pictures = [replace(each, between=shape) if each.kind is Kind.PREVIEW else each for each in pictures]
    return Chosen(camera, slots, _developed(pictures), without, remarks, other_source, stand_ins, gone)


def _developed(pictures: list[Picture]) -> list[Picture]:
    paths = [picture.path for picture in pictures if picture.kind is Kind.DEVELOPED]
    if not paths:
        return pictures
    how = raw.development(paths)
    return [replace(picture, how=how) if picture.kind is Kind.DEVELOPED else picture for picture in pictures]


def _best(raws: Mapping[Key, Path]) -> Kind:
    """Embedded where that picture needs no more than doubling to fill a clip, or the RAW has no more itself.

    And where it has the RAW's shape: DCF's thumbnail may have black bars.
    """
    for path in raws.values():
        try:
            own = raw.shape(path)
            width, height = raw.embedded(path)[1].upright
        except Unreadable:
            continue
        long_edge, short_edge = min(LONG_EDGE, max(own.upright)), min(SHORT_EDGE, min(own.upright))
        fills = 2 * max(width, height) >= long_edge and 2 * min(width, height) >= short_edge
        alike = abs(width / height / (own.upright[0] / own.upright[1]) - 1) < SAME_SHAPE
        return Kind.EMBEDDED if fills and alike else Kind.DEVELOPED
    return Kind.DEVELOPED


def _file(frame: Frame, directory: Path, suffixes: frozenset[str]) -> Path | None:
    """The fetched file of these kinds, of both files of a pair."""
    if frame.local_file is None:
        return None
    first = directory / frame.local_file
    pair = [first]
    if frame.companion_file is not None:
        pair.append(first.with_suffix(Path(frame.companion_file).suffix))
    return next((path for path in pair if path.suffix.lower() in suffixes and path.is_file()), None)


def _preview(frame: Frame, directory: Path) -> Path | None:
    if not frame.preview:
        return None
    path = directory / preview_path(frame.shoot, frame.seq, frame.camera)
    return path if path.is_file() else None


def _why(frame: Frame, source: Source) -> str:
    if frame.state in (FrameState.MISSED, FrameState.LOST):
        return f"{frame.state.value}, {frame.cause}" if frame.cause else frame.state.value
    if frame.local_file is None:
        return "only on the card"
    suffix = Path(frame.local_file).suffix
    kinds = {Path(name).suffix.lower() for name in (frame.local_file, frame.companion_file) if name is not None}
    if frame.rig_freed_utc is not None:
        copies = (frame.copies or "").replace(" ", ", ") or "a second place"
        return f"its file was deleted from the rig, and is in {copies}"
    if source in ("embedded", "developed") and not kinds & raw.SUFFIXES:
        return "has no RAW file"
    if source == "fetched" and not kinds & JPEG:
        return "fetched as RAW only"
    if not kinds & (JPEG | raw.SUFFIXES):
        return f"fetched as {suffix} only, which a clip cannot show"
    return GONE
