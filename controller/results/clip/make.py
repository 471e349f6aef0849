"""From the frames of a shoot to a film: two passes, the first over small versions, the second over what is shown.

Whatever the number of frames, only a few pictures are in memory at a time. The film is made in parts that outlive a
kill, a power cut and a full disk: the next make of the same goes on where this one ended.
"""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
from collections import Counter, deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from itertools import islice
from pathlib import Path
from typing import TypeVar

from controller.results.clip import retime
from controller.results.clip.draw import Drawn, Painter
from controller.results.clip.film import Film, check_target, encoder, failed, join, no_room, seek_frames
from controller.results.clip.geometry import Canvas, Shape
from controller.results.clip.looks import Look, Looks, Seen, look_at
from controller.results.clip.memory import check_memory, free_memory, give_back
from controller.results.clip.options import ClipOptions
from controller.results.clip.pictures import GONE, Chosen, Kind, Picture, choose, key
from controller.results.clip.reader import Reader
from controller.results.clip.reading import Unreadable
from controller.results.clip.result import ClipResult, fitted, gaps, nothing, of_each, sources
from controller.results.clip.shots import Shot, Shots, speed
from controller.results.clip.sidecar import write_gains_csv, write_gains_json
from controller.results.clip.work import LOOKS, Part, Work, digest
from controller.results.flicker import flicker
from controller.results.intervals import one_each, told
from controller.words.documents import Frame, Shoot
from controller.words.errors import BadInput, DuskhandError
from controller.words.site_time import zone_of

__all__ = ["ClipResult", "Progress", "make_clip"]

T = TypeVar("T")
R = TypeVar("R")
Progress = Callable[[int, int], None]
_NO_ROOM = "no room was left on the disk"
_SPARE = 512 * 1024  # bytes that a film takes beyond those of its parts


def make_clip(
    shoot: Shoot,
    frames: Sequence[Frame],
    directory: Path,
    out: Path,
    options: ClipOptions,
    progress: Progress = lambda done, of: None,
    *,
    keep_work: bool = False,
) -> ClipResult:
    """Make the film of `frames`, slots of `shoot` (or of several) in order, from files below the rig's `directory`.

    Of a bracket it shows the frame at 0 EV, or the nearest to it. Of several cameras it is the one with the most
    frames, if none is named.
    `progress(done, of)` is called after each picture of the first pass and each frame of the film; what it raises ends
    the work, and the next make of the same goes on there. `keep_work`: so that a longer film of the same pictures can.
    Raises BadInput (no pictures, a target that cannot be written, a film too slow or small, this one is being made) and
    DuskhandError("clip-failed") where writing fails at once; then `out` is as it was. Where the disk takes no more
    later on, there is a film of what is there: the result says so.
    """
    chosen = check_clip(shoot, frames, directory, options)
    check_target(out)
    give_back()
    with contextlib.ExitStack() as stack:
        work = stack.enter_context(Work(out))
        pool = stack.enter_context(ThreadPoolExecutor(_workers(options), thread_name_prefix="clip"))
        made = _Make(shoot, chosen, options, out, work, pool, progress)
        try:
            result = made.film()
        except BadInput:
            work.remove()
            raise
        if result.unfinished is None and not keep_work:
            work.remove()
    return result


def check_clip(shoot: Shoot, frames: Sequence[Frame], directory: Path, options: ClipOptions) -> Chosen:
    """The pictures of such a film, as far as the log and the files' names tell.

    Raises BadInput where there are none, or the film would be too slow.
    """
    chosen = choose(one_each(shoot, frames), directory, options.camera, options.source)
    if not chosen.pictures:
        raise nothing(shoot, chosen)
    if options.retime != "off":
        retime.check(*speed([picture.frame for picture in chosen.pictures], options))
    return chosen


