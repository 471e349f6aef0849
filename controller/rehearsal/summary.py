"""What a rehearsal comes to, added up frame by frame."""

from __future__ import annotations

from collections import Counter

from controller.decide.exposure import Body
from controller.decide.plan import FollowLight, Plan
from controller.rehearsal.binds import Binds
from controller.words.documents import Frame, FrameState
from controller.words.rehearsal import RehearsalSummary

_THIRD_EV = 1 / 3 + 1e-6


class _Range:
    """Lowest and highest of what was seen."""

    __slots__ = ("high", "low")

    def __init__(self) -> None:
        self.low, self.high = float("inf"), float("-inf")

    def take(self, value: float | None) -> None:
        if value is None:
            return
        if value < self.low:
            self.low = value
        if value > self.high:
            self.high = value

    @property
    def pair(self) -> tuple[float, float] | None:
        return None if self.low > self.high else (self.low, self.high)


class Tally:
    """Fed with every frame in the order of slots."""

    def __init__(self, plan: Plan, body: Body | None, woken: set[int], bytes_per_frame: int) -> None:
        self._plan, self._bytes_per_frame = plan, bytes_per_frame
        self._binds = Binds(plan, body, woken)
        self._missed: Counter[str] = Counter()
        self._spans: dict[str, tuple[float, float]] = {}
        self._furthest_ev = 0.0
        self._furthest_utc: float | None = None
        self._scene = _Range()
        self._frames = self._lost = self._near = 0
        self._start_utc: float | None = None
        self._stop_utc: float | None = None
        self._settings: tuple[float | None, ...] = ()
        self._ranges = _Range(), _Range(), _Range(), _Range()  # interval, shutter, aperture, ISO

    def take(self, frame: Frame) -> None:
        """One row of the log."""
        if self._start_utc is None:
            self._start_utc = frame.due_utc
        self._stop_utc = frame.due_utc + frame.interval_s
        self._binds.take(frame)
        if frame.state is FrameState.MISSED:
            cause = frame.cause or "not known"
            self._missed[cause] += 1
            self._spans[cause] = self._spans.get(cause, (frame.due_utc,))[0], frame.due_utc
            return
        if frame.state is FrameState.LOST:
            self._lost += 1
            return
        self._frames += 1
        settings = frame.interval_s, frame.shutter_s, frame.aperture, frame.iso
        if settings != self._settings:
            self._settings = settings
            for found, value in zip(self._ranges, settings, strict=True):
                found.take(value)
        if frame.exposure_ev is not None and frame.target_ev is not None:
            off_ev = frame.target_ev - frame.exposure_ev
            self._near += abs(off_ev) <= _THIRD_EV
            if abs(off_ev) > abs(self._furthest_ev):
                self._furthest_ev, self._furthest_utc = off_ev, frame.due_utc
        if frame.scene_ev is not None and frame.exposure_ev is not None:
            self._scene.take(frame.scene_ev - frame.exposure_ev)

    def summary(self, windows: int) -> RehearsalSummary:
        """Once all is told."""
        interval, shutter, aperture, iso = (found.pair for found in self._ranges)
        follows = isinstance(self._plan.light, FollowLight)
        return RehearsalSummary(
            plan_name=self._plan.name,
            start_utc=self._start_utc,
            stop_utc=self._stop_utc,
            windows=windows,
            frames=self._frames,
            missed=dict(self._missed.most_common()),
            missed_spans=self._spans,
            lost=self._lost,
            clip_s=round(self._frames / self._plan.releases_per_clip_s, 2),
            interval_s=interval,
            shutter_s=shutter,
            aperture=aperture,
            iso=iso,
            bytes=self._frames * self._bytes_per_frame,
            within_third=round(self._near / self._frames, 4) if self._frames and follows else None,
            furthest_ev=round(self._furthest_ev, 2) if follows and self._furthest_utc is not None else None,
            furthest_utc=self._furthest_utc if follows else None,
            scene_ev=self._scene.pair,
            binds=self._binds.told(),
        )
