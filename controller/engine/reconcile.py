"""Which files on the card belong to which slots, when nobody was watching. Pure."""

from __future__ import annotations

import statistics
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import PurePosixPath

from controller.camera.messages import CardFile
from controller.words.documents import Frame
from controller.words.layout import JPEG

CLOCK_SLACK_S = 3.0
"""File times have a resolution of 1 s (2 s on FAT), and stand for the start or the end of writing."""

NEIGHBOURS = 5
"""Frames on either side from which it is known how the camera's clock stands."""


@dataclass(frozen=True, slots=True)
class Shot:
    """One frame on the card: one file, or a RAW+JPEG pair with the JPEG first."""

    files: tuple[CardFile, ...]

    @property
    def paths(self) -> list[str]:
        return [file.path for file in self.files]

    @property
    def mtime_utc(self) -> float | None:
        return next((file.mtime_utc for file in self.files if file.mtime_utc is not None), None)


@dataclass(frozen=True, slots=True)
class Reconciled:
    """`matched` maps a slot's number to its shot; `unclaimed` slots have none; `unknown` shots have no slot."""

    matched: dict[int, Shot] = field(default_factory=dict)
    unclaimed: list[int] = field(default_factory=list)
    unknown: list[Shot] = field(default_factory=list)


def paths_of(rows: Iterable[Frame]) -> set[str]:
    """Paths on the card that rows name, both of a pair."""
    return {path for row in rows for path in (row.camera_file, row.companion_file) if path}


def shots(files: Sequence[CardFile], known: Collection[str], after: str | None) -> list[Shot]:
    """New frames on the card in the order of their names, pairs kept together.

    Files in `known`, and those whose name is not beyond `after` (the last file before the shoot began), are left
    out. Cameras number files upwards and open a new folder, numbered upwards too, when the count is full (DCF,
    CIPA DC-009 section 3), so the order of paths is the order of exposures.
    """
    groups: dict[str, list[CardFile]] = {}
    last = str(PurePosixPath(after).with_suffix("")) if after else ""
    for file in files:
        stem = str(PurePosixPath(file.path).with_suffix(""))
        if file.path in known or stem <= last:
            continue
        groups.setdefault(stem, []).append(file)
    return [
        Shot(tuple(sorted(groups[stem], key=lambda f: PurePosixPath(f.path).suffix.lower() not in JPEG)))
        for stem in sorted(groups)
    ]


def halves(rows: Sequence[Frame], files: Sequence[CardFile]) -> dict[int, list[str]]:
    """Pairs of which `rows` have one file only: both paths by slot, the JPEG first."""
    alone = {row.camera_file: row.seq for row in rows if row.camera_file and row.companion_file is None}
    pairs = [shot.paths for shot in shots(files, (), None) if len(shot.files) > 1] if alone else []
    return {alone[path]: paths for paths in pairs for path in paths if path in alone}


def clock_offset_s(frames: Sequence[Frame], files: Sequence[CardFile]) -> float | None:
    """Camera's clock minus rig's, seconds: the median over frames whose file is known; None where none is."""
    offsets = _offsets(frames, {file.path: file.mtime_utc for file in files})
    return statistics.median(offsets) if offsets else None


def offset_near(seqs: Collection[int], rows: Sequence[Frame], files: Sequence[CardFile]) -> float | None:
    """The same by the nearest rows before and after some slots; None, too, where either clock was put in between."""
    mtimes = {file.path: file.mtime_utc for file in files}
    ordered = sorted(rows, key=lambda row: row.seq)
    before = _offsets([row for row in ordered if row.seq < min(seqs)], mtimes)[-NEIGHBOURS:]
    after = _offsets([row for row in ordered if row.seq > max(seqs)], mtimes)[:NEIGHBOURS]
    if before and after and abs(statistics.median(before) - statistics.median(after)) > 2 * CLOCK_SLACK_S:
        return None
    return statistics.median([*before, *after]) if before or after else None


def _offsets(frames: Sequence[Frame], mtimes: Mapping[str, float | None]) -> list[float]:
    return [
        mtime - frame.released_utc - (frame.shutter_s or 0.0)
        for frame in frames
        if frame.camera_file and frame.released_utc is not None and (mtime := mtimes.get(frame.camera_file)) is not None
    ]


def match(frames: Sequence[Frame], found: Sequence[Shot], clock_offset_s: float | None) -> Reconciled:
    """Give `found` shots to slots without a file, both in their order.

    A shot goes to the first slot whose exposure, by the camera's clock (`clock_offset_s`: camera minus rig), may have
    begun or ended at its file time. Shots of later times are left alone: they belong to frames still in hand. Where
    the offset or the file times are not known, order alone decides.
    """
    slots = sorted(frames, key=lambda frame: frame.seq)
    if clock_offset_s is None or any(shot.mtime_utc is None for shot in found):
        pairs = list(zip(slots, found, strict=False))
        return Reconciled(
            {frame.seq: shot for frame, shot in pairs},
            [frame.seq for frame in slots[len(pairs) :]],
            list(found[len(pairs) :]),
        )
    result = Reconciled()
    rest = [shot for shot in found if _time(shot, clock_offset_s) <= max(map(_latest, slots), default=0.0)]
    for frame in slots:
        fits = [frame.at_utc - CLOCK_SLACK_S <= _time(shot, clock_offset_s) <= _latest(frame) for shot in rest]
        if True in fits:
            i = fits.index(True)
            result.matched[frame.seq] = rest[i]
            result.unknown.extend(rest[:i])
            del rest[: i + 1]
        else:
            result.unclaimed.append(frame.seq)
    result.unknown.extend(rest)
    return result


def match_between(
    frames: Sequence[Frame], rows: Sequence[Frame], found: Sequence[Shot], files: Sequence[CardFile]
) -> Reconciled:
    """As `match`, but a slot is given only what stands on the card between the files of its neighbours in `rows`.

    How the camera's clock stands is known from those neighbours too, by the times of all `files`: in a shoot of weeks
    either clock may have been put since its first frame.

    Where intervals are shorter than file times are true, times alone would give a slot that was never released the
    shot of one that came seconds later.
    """
    named = sorted((row.seq, row.camera_file) for row in rows if row.camera_file)
    groups: dict[str | None, list[Frame]] = {}
    for frame in sorted(frames, key=lambda frame: frame.seq):
        groups.setdefault(next((path for seq, path in named if seq > frame.seq), None), []).append(frame)
    result = Reconciled()
    for after, group in groups.items():
        before = max((path for seq, path in named if seq < group[0].seq), default="")
        mine = [shot for shot in found if before < shot.paths[0] and (after is None or shot.paths[0] < after)]
        part = match(group, mine, offset_near([frame.seq for frame in group], rows, files))
        result.matched.update(part.matched)
        result.unclaimed.extend(part.unclaimed)
        result.unknown.extend(part.unknown)
    return result


def _time(shot: Shot, clock_offset_s: float) -> float:
    return (shot.mtime_utc or 0.0) - clock_offset_s


def _latest(frame: Frame) -> float:
    return frame.at_utc + (frame.shutter_s or 0.0) + max(CLOCK_SLACK_S, frame.interval_s / 2)
