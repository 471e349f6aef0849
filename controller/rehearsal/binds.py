"""Where limits, interval, card and sleep stand in the way: found frame by frame, told as stretches of time."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from controller.camera.messages import STORE_FULL
from controller.decide.bracket import room_s
from controller.decide.exposure import Body, Triple
from controller.decide.plan import FollowLight, Plan
from controller.decide.reach import reach_of
from controller.decide.step import Adjust
from controller.words.brackets import index_of, middle_index
from controller.words.documents import Frame, FrameState
from controller.words.phrases import at_least, count, signed
from controller.words.rehearsal import Bind, BindKind
from controller.words.stops import aperture_label, iso_label, shutter_time

JOIN_S = 600.0
"""Stretches of one kind that are no further apart than this, or than three intervals, are told as one."""

NOTICEABLE_EV = 0.5
"""More than steps of a third and hysteresis put between picture and target."""

MOST_BINDS = 500

_NEAR = 1e-3
_STARS_DEG = -9.0  # the sun's altitude at which stars are in the picture: common practice, no source


@dataclass(slots=True)
class _Stretch:
    kind: BindKind
    first: Frame
    last: Frame
    frames: int = 0
    worst_ev: float = 0.0
    interval_s: float = 0.0  # of the last frame where the interval binds
    shutter_s: float = 0.0
    stretched: bool = False
    at_first: tuple[float, float] = (0.0, 0.0)  # interval and shutter, seconds


class Binds:
    """Fed with every frame of a rehearsal in the order of slots; `woken` are slots for which the camera had to wake."""

    def __init__(self, plan: Plan, body: Body | None, woken: set[int]) -> None:
        self._plan, self._woken = plan, woken
        self._offsets, self._metering = plan.light.offsets, middle_index(plan.light.offsets)
        self._last = len(self._offsets) - 1
        self._follows = isinstance(plan.light, FollowLight)
        self._reach = reach_of(plan, Adjust(), body)
        self._darkest, self._brightest = self._reach.darkest, self._reach.brightest
        self._open: dict[BindKind, _Stretch] = {}
        self._closed: list[_Stretch] = []
        self._cycle_s = self._exposed_s = 0.0
        self._before_s: float | None = None
        self._base: Frame | None = None
        self._first_utc = self._last_utc = 0.0
        self._settings: tuple[float | None, ...] = ()  # of the last interval, and what binds at them
        self._bound: list[BindKind] = []
        self._all_given = False

    def take(self, frame: Frame) -> None:
        """One row of the log."""
        if not self._first_utc:
            self._first_utc = frame.due_utc
        self._last_utc = frame.due_utc
        if frame.cause == STORE_FULL:
            self._note("card", frame)
        elif frame.seq in self._woken:
            self._woken.discard(frame.seq)
            self._note("sleep", frame)
        if frame.shutter_s is None:
            return
        index = index_of(frame.seq, self._offsets) if len(self._offsets) > 1 else 0
        if index == 0:
            self._cycle_s = self._exposed_s = 0.0
            self._base = None
        self._cycle_s += frame.interval_s
        self._exposed_s += frame.shutter_s
        if index == self._metering:
            self._base = frame
        if index == self._last and self._base is not None:
            self._judge(self._base)

    def _judge(self, base: Frame) -> None:
        """One interval, of one frame or a bracket."""
        cycle_s, before_s, self._before_s = self._cycle_s, self._before_s, self._cycle_s
        if before_s is not None and base.seq > len(self._offsets):
            most = 1 + self._plan.pace.max_change - _NEAR
            if cycle_s > before_s * most or before_s > cycle_s * most:
                self._note("change", base)
        if not self._follows or base.state is FrameState.MISSED:
            return
        settings = cycle_s, self._exposed_s, base.shutter_s, base.aperture, base.iso
        if settings != self._settings:
            self._settings = settings
            self._bound, self._all_given = self._limits_of(base, cycle_s)
        for kind in self._bound:
            stretch = self._note(kind, base)
            if kind == "interval":
                stretch.interval_s, stretch.shutter_s = cycle_s, base.shutter_s or 0.0
                if stretch.frames == 1:
                    stretch.at_first = cycle_s, base.shutter_s or 0.0
                stretch.stretched = self._stretched(cycle_s)
        self._judge_light(base, self._all_given)

    def _limits_of(self, base: Frame, cycle_s: float) -> tuple[list[BindKind], bool]:
        """What binds at these settings, and whether there is no more light to be had."""
        darkest, brightest = self._darkest, self._brightest
        if base.shutter_s is None or base.aperture is None or base.iso is None:
            return [], False
        bound: list[BindKind] = []
        longest = base.shutter_s > darkest.shutter_s * (1 - _NEAR)
        widest = base.aperture < darkest.aperture * (1 + _NEAR)
        fastest = base.iso > darkest.iso * (1 - _NEAR)
        used = Triple(base.shutter_s, base.aperture, base.iso, base.exposure_ev or 0.0)
        if self._reach.outgrown(used, self._exposed_s, self._room_s(cycle_s)):
            if self._reach.gives_way(used) or self._stretched(cycle_s):
                bound.append("interval")
            longest = not self._stretched(cycle_s)
        elif longest and brightest.shutter_s < darkest.shutter_s:
            bound.append("shutter")
        if fastest and brightest.iso < darkest.iso:
            bound.append("iso")
        if widest and brightest.aperture > darkest.aperture:
            bound.append("aperture")
        return bound, longest and widest and fastest

    def _stretched(self, cycle_s: float) -> bool:
        """Whether the interval may grow further where it has no room."""
        stretch_s = self._plan.pace.stretch_to_s
        return stretch_s is not None and cycle_s < stretch_s - 0.01

    def _judge_light(self, base: Frame, all_given: bool) -> None:
        if base.exposure_ev is None or base.target_ev is None:
            return
        over_ev = base.target_ev - base.exposure_ev
        bound = all_given if over_ev < 0 else base.exposure_ev > self._brightest.ev - _NEAR
        if bound and abs(over_ev) >= NOTICEABLE_EV:
            stretch = self._note("light", base)
            if abs(over_ev) > abs(stretch.worst_ev):
                stretch.worst_ev = over_ev

    def _room_s(self, cycle_s: float) -> float:
        return room_s(cycle_s, self._plan.pace.min_gap_s, self._offsets)

    def _note(self, kind: BindKind, frame: Frame) -> _Stretch:
        stretch = self._open.get(kind)
        if stretch is None or frame.due_utc - stretch.last.due_utc > max(JOIN_S, 3 * stretch.last.interval_s):
            if stretch is not None:
                self._close(stretch)
            stretch = self._open[kind] = _Stretch(kind, frame, frame)
        stretch.last = frame
        stretch.frames += 1
        return stretch

    def _close(self, stretch: _Stretch) -> None:
        if len(self._closed) < MOST_BINDS:
            self._closed.append(stretch)

    def told(self) -> list[Bind]:
        """All that was found, in order of time."""
        stretches = [*self._closed, *self._open.values()]
        return [self._told(s) for s in sorted(stretches, key=lambda s: (s.first.due_utc, s.kind))]

    # ---- in words

    def _told(self, stretch: _Stretch) -> Bind:
        text, remedy = getattr(self, f"_say_{stretch.kind}")(stretch)
        first, last = stretch.first, stretch.last
        return Bind(
            kind=stretch.kind,
            from_utc=first.due_utc,
            until_utc=last.due_utc + last.interval_s,
            from_sun_altitude_deg=first.sun_altitude_deg or 0.0,
            until_sun_altitude_deg=last.sun_altitude_deg or 0.0,
            frames=stretch.frames,
            worst_ev=round(stretch.worst_ev, 2) if stretch.kind == "light" else None,
            text=f"{self._span(first, last)} {text}",
            remedy=remedy,
        )

    def _span(self, first: Frame, last: Frame) -> str:
        zone = self._plan.site.zone
        begin, end = (datetime.fromtimestamp(f.due_utc, zone) for f in (first, last))
        whole = (datetime.fromtimestamp(utc, zone).date() for utc in (self._first_utc, self._last_utc))
        day = "%a %d %b " if len(set(whole)) > 1 else ""
        sun = "" if first.sun_altitude_deg is None else f" (sun {signed(first.sun_altitude_deg, '°')})"
        if f"{begin:%d %H:%M}" == f"{end:%d %H:%M}":
            return f"at {begin:{day}%H:%M}{sun}"
        return f"from {begin:{day}%H:%M}{sun} to {end:{day if begin.date() != end.date() else ''}%H:%M}"

    def _say_interval(self, stretch: _Stretch) -> tuple[str, str]:
        if stretch.stretched:
            text = f"the exposure outgrows the pace's interval, which is stretched, to {stretch.interval_s:.3g} s"
            return text, "Nothing needs doing; without stretch_to_s ISO or aperture would give way instead"
        text = self._reach.held(stretch.at_first, (stretch.interval_s, stretch.shutter_s))
        wanted = at_least(self._reach.holds_s)
        return text, f"For less noise use intervals of {wanted} there, or stretch_to_s in [pace]"

    def _say_shutter(self, stretch: _Stretch) -> tuple[str, str]:
        text = f"the shutter is at its longest, {shutter_time(self._darkest.shutter_s)}"
        dark = min(f.sun_altitude_deg or 0.0 for f in (stretch.first, stretch.last)) < _STARS_DEG
        blur = "stars may trail" if dark else "what moves may blur"
        return text, f"Allow longer exposures if {blur} more, or let the rest give way"

    def _say_aperture(self, stretch: _Stretch) -> tuple[str, str]:
        return (
            f"the aperture is at its widest, {aperture_label(self._darkest.aperture)}",
            "Nothing more is to be had here",
        )

    def _say_iso(self, stretch: _Stretch) -> tuple[str, str]:
        text = f"ISO is at its highest, {iso_label(self._darkest.iso)}"
        return text, "Allow a higher ISO, or longer exposures and intervals"

    def _say_light(self, stretch: _Stretch) -> tuple[str, str]:
        worst_ev = round(stretch.worst_ev, 2)  # as the summary has it, or its tenth may be another
        if worst_ev < 0:
            text = f"the pictures come out darker than wanted, by up to {-worst_ev:.1f} EV"
            return text, "Allow a higher ISO or longer exposures, or use longer intervals"
        text = f"the pictures come out too bright, by up to {worst_ev:.1f} EV"
        return text, "Allow shorter exposures or narrower apertures, or use a grey filter"

    def _say_change(self, stretch: _Stretch) -> tuple[str, str]:
        share = self._plan.pace.max_change
        text = f"the pace asks for a faster change than max_change allows, {share:.0%} from one interval to the next"
        return text, "Put the pace's points further apart, or raise max_change"

    def _say_card(self, stretch: _Stretch) -> tuple[str, str]:
        return f"the card is full, {count(stretch.frames, 'frame')} missed", "Use a larger card, or write JPEG alone"

    def _say_sleep(self, stretch: _Stretch) -> tuple[str, str]:
        many = "once" if stretch.frames == 1 else f"{stretch.frames} times"
        late = [f.late_ms for f in (stretch.first, stretch.last) if f.late_ms and f.state is not FrameState.MISSED]
        how = f", and released up to {max(late) / 1000:.1f} s late" if late and max(late) > 50 else ""
        return f"the camera had fallen asleep and was woken {many}{how}", "Switch its power-off timer off"