class _Make:
    def __init__(
        self,
        shoot: Shoot,
        chosen: Chosen,
        options: ClipOptions,
        out: Path,
        work: Work,
        pool: ThreadPoolExecutor,
        progress: Progress,
    ) -> None:
        self._shoot, self._chosen, self._options, self._out = shoot, chosen, options, out
        self._work, self._pool, self._progress = work, pool, progress
        self._reader = Reader()
        self._without, self._remarks = dict(chosen.without), list(chosen.remarks)
        self._several = len({frame.shoot for frame in chosen.slots}) > 1
        self._remarks += of_each(chosen.gone, f"{GONE}; its preview is shown", self._several)
        self._done, self._total = 0, 2 * len(chosen.pictures)

    def film(self) -> ClipResult:
        with contextlib.ExitStack() as stack:
            kept = None
            if self._options.steady != "off":
                kept = stack.enter_context(Looks(self._work.directory / LOOKS))
            looks = list(self._first_pass(kept))
            if not looks:
                raise nothing(self._shoot, self._chosen)
            reference = Counter(look.shape for look in looks).most_common(1)[0][0]
            self._remarks += fitted(looks, reference)
            canvas = Canvas.of(reference, self._options)
            canvas.check()
            short = check_memory(canvas.size, self._options.codec, self._options.bits, free_memory())
            self._remarks += [*canvas.remarks, *([short] if short else [])]
            shots = Shots(self._shoot, looks, kept, canvas, self._options)
            self._remarks += shots.remarks
            self._total = self._done + len(shots)
            parts, failure = self._second_pass(looks, canvas, shots)
        out, parts, failure = self._joined(parts, failure)
        if failure is None:
            self._keep_gains(out, shots)
        return self._told(out, looks, canvas, shots, [part for _, part in parts], failure)

    def _first_pass(self, kept: Looks | None) -> Iterator[Look]:
        def see(item: tuple[Picture, Look | None]) -> Look | Seen | Shape:
            picture, look = item
            if look is not None:
                return look
            return look_at(self._reader, picture) if kept else self._reader.shape(picture)

        known = ((picture, kept.find(picture) if kept else None) for picture in self._chosen.pictures)
        for (picture, _), found in _ahead(self._pool, see, known):
            seen, shown = found, picture
            if isinstance(found, Unreadable) and (small := self._chosen.stand_ins.get(key(picture.frame))) is not None:
                with contextlib.suppress(Unreadable):  # where neither can be read the full file is told of
                    seen, shown = see((small, kept.find(small) if kept else None)), small
            if isinstance(seen, Unreadable):
                self._left_out(picture, str(seen))
            else:
                if shown is not picture:
                    self._remarks += of_each([picture], f"{found}; its preview is shown", self._several)
                if isinstance(seen, Look):
                    yield seen
                elif isinstance(seen, Shape):
                    yield Look.unmeasured(shown, seen)
                elif kept is not None:
                    yield kept.add(shown, seen)
            self._step()
        if kept:
            kept.keep()

    def _second_pass(
        self, looks: Sequence[Look], canvas: Canvas, shots: Shots
    ) -> tuple[list[tuple[str, Part]], DuskhandError | None]:
        """The parts that could be made, by name, and what ended the work early."""
        pictures = [look.picture for look in looks]
        painter = Painter(self._reader, pictures, canvas, self._options)
        made: list[tuple[str, Part]] = []
        several = iter(shots)
        while some := list(islice(several, 2 * seek_frames(self._options.fps))):
            name = digest([encoder(self._options), shots.recipe(some)])
            part = self._work.find(name)
            if part is not None:
                self._step(len(some))
            else:
                try:
                    self._check_room([name for name, _ in made])
                    part = self._encode(name, some, painter, canvas)
                except DuskhandError as error:
                    if not no_room(error):
                        raise
                    return made, error
            made.append((name, part))
        self._work.clear({name for name, _ in made})
        return made, None

    def _encode(self, name: str, shots: Sequence[Shot], painter: Painter, canvas: Canvas) -> Part:
        part = Part(frames=0, levels=[], before=[], shown=[], lost={})
        shown: dict[int, None] = {}
        with contextlib.ExitStack() as stack:
            film = None
            for shot, drawn in _ahead(self._pool, painter.draw, shots):
                if isinstance(drawn, Drawn):
                    if film is None:
                        film = stack.enter_context(Film(self._work.film(name), canvas.size, self._options))
                    film.add(drawn.frame)
                    part.frames += 1
                    part.levels.append(round(drawn.level, 5))
                    part.before.append(round(drawn.before, 5))
                    shown.update(dict.fromkeys(drawn.shown))
                    part.lost.update(drawn.lost)
                else:
                    part.lost.update({layer.place: str(drawn) for layer in shot.layers})
                self._step()
            part.shown.extend(shown)
            self._work.note(name, part)
        return part

    def _check_room(self, names: Sequence[str]) -> None:
        """Ends the work while the parts that are there can still be joined. Raises DuskhandError('clip-failed')."""
        if not names:
            return
        sizes = [path.stat().st_size for name in names if (path := self._work.film(name)).exists()]
        free, wanted = shutil.disk_usage(self._out.parent).free, sum(sizes) + 2 * max(sizes, default=0) + _SPARE
        if free < wanted:
            error = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            raise failed(error, self._out) from error

    def _joined(
        self, parts: list[tuple[str, Part]], failure: DuskhandError | None
    ) -> tuple[Path, list[tuple[str, Part]], DuskhandError | None]:
        """The film of these parts, or of as many of the first as the disk takes; a whole old film stays as it is.

        What an earlier try left unfinished is ours to replace, and stands where the disk takes no longer one.
        """
        out, left = self._out, self._work.unfinished()
        stands = left.parts if left is not None else []
        while films := [(self._work.film(name), part.frames) for name, part in parts if part.frames]:
            names = [name for name, _ in parts]
            if failure is not None and left is not None and stands == names[: len(stands)]:
                if stands == names:
                    return left.out, parts, failure
                out = left.out
            elif failure is not None and out == self._out and out.exists():
                out = out.with_stem(f"{out.stem}-unfinished")
            try:
                join(films, out, self._options.fps, self._shoot.plan_name)
                if failure is not None:
                    self._work.keep_unfinished(out, names)
                return out, parts, failure
            except DuskhandError as error:
                if not no_room(error):
                    raise
                failure = failure or error
                if stands and stands == names[: len(stands)]:
                    parts = parts[: len(stands)]
                    continue
                half = len(parts) // 2
                for name, _ in parts[half:]:  # room for the rest of them
                    self._work.film(name).unlink(missing_ok=True)
                parts = parts[:half]
        raise failure or nothing(self._shoot, self._chosen)

    def _keep_gains(self, out: Path, shots: Shots) -> None:
        """For other programs, beside the film; of one shoot, since they go by its slots. Those of an older film go."""
        rows, shoots = shots.gains(), {slot.shoot for slot in self._chosen.slots}
        for suffix in (".gains.json", ".gains.csv"):
            try:
                out.with_suffix(suffix).unlink(missing_ok=True)
            except OSError as error:
                self._remarks.append(f"{out.with_suffix(suffix)} is of an older film: {error.strerror}")
        if not rows or len(shoots) > 1:
            return
        try:
            write_gains_json(out.with_suffix(".gains.json"), self._shoot.id, rows, camera=self._chosen.camera)
            write_gains_csv(out.with_suffix(".gains.csv"), self._shoot.id, rows)
        except DuskhandError as error:  # there is a film all the same
            self._remarks.append(str(error))

    def _told(
        self,
        out: Path,
        looks: Sequence[Look],
        canvas: Canvas,
        shots: Shots,
        parts: Sequence[Part],
        failure: DuskhandError | None,
    ) -> ClipResult:
        places = sorted({place for part in parts for place in part.shown})
        for place, why in {place: why for part in parts for place, why in part.lost.items()}.items():
            self._left_out(looks[place].picture, why)
        if failure is not None:
            for look in looks[places[-1] + 1 :]:
                self._without.setdefault(key(look.picture.frame), _NO_ROOM)
        levels = [level for part in parts for level in part.levels]
        source, counts = sources(looks[place].picture for place in places)
        return ClipResult(
            out=str(out),
            width=canvas.size[0],
            height=canvas.size[1],
            frames=len(levels),
            fps=self._options.fps,
            codec=self._options.codec,
            bits=self._options.bits,
            duration_s=len(levels) / self._options.fps,
            bytes=out.stat().st_size,
            source=", ".join(filter(None, (source, told(self._shoot)))),
            from_fetched=counts[Kind.FETCHED],
            from_embedded=counts[Kind.EMBEDDED],
            from_developed=counts[Kind.DEVELOPED],
            from_previews=counts[Kind.PREVIEW],
            gaps=gaps(self._chosen.slots, self._without, zone_of(self._shoot.plan.get("site", {}).get("timezone"))),
            remarks=[*self._remarks, *self._reader.remarks],
            steadied=self._options.steady != "off",
            largest_gain_ev=shots.largest_gain_ev,
            before=flicker([level for part in parts for level in part.before]),
            after=flicker(levels),
            unfinished=failure.what if failure is not None else None,
        )

    def _left_out(self, picture: Picture, why: str) -> None:
        self._without[key(picture.frame)] = why
        self._remarks += of_each([picture], f"{why}; left out", self._several)

    def _step(self, count: int = 1) -> None:
        self._done += count
        self._progress(self._done, max(self._total, self._done))


def _workers(options: ClipOptions) -> int:
    """Pictures that are worked on at a time: one of 24 megapixels takes 30 MB, a frame of ten bits as much again."""
    return 2 if options.bits == 10 else min(max(os.cpu_count() or 2, 2), 3)


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
