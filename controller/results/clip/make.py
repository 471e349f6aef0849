"""From the frames of a shoot to a film: two passes, the first over small versions, the second over what is shown.

Whatever the number of frames, only a few pictures are in memory at a time.
"""

from __future__ import annotations

import math
import os
from collections import Counter, deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import numpy as np
from pydantic import Field

from controller.results.clip.film import Film, check_target
from controller.results.clip.geometry import Canvas, Shape
from controller.results.clip.pictures import Chosen, Key, Picture, choose, key
from controller.results.clip.reader import Reader
from controller.results.clip.reading import Unreadable
from controller.results.clip.steady import steady as steady_track
from controller.results.clip.tone import Bytes, Dither, Shares, gain_for, histogram, log2_luminance
from controller.results.flicker import Flicker, flicker
from controller.results.intervals import one_each, told
from controller.results.report.text import clock, counted
from controller.words.documents import Document, Frame, Shoot
from controller.words.errors import BadInput

T = TypeVar("T")
R = TypeVar("R")
Progress = Callable[[int, int], None]
_MEASURED_EDGE = 200  # pixels that are enough to know how light a picture is


class Gap(Document):
    """Slots in a row that the clip does not show."""

    slots: int
    first_seq: int
    last_seq: int
    text: str = Field(description="for people: how many, between which frames that are shown, and why")


class ClipResult(Document):
    """A film that was made."""

    out: str
    width: int
    height: int
    frames: int
    fps: float
    duration_s: float
    bytes: int
    source: str = Field(description="for people: what the pictures are")
    from_fetched: int
    from_previews: int
    gaps: list[Gap]
    remarks: list[str] = Field(description="for people: pictures that were left out or had to be fitted, one each")
    steadied: bool
    largest_gain_ev: float = 0.0
    before: Flicker | None = Field(description="of the pictures as they were")
    after: Flicker | None = Field(description="of the frames as they went to the encoder")


@dataclass(frozen=True, slots=True)
class _Look:
    picture: Picture
    shape: Shape
    shares: Shares | None  # none where nothing is to be steadied


