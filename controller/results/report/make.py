"""What a shoot came to: planned against got, what is missing and why. Pure: documents in, document out."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
from pydantic import Field

from controller.results.cameras import Share, main_camera, shares
from controller.results.flicker import Flicker, flicker
from controller.results.intervals import one_each, told
from controller.results.report.integrity import Integrity
from controller.words.documents import Document, Frame, FrameCounts, FrameState, Note, Shoot, ShootState
from controller.words.times import Utc

FPS = 25.0  # where the plan says nothing
ROWS = 24  # lines in the table over sun altitude at most
_BINS_DEG = (1.0, 2.0, 5.0, 10.0, 15.0)
_SAME_EV = 0.005  # settings that differ by less are the same


class Run(Document):
    """Slots that follow each other."""

    first_seq: int
    last_seq: int
    first_utc: Utc
    last_utc: Utc
    slots: int


class Gone(Document):
    """All slots that are missing for one cause."""

    cause: str
    slots: int
    runs: list[Run]


class Lateness(Document):
    """Release against due time, of all frames released."""

    frames: int
    p50_ms: float
    p99_ms: float
    max_ms: float
    max_seq: int


class SunRow(Document):
    """Frames while the sun was between two altitudes; medians, and the settings of the middle frame."""

    from_deg: float
    to_deg: float
    rising: bool
    frames: int
    interval_s: float
    shutter_s: float | None = None
    aperture: float | None = None
    iso: float | None = None
    exposure_ev: float | None = None
    scene_ev: float | None = None


class ExposureSteps(Document):
    """Changes of exposure from one frame to the next, or from bracket to bracket."""

    changes: int
    largest_ev: float = 0.0
    largest_seq: int | None = None
    sizes: dict[str, int] = Field(default_factory=dict, description="size in EV, two decimals -> how often")


class Stored(Document):
    """Where the frames are."""

    rig_files: int
    rig_bytes: int
    card_only: int = Field(description="frames that the camera has written and that were not fetched")
    previews: int
    bytes_per_frame: int | None = None


class Report(Document):
    """One shoot, from plan to files."""

    shoot: str
    plan_name: str
    camera: str = Field(description="whose frames all that follows is of; empty where there is none")
    cameras: list[Share] = Field(description="where several cameras shot: what each got")
    state: ShootState
    cause: str | None
    timezone: str | None
    started_utc: Utc | None
    ended_utc: Utc | None
    first_utc: Utc | None = Field(description="the first slot of the log")
    last_utc: Utc | None
    slots: int = Field(description="slots that came due")
    frames_planned: int | None = Field(description="the plan's own count, where it has one")
    unshot_s: float | None = Field(description="time of the window that was left when the shoot ended")
    frames: int = Field(description="released, and not known to be lost")
    counts: FrameCounts = Field(description="slots by state, of all cameras")
    fps: float
    clip_s: float
    clip_frames: str = Field(description="for people: which frames of brackets clip, exposure and brightness go by")
    missed: list[Gone]
    lost: list[Gone]
    lateness: Lateness | None
    over_sun: list[SunRow]
    exposure_steps: ExposureSteps
    brightness: Flicker | None = Field(description="of the frames as exposed, before any steadying")
    stored: Stored
    integrity: Integrity | None = Field(description="none: the files were not read")
    notes: list[Note]


def report(
    shoot: Shoot,
    frames: Sequence[Frame],
    notes: Sequence[Note],
    integrity: Integrity | None = None,
    camera: str | None = None,
) -> Report:
    """All that the log tells of `shoot`; `frames` are all of its slots, in order.

    Of several cameras it is `camera`, or the one with the most frames. Raises BadInput where that one has none.
    """
    each, camera = shares(frames), main_camera(frames, camera)
    frames = [frame for frame in frames if frame.camera == camera]
    released = [frame for frame in frames if frame.state not in (FrameState.MISSED, FrameState.DUE)]
    got = [frame for frame in released if frame.state != FrameState.LOST]
    ours = {frame.seq for frame in got}
    shown = [frame for frame in one_each(shoot, frames) if frame.seq in ours]
    fps = plan_fps(shoot)
    last = frames[-1] if frames else None
    return Report(
        shoot=shoot.id,
        plan_name=shoot.plan_name,
        camera=camera,
        cameras=each,
        state=shoot.state,
        cause=shoot.cause,
        timezone=shoot.plan.get("site", {}).get("timezone"),
        started_utc=shoot.started_utc,
        ended_utc=shoot.ended_utc,
        first_utc=frames[0].due_utc if frames else None,
        last_utc=last.due_utc if last else None,
        slots=len(frames),
        frames_planned=shoot.plan.get("when", {}).get("frames"),
        unshot_s=_unshot_s(shoot, last),
        frames=len(got),
        counts=shoot.counts,
        fps=fps,
        clip_s=len(shown) / fps,
        clip_frames=told(shoot),
        missed=_gone(frames, FrameState.MISSED),
        lost=_gone(frames, FrameState.LOST),
        lateness=_lateness(released),
        over_sun=_over_sun(shown),
        exposure_steps=_steps(shown),
        brightness=flicker(_brightness(shown)),
        stored=_stored(got),
        integrity=integrity,
        notes=list(notes),
    )


def plan_fps(shoot: Shoot) -> float:
    """Frames a second of the clip that the plan wants."""
    return float(shoot.plan.get("clip", {}).get("fps") or FPS)


def runs(frames: Sequence[Frame]) -> list[Run]:
    """Slots, in order, as runs of consecutive numbers."""
    found: list[Run] = []
    for frame in frames:
        if found and frame.seq - found[-1].last_seq in (0, 1):
            old = found[-1]
            update = {"last_seq": frame.seq, "last_utc": frame.due_utc, "slots": old.slots + 1}
            found[-1] = old.model_copy(update=update)
        else:
            found.append(
                Run(first_seq=frame.seq, last_seq=frame.seq, first_utc=frame.due_utc, last_utc=frame.due_utc, slots=1)
            )
    return found


def _gone(frames: Sequence[Frame], state: FrameState) -> list[Gone]:
    by_cause: dict[str, list[Frame]] = defaultdict(list)
    for frame in frames:
        if frame.state == state:
            by_cause[frame.cause or "no cause logged"].append(frame)
    gone = [Gone(cause=cause, slots=len(those), runs=runs(those)) for cause, those in by_cause.items()]
    return sorted(gone, key=lambda each: (-each.slots, each.runs[0].first_seq))


def _unshot_s(shoot: Shoot, last: Frame | None) -> float | None:
    """What was left of the window when the shoot ended; None while it runs or where the window is open-ended."""
    if shoot.ended_utc is None or shoot.stop_utc is None:
        return None
    left = shoot.stop_utc - shoot.ended_utc
    return left if left > (last.interval_s if last else 0) else None


def _lateness(released: Sequence[Frame]) -> Lateness | None:
    late = [(frame.late_ms, frame.seq) for frame in released if frame.late_ms is not None]
    if not late:
        return None
    p50, p99 = np.percentile([ms for ms, _ in late], [50, 99])
    worst, seq = max(late)
    return Lateness(frames=len(late), p50_ms=float(p50), p99_ms=float(p99), max_ms=worst, max_seq=seq)


def _over_sun(frames: Sequence[Frame]) -> list[SunRow]:
    placed = [frame for frame in frames if frame.sun_altitude_deg is not None]
    for width in _BINS_DEG:
        groups: dict[tuple[bool, int], list[Frame]] = defaultdict(list)
        for frame in placed:
            rising = (frame.sun_azimuth_deg or 180.0) < 180  # the sun climbs in the eastern half of the sky
            groups[rising, math.floor((frame.sun_altitude_deg or 0.0) / width)].append(frame)
        if len(groups) <= ROWS:
            break
    return [_sun_row(rising, step * width, width, those) for (rising, step), those in groups.items()]


def _sun_row(rising: bool, from_deg: float, width: float, frames: Sequence[Frame]) -> SunRow:
    middle = frames[len(frames) // 2]
    return SunRow(
        from_deg=from_deg,
        to_deg=from_deg + width,
        rising=rising,
        frames=len(frames),
        interval_s=float(np.median([frame.interval_s for frame in frames])),
        shutter_s=middle.shutter_s,
        aperture=middle.aperture,
        iso=middle.iso,
        exposure_ev=_median(frames, lambda frame: frame.exposure_ev),
        scene_ev=_median(frames, lambda frame: frame.scene_ev),
    )


def _median(frames: Sequence[Frame], value: Callable[[Frame], float | None]) -> float | None:
    known = [given for frame in frames if (given := value(frame)) is not None]
    return float(np.median(known)) if known else None


def _steps(frames: Sequence[Frame]) -> ExposureSteps:
    exposed = [(frame.seq, frame.exposure_ev) for frame in frames if frame.exposure_ev is not None]
    steps = [(ev - before, seq) for (_, before), (seq, ev) in pairwise(exposed)]
    steps = [(step, seq) for step, seq in steps if abs(step) > _SAME_EV]
    if not steps:
        return ExposureSteps(changes=0)
    sizes: dict[str, int] = defaultdict(int)
    for step, _ in steps:
        sizes[f"{abs(step):.2f}"] += 1
    largest, seq = max(steps, key=lambda each: abs(each[0]))
    return ExposureSteps(
        changes=len(steps), largest_ev=abs(largest), largest_seq=seq, sizes=dict(sorted(sizes.items()))
    )


def _brightness(frames: Sequence[Frame]) -> list[float]:
    """log2 of the pictures' luminance against mid grey: what the scene had, less what the settings took away."""
    return [
        frame.scene_ev - frame.exposure_ev
        for frame in frames
        if frame.scene_ev is not None and frame.exposure_ev is not None
    ]


def _stored(frames: Sequence[Frame]) -> Stored:
    there = [frame for frame in frames if frame.local_file is not None and frame.rig_freed_utc is None]
    sizes = [frame.bytes or 0 for frame in there]
    return Stored(
        rig_files=len(sizes),
        rig_bytes=sum(sizes),
        card_only=sum(frame.state == FrameState.WRITTEN for frame in frames),
        previews=sum(frame.preview for frame in frames),
        bytes_per_frame=round(sum(sizes) / len(sizes)) if sizes else None,
    )
