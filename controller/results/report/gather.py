"""A shoot's frames, one by one as the log gives them, into a report: in memory that does not grow with their number."""

from __future__ import annotations

from collections.abc import Sequence

from controller.results.cameras import Share, chosen_camera
from controller.results.intervals import EachInterval, told
from controller.results.report.brightness import Brightness, Track
from controller.results.report.counting import Counting
from controller.results.report.curves import Collector, Curves
from controller.results.report.documents import ClipMade, Report
from controller.results.report.integrity import Integrity
from controller.results.report.lateness import Late
from controller.results.report.over_sun import OverSun
from controller.results.report.steps import Steps
from controller.results.report.storing import Storing
from controller.results.report.tally import Tally
from controller.words.documents import Frame, FrameState, Note, Shoot

POINTS = 1500
"""Points of a drawn curve at most."""

_NO_RELEASE = (FrameState.MISSED, FrameState.DUE)


class _OfCamera:
    """What one camera did."""

    def __init__(self, shoot: Shoot) -> None:
        self.counting, self.late, self.storing = Counting(), Late(), Storing()
        self.over_sun, self.steps, self.brightness = OverSun(), Steps(), Brightness()
        self.curves = Curves()
        self.shown = 0
        self._skew, self._skew_max = Tally(), 0.0
        self._collect = Collector(self.curves, POINTS)
        self.each = EachInterval(shoot, self._show)

    def __call__(self, frame: Frame) -> None:
        self.counting(frame)
        self._collect(frame)
        if frame.skew_ms is not None:
            self._skew.add(abs(frame.skew_ms))
            self._skew_max = max(self._skew_max, abs(frame.skew_ms))
        if frame.state not in _NO_RELEASE:
            self.late(frame)
            self.storing(frame)
        self.each(frame)

    def _show(self, frame: Frame) -> None:
        """A frame that the clip shows."""
        if frame.state in _NO_RELEASE or frame.state is FrameState.LOST:
            return
        self.shown += 1
        self.over_sun(frame)
        self.steps(frame)
        self.brightness(frame)

    def share(self, name: str) -> Share:
        counted = self.counting.all
        share = Share(camera=name, slots=counted.slots, frames=counted.frames, missed=counted.missed, lost=counted.lost)
        if (together := self._skew.count) > 0:
            share.together = together
            share.skew_p50_ms, share.skew_p99_ms = self._skew.percentiles([50, 99])
            share.skew_max_ms = self._skew_max
        return share


class Gatherer:
    """Call it with every slot of `shoot` in order, of all cameras; then ask for the report."""

    def __init__(self, shoot: Shoot) -> None:
        self._shoot = shoot
        self._cameras: dict[str, _OfCamera] = {}

    def __call__(self, frame: Frame) -> None:
        if (of := self._cameras.get(frame.camera)) is None:
            of = self._cameras[frame.camera] = _OfCamera(self._shoot)
        of(frame)

    def report(
        self,
        notes: Sequence[Note],
        integrity: Integrity | None = None,
        camera: str | None = None,
        clips: Sequence[ClipMade] = (),
    ) -> Report:
        """Of several cameras it is of `camera`, or of the one with the most frames. Raises BadInput where that one has
        none. Asked once, after the last frame."""
        return self.drawn(notes, integrity, camera, clips)[0]

    def drawn(
        self,
        notes: Sequence[Note],
        integrity: Integrity | None = None,
        camera: str | None = None,
        clips: Sequence[ClipMade] = (),
    ) -> tuple[Report, Curves, Track]:
        """The same with what is drawn beside it."""
        shoot = self._shoot
        camera = chosen_camera({name: of.counting.all.frames for name, of in self._cameras.items()}, camera)
        of = self._cameras.get(camera) or _OfCamera(shoot)
        for each in self._cameras.values():
            each.each.end()
        names = sorted(self._cameras)
        fps = shoot.fps
        counting = of.counting
        steadied, track = of.brightness.steadied()
        made = Report(
            shoot=shoot.id,
            plan_name=shoot.plan_name,
            camera=camera,
            cameras=[self._cameras[name].share(name) for name in names if len(names) > 1],
            state=shoot.state,
            cause=shoot.cause,
            timezone=shoot.plan.get("site", {}).get("timezone"),
            planned=_planned(shoot),
            started_utc=shoot.started_utc,
            ended_utc=shoot.ended_utc,
            first_utc=counting.first_utc,
            last_utc=counting.last_utc,
            slots=counting.all.slots,
            frames_planned=shoot.plan.get("when", {}).get("frames"),
            unshot_s=_unshot_s(shoot, counting.last_interval_s),
            frames=counting.all.frames,
            counts=shoot.counts,
            stretches=counting.stretches(),
            fps=fps,
            clip_s=of.shown / fps,
            clip_frames=told(shoot),
            missed=counting.missed.groups(),
            lost=counting.lost.groups(),
            lateness=of.late.lateness(),
            over_sun=of.over_sun.rows(),
            exposure_steps=of.steps.steps(),
            brightness=of.brightness.flicker(),
            steadied=steadied,
            clips=list(clips),
            stored=of.storing.stored(),
            integrity=integrity,
            notes=list(notes),
        )
        return made, of.curves, track


def _planned(shoot: Shoot) -> dict[str, str]:
    """The plan's own words, as far as it has them."""
    when, pace, light = (shoot.plan.get(table) or {} for table in ("when", "pace", "light"))
    bracket = " ".join(f"{ev:+g}".replace("+0", "0") for ev in light.get("bracket_ev") or ())
    told = {
        "start": when.get("start"),
        "stop": when.get("stop"),
        "frames": when.get("frames"),
        "duration": when.get("duration"),
        "pace": pace.get("kind"),
        "interval_s": pace.get("interval_s"),
        "light": light.get("kind"),
        "bracket_ev": bracket or None,
        "fetch": (shoot.plan.get("files") or {}).get("fetch"),
    }
    return {name: str(value) for name, value in told.items() if value is not None}


def _unshot_s(shoot: Shoot, last_interval_s: float) -> float | None:
    """What was left of the window when the shoot ended; None while it runs or where the window is open-ended."""
    if shoot.ended_utc is None or shoot.stop_utc is None:
        return None
    left = shoot.stop_utc - shoot.ended_utc
    return left if left > last_interval_s else None