def make_clip(
    shoot: Shoot,
    frames: Sequence[Frame],
    directory: Path,
    out: Path,
    fps: float,
    steady: bool,
    progress: Progress = lambda done, of: None,
    camera: str | None = None,
) -> ClipResult:
    """Make the film of `frames`, all slots of `shoot` in order, from files below the rig's `directory`.

    Of a bracket it shows the frame at 0 EV, or the nearest to it. Of several cameras it is `camera`, or the one with
    the most frames.
    `progress(done, of)` is called after each picture of both passes; what it raises ends the work. Raises BadInput (no
    pictures, a target that cannot be written) and DuskhandError("clip-failed") where writing fails; either way `out`
    is as it was.
    """
    chosen = choose(one_each(shoot, frames), directory, camera)
    without, remarks = dict(chosen.without), list(chosen.remarks)
    if not chosen.pictures:
        raise _nothing(shoot, chosen)
    check_target(out)
    total = 2 * len(chosen.pictures)
    reader = Reader(chosen.pictures)

    def look_at(picture: Picture) -> _Look:
        return _look(reader, picture, steady)

    with ThreadPoolExecutor(max(2, os.cpu_count() or 2), thread_name_prefix="clip") as pool:
        looks = []
        for number, (picture, look) in enumerate(_ahead(pool, look_at, chosen.pictures), 1):
            if isinstance(look, _Look):
                looks.append(look)
            else:
                _left_out(picture, look, without, remarks)
            progress(number, total)
        if not looks:
            raise _nothing(shoot, chosen)
        reference = Counter(look.shape for look in looks).most_common(1)[0][0]
        remarks += _fitted(looks, reference)
        canvas = Canvas.of(reference)
        size = canvas.size
        gains = _gains(looks)
        dither = Dither(*size)
        sparse = max(1, min(size) // _MEASURED_EDGE)
        shown, levels = [], []

        def draw(place: int) -> Bytes:
            image = reader.decode(looks[place].picture, canvas).image()
            return dither.apply(image, gains[place], place) if steady else np.asarray(image)

        with Film(out, *size, fps, shoot.plan_name) as film:
            for place, pixels in _ahead(pool, draw, range(len(looks))):
                look = looks[place]
                if isinstance(pixels, Unreadable):
                    _left_out(look.picture, pixels, without, remarks)
                else:
                    film.add(pixels)
                    shown.append(look)
                    levels.append(log2_luminance(histogram(pixels[::sparse, ::sparse])))
                progress(len(chosen.pictures) + place + 1, total)
            if not shown:
                raise _nothing(shoot, chosen)
    after = flicker(levels)
    fetched = sum(look.picture.fetched for look in shown)
    return ClipResult(
        out=str(out),
        width=size[0],
        height=size[1],
        frames=len(shown),
        fps=fps,
        duration_s=len(shown) / fps,
        bytes=out.stat().st_size,
        source=", ".join(filter(None, (_source(fetched, len(shown) - fetched), told(shoot)))),
        from_fetched=fetched,
        from_previews=len(shown) - fetched,
        gaps=gaps(chosen.slots, without),
        remarks=remarks + reader.remarks,
        steadied=steady,
        largest_gain_ev=max(abs(math.log2(gain)) for gain in gains),
        before=flicker([log2_luminance(look.shares) for look in shown if look.shares is not None]) or after,
        after=after,
    )


def gaps(slots: Sequence[Frame], without: dict[Key, str]) -> list[Gap]:
    """Slots of one camera, in order, that have no picture, as runs; `without` says why."""
    found: list[list[int]] = []
    for place, frame in enumerate(slots):
        if key(frame) in without:
            if found and found[-1][-1] == place - 1:
                found[-1].append(place)
            else:
                found.append([place])
    return [_gap(slots, without, run) for run in found]


def _gap(slots: Sequence[Frame], without: dict[Key, str], run: list[int]) -> Gap:
    first, last = run[0], run[-1]
    count = f"{len(run)} frame{'s' * (len(run) != 1)} missing"
    if first > 0 and last + 1 < len(slots):
        when = f"between {clock(slots[first - 1].due_utc)} and {clock(slots[last + 1].due_utc)}"
    elif last + 1 < len(slots):
        when = f"before {clock(slots[last + 1].due_utc)}"
    else:
        when = f"from {clock(slots[first].due_utc)} on"
    causes = dict.fromkeys(without[key(slots[place])] for place in run)
    text = f"{count} {when} ({'; '.join(causes)})"
    return Gap(slots=len(run), first_seq=slots[first].seq, last_seq=slots[last].seq, text=text)


def _look(reader: Reader, picture: Picture, measure: bool) -> _Look:
    if not measure:
        return _Look(picture, reader.shape(picture), None)
    shape, small = reader.look(picture, _MEASURED_EDGE)
    return _Look(picture, shape, histogram(np.asarray(small)))


def _gains(looks: Sequence[_Look]) -> list[float]:
    """One for each frame; 1 for those that were not measured."""
    shares = [look.shares for look in looks if look.shares is not None]
    if len(shares) < len(looks):
        return [1.0] * len(looks)
    known = [look.picture.frame.exposure_ev for look in looks]
    measured = np.array([log2_luminance(each) for each in shares])
    track = steady_track(measured, np.array([math.nan if ev is None else ev for ev in known]))
    return [gain_for(each, float(change)) for each, change in zip(shares, track.gain, strict=True)]


def _ahead(
    pool: ThreadPoolExecutor, work: Callable[[T], R], items: Iterable[T], depth: int = 3
) -> Iterator[tuple[T, R | Unreadable]]:
    """Each item with what `work` made of it, in order; at most `depth` are worked on or wait at a time."""
    waiting: deque[tuple[T, Future[R]]] = deque()

    def result(future: Future[R]) -> R | Unreadable:
        try:
            return future.result()
        except Unreadable as error:
            return error

    for item in items:
        waiting.append((item, pool.submit(work, item)))
        if len(waiting) >= depth:
            first, future = waiting.popleft()
            yield first, result(future)
    while waiting:
        first, future = waiting.popleft()
        yield first, result(future)


def _left_out(picture: Picture, why: Unreadable, without: dict[Key, str], remarks: list[str]) -> None:
    without[key(picture.frame)] = str(why)
    remarks.append(f"frame {picture.frame.seq}, {picture.path.name}: {why}; left out")


def _fitted(looks: Sequence[_Look], reference: Shape) -> list[str]:
    lines = []
    any_fetched = any(look.picture.fetched for look in looks)  # a preview beside full files is smaller as a rule
    for look in looks:
        own, name = look.shape, f"frame {look.picture.frame.seq}, {look.picture.path.name}"
        if (own.width, own.height) != (reference.width, reference.height):
            if look.picture.fetched or not any_fetched:
                lines.append(f"{name}: {own} pixels instead of {reference}; fitted")
        elif own.orientation != reference.orientation:
            lines.append(f"{name}: its Exif says that the camera was turned; shown as the others")
    return lines


def _source(fetched: int, previews: int) -> str:
    if not previews:
        return counted(fetched, "fetched picture")
    if not fetched:
        return f"{counted(previews, 'preview')}, since no full picture was fetched"
    return (
        f"{counted(fetched, 'fetched picture')} and {counted(previews, 'preview')}, where no full picture was fetched"
    )


def _nothing(shoot: Shoot, chosen: Chosen) -> BadInput:
    if not chosen.slots:
        remedy = "Wait for the first one; `duskhand shoots` tells how each shoot stands"
        return BadInput("no-pictures", "no frame has been released yet", shoot.id, remedy)
    if chosen.pictures:
        what = f"of {counted(len(chosen.pictures), 'picture')} none can be read"
    else:
        what = f"of {counted(len(chosen.slots), 'frame')} none has a JPEG or a preview on the rig"
    return BadInput("no-pictures", what, shoot.id, 'Have the plan fetch them: fetch = "preview" or "all" in [files]')
