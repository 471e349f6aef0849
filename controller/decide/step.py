"""One slot after the other: when it is due, what it is exposed with, and what its picture teaches.

Everything here is a function of its arguments. The engine holds a `Progress`, asks `next_slot` what comes next, tells
`used` what became of it, and feeds pictures to `metered`; each returns a new `Progress`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from controller.decide import exposure as dials
from controller.decide import follow, pace, ramp
from controller.decide.beat import Beat, shared
from controller.decide.bracket import Bracket, exposures, room_s
from controller.decide.exposure import ANY_BODY, Body, Limits, Triple
from controller.decide.follow import Light
from controller.decide.meter import Reading, scene_ev
from controller.decide.pace import PaceChange
from controller.decide.place import Place, place_at
from controller.decide.plan import ByPulse, FixedLight, FollowLight, Plan
from controller.decide.schedule import Window
from controller.words.brackets import index_of, middle_index
from controller.words.errors import BadInput

Range = tuple[float, float]

_STOP_SLACK_S = 1e-3
_SAME_EV = 1e-6
_HALF_STEP_EV = follow.STEP_EV / 2
_DARKEST_EV = -99.0
_ROUNDING_S = 1e-3  # intervals are whole milliseconds


@dataclass(frozen=True, slots=True)
class Moment:
    """Now, on both clocks: POSIX seconds and plan-monotonic seconds."""

    utc: float
    mono: float


@dataclass(frozen=True, slots=True)
class Slot:
    """A time at which a frame is due. `interval_s` is from its release to the next slot's."""

    seq: int  # from 1
    due_mono: float
    due_utc: float
    interval_s: float
    exposure: Triple
    gap_s: float  # interval minus exposure
    target_ev: float  # EV at ISO 100 that the light rule asked for, before limits and stops
    sky_ev: float  # what the sky model alone expects at mid-exposure, EV at ISO 100
    sun_altitude_deg: float
    sun_azimuth_deg: float
    moon_altitude_deg: float
    bracket: Bracket | None = None  # what its interval holds, where that is more than one frame
    unspent_s: float = 0.0  # once its step is paid for (controller.decide.ramp)

    @property
    def base(self) -> Triple:
        """The exposure in force: its own, or the one that its bracket is around."""
        return self.exposure if self.bracket is None else self.bracket.base

    @property
    def mid_utc(self) -> float:
        """The middle of the exposure, POSIX seconds."""
        return self.due_utc + self.exposure.shutter_s / 2


@dataclass(frozen=True, slots=True)
class Finished:
    """No more slots in this window, and why."""

    cause: str


@dataclass(frozen=True, slots=True)
class Adjust:
    """Changes made while shooting; they last for the rest of the shoot. Limits are nominal or true, as in a plan."""

    bias_ev: float = 0.0  # positive is brighter
    shutter_s: Range | None = None
    aperture: Range | None = None
    iso: Range | None = None
    pace: PaceChange | None = None

    def document(self) -> dict[str, Any]:
        """JSON-able; keys that change nothing are left out."""
        limits = {"shutter_s": self.shutter_s, "aperture": self.aperture, "iso": self.iso}
        document: dict[str, Any] = {name: list(limit) for name, limit in limits.items() if limit is not None}
        if self.bias_ev:
            document["bias_ev"] = self.bias_ev
        if self.pace is not None:
            document["pace"] = self.pace.document()
        return document

    @classmethod
    def from_document(cls, document: dict[str, Any]) -> Adjust:
        """The inverse of `document`."""

        def limit(name: str) -> Range | None:
            pair = document.get(name)
            return None if pair is None else (float(pair[0]), float(pair[1]))

        pace = document.get("pace")
        return cls(
            bias_ev=float(document.get("bias_ev", 0.0)),
            shutter_s=limit("shutter_s"),
            aperture=limit("aperture"),
            iso=limit("iso"),
            pace=None if pace is None else PaceChange.from_document(pace),
        )


@dataclass(frozen=True, slots=True)
class Progress:
    """Where a shoot stands within its window. `interval_s` and `exposure` are those in force, None before any slot."""

    window: Window
    seq: int  # of the next slot
    due_mono: float  # of the next slot; deadlines grow from each other, never from the clock
    due_utc: float  # the same by the wall clock as it stood then
    interval_s: float | None
    exposure: Triple | None
    frames_done: int  # slots of this window whose shutter was released
    light: Light
    heading: int = 0  # where the exposure's last step went: 1 to more EV, −1 to less, 0 before any
    bracket: Bracket | None = None  # the one that the next slot goes on with
    unspent_s: float = 0.0  # of time, that pays for the exposure's next step


def begin(plan: Plan, window: Window, now: Moment, *, earliest_mono: float) -> Progress:
    """A fresh start: the first slot is at the window's start, or at `earliest_mono` where that has passed."""
    due_mono = max(now.mono + window.start_utc - now.utc, earliest_mono)
    return Progress(window, 1, due_mono, now.utc + due_mono - now.mono, None, None, 0, Light())


def after_hold(progress: Progress, now: Moment, earliest_mono: float) -> Progress:
    """Go on after a hold: at once, with no missed slots for the time held.

    What is left of a bracket is chosen anew where that was longer than its interval: the light is another by then.
    """
    due_mono = max(progress.due_mono, earliest_mono)
    due_utc, held_s = now.utc + due_mono - now.mono, due_mono - progress.due_mono
    whole = None if held_s > (progress.interval_s or 0.0) else progress.bracket
    return replace(progress, due_mono=due_mono, due_utc=due_utc, bracket=whole, unspent_s=progress.unspent_s + held_s)


def used(progress: Progress, slot: Slot, released: bool) -> Progress:
    """The slot was released, or it passed; either way the next is due one interval later."""
    whole = slot.bracket
    last = whole is None or index_of(slot.seq, whole.exposures) == len(whole.exposures) - 1
    return Progress(
        window=progress.window,
        seq=slot.seq + 1,
        due_mono=slot.due_mono + slot.interval_s,
        due_utc=slot.due_utc + slot.interval_s,
        interval_s=slot.interval_s if whole is None else whole.interval_s,
        exposure=slot.base,
        frames_done=progress.frames_done + released,
        light=progress.light,
        heading=_heading(progress, slot),
        bracket=None if last else whole,
        unspent_s=slot.unspent_s + slot.interval_s,
    )


def _heading(progress: Progress, slot: Slot) -> int:
    step_ev = 0.0 if progress.exposure is None else slot.base.ev - progress.exposure.ev
    return progress.heading if abs(step_ev) < _SAME_EV else 1 if step_ev > 0 else -1


def metered(
    plan: Plan, adjust: Adjust, progress: Progress, slot: Slot, reading: Reading | None
) -> tuple[Progress, float | None]:
    """Take in the picture of a slot; the new progress, and the scene's EV at ISO 100 as metered.

    `slot.exposure` must be what the camera really used. Without a reading, or with one that is no number, nothing
    changes and the answer has no EV: the prediction goes on alone. Of a bracket only the frame at 0 EV, or nearest to
    it, tells of the light.
    """
    if reading is None or not math.isfinite(reading.level + reading.clipped + reading.black + reading.mid):
        return progress, None
    ev = scene_ev(reading, slot.exposure.ev)
    if index_of(slot.seq, plan.light.offsets) != middle_index(plan.light.offsets):
        return progress, ev
    light = follow.measured(progress.light, slot.mid_utc, slot.sky_ev, ev, reading.clipped, reading.black)
    return _lit(progress, light), ev


def _lit(p: Progress, light: Light) -> Progress:
    """The same progress with another light; `replace` takes three times as long."""
    before = p.window, p.seq, p.due_mono, p.due_utc, p.interval_s, p.exposure, p.frames_done
    return Progress(*before, light, p.heading, p.bracket, p.unspent_s)


def next_slot(
    plan: Plan, adjust: Adjust, progress: Progress, body: Body | None, now: Moment, beat: Beat | None = None
) -> Slot | Finished:
    """The slot that comes next, or why there is none.

    May be asked again for the same slot when a fresher picture was metered. A slot whose time has passed is answered
    like any other; it is for the caller to log it as missed and go on with `used`. `beat` is what another camera of
    the shoot has fixed of it.
    """
    progress = shared(plan, progress, beat)
    window, due_mono = progress.window, progress.due_mono
    due_utc = now.utc + due_mono - now.mono
    if window.frames is not None and progress.frames_done >= window.frames:
        return Finished(f"the plan's {window.frames} frames are done")
    if window.stop_utc is not None and due_utc > window.stop_utc - _STOP_SLACK_S:
        return Finished("the plan's stop was reached")
    body = body or ANY_BODY
    place = place_at(plan.site, due_utc)
    limits = limits_in_force(plan, adjust)
    offsets, whole = plan.light.offsets, progress.bracket
    index, unspent_s = index_of(progress.seq, offsets), progress.unspent_s
    if whole is None:
        cycle_s = _interval_s(plan, adjust, progress, place, limits, body) if beat is None else beat.cycle_s
        room = room_s(cycle_s, plan.pace.min_gap_s, offsets)
        base, target_ev, unspent_s = _exposure(plan, adjust, progress, place, limits, body, cycle_s, room)
        if beat is not None and beat.exposure is not None:
            base = beat.exposure
        chosen, interval_s = base, cycle_s
        if len(offsets) > 1:
            within = ramp.around(limits, base)
            whole = Bracket(cycle_s, target_ev, base, exposures(plan.light, base, within, body, room))
    if whole is not None:
        chosen, interval_s = whole.exposures[index], whole.slot_s(index, plan.pace.min_gap_s)
        target_ev = whole.target_ev - offsets[index]
    return Slot(
        seq=progress.seq,
        due_mono=due_mono,
        due_utc=due_utc,
        interval_s=interval_s,
        exposure=chosen,
        gap_s=interval_s - chosen.shutter_s,
        target_ev=target_ev,
        sky_ev=place.model_ev(place.utc + chosen.shutter_s / 2),
        sun_altitude_deg=place.altitude_deg,
        sun_azimuth_deg=place.azimuth_deg,
        moon_altitude_deg=place.moon.altitude_deg,
        bracket=whole,
        unspent_s=unspent_s,
    )


def same_again(progress: Progress, last: Slot, now: Moment) -> Slot | Finished:
    """The next slot with the interval and exposure of `last`: what is left where nothing better can be decided."""
    due_utc = now.utc + progress.due_mono - now.mono
    stop_utc = progress.window.stop_utc
    if stop_utc is not None and due_utc > stop_utc - _STOP_SLACK_S:
        return Finished("the plan's stop was reached")
    return replace(last, seq=progress.seq, due_mono=progress.due_mono, due_utc=due_utc)


def limits_in_force(plan: Plan, adjust: Adjust) -> Limits:
    """The plan's limits, true values, with those changed while shooting in their place.

    Under a fixed light each quantity's limits are its one value, held inside the changed ones.
    """
    light = plan.light
    if isinstance(light, FollowLight):
        return dials.limits(
            adjust.shutter_s or light.shutter_s,
            adjust.aperture or light.aperture,
            adjust.iso or light.iso,
            light.bulb,
        )
    shutter_s = _held(light.shutter_s, adjust.shutter_s)
    aperture, iso = _held(light.aperture, adjust.aperture), _held(light.iso, adjust.iso)
    return dials.limits((shutter_s, shutter_s), (aperture, aperture), (iso, iso), light.bulb)


def check_adjust(plan: Plan, adjust: Adjust) -> None:
    """Refuse changes that make no sense for this plan. Raises BadInput (bad-change): what, where, remedy."""
    for name in ("shutter_s", "aperture", "iso"):
        limit: Range | None = getattr(adjust, name)
        if limit is not None and not (0 < limit[0] <= limit[1] < math.inf):
            raise BadInput("bad-change", f"{list(limit)} is no range", name, "Give a lower and an upper limit above 0")
    if not abs(adjust.bias_ev) <= 10:
        raise BadInput("bad-change", f"{adjust.bias_ev:g} EV is out of range", "bias_ev", "Give −10 … 10 EV")
    if adjust.bias_ev and isinstance(plan.light, FixedLight):
        remedy = "Change shutter_s, aperture or iso, or use a plan that follows the light"
        raise BadInput("bad-change", "a fixed light has no bias", "bias_ev", remedy)
    limits = limits_in_force(plan, adjust)
    count = len(plan.light.offsets)
    shortest_s = plan.light.together_s(limits.shutter_s[0]) + plan.pace.min_gap_s * count
    change = adjust.pace
    if change is not None and isinstance(plan.pace, ByPulse):
        remedy = "Change it where the pulses come from"
        raise BadInput("bad-change", "the pulses give the pace", "to_s", remedy)
    if change is not None:
        if not (shortest_s <= change.to_s <= 86400):
            reason = "is longer than a day" if change.to_s > 86400 else "is too short for the shortest exposure and gap"
            what = f"an interval of {change.to_s:g} s {reason}"
            raise BadInput("bad-change", what, "to_s", f"Give {shortest_s:.3g} … 86400 s")
        if not (0 <= change.over_s <= 86400):
            raise BadInput("bad-change", f"{change.over_s:g} s is out of range", "over_s", "Give 0 … 86400 s")
    elif adjust.shutter_s is not None and shortest_s > plan.pace.shortest()[1]:
        longest_s = (plan.pace.shortest()[1] - plan.pace.min_gap_s * count) / plan.light.together_s(1.0)
        remedy = f"Give {longest_s:.3g} s or less, or a longer interval first"
        raise BadInput("bad-change", "the shortest exposure does not fit the interval", "shutter_s", remedy)


def shortest_interval_s(plan: Plan, limits: Limits, body: Body) -> float:
    """The shortest interval that can be kept: what has to fit is the shortest exposure and the gap, or the bracket."""
    gap_s = plan.pace.min_gap_s
    if isinstance(plan.light, FixedLight):
        base = dials.allocate(0.0, limits, (), body, math.inf)
        return sum(e.shutter_s + gap_s for e in exposures(plan.light, base, limits, body, math.inf))
    return (dials.shortest_s(body) + gap_s) * len(plan.light.offsets)


def stretched_s(
    plan: Plan, adjust: Adjust, limits: Limits, body: Body, paced_s: float, scene_ev: float, sun_altitude_deg: float
) -> float:
    """The interval once the pace's own has made room for a long exposure, where the plan lets it.

    A sixth of a stop more than the shutter that suits the scene, for the shutter is set to the nearest third.
    """
    most_s = plan.pace.stretch_to_s
    if most_s is None or paced_s >= most_s or not isinstance(plan.light, FollowLight):
        return paced_s
    gap_s = plan.pace.min_gap_s * len(plan.light.offsets)
    target_ev = follow.target_ev(plan.light, scene_ev, sun_altitude_deg, adjust.bias_ev)
    longest_s = dials.allocate(_DARKEST_EV, limits, plan.light.giving_way, body, most_s - gap_s).shutter_s
    wanted_s = 0.0
    for offset in plan.light.offsets:
        near = dials.allocate(target_ev - offset, limits, plan.light.giving_way, body, most_s - gap_s)
        off = max(-_HALF_STEP_EV, min(_HALF_STEP_EV, near.ev - target_ev + offset))
        wanted_s += min(near.shutter_s * 2 ** (off + _HALF_STEP_EV), longest_s)
    return max(paced_s, min(most_s, wanted_s + gap_s + _ROUNDING_S))


def _interval_s(plan: Plan, adjust: Adjust, progress: Progress, place: Place, limits: Limits, body: Body) -> float:
    def scene(utc: float) -> float:
        return place.model_ev(utc) + progress.light.slow_ev

    def asked(utc: float) -> float:
        paced_s = pace.interval_at(plan.pace, adjust.pace, progress.window, utc, place.sun_altitude, scene)
        if plan.pace.stretch_to_s is None:
            return paced_s
        return stretched_s(plan, adjust, limits, body, paced_s, scene(utc), place.sun_altitude(utc))

    interval_s = pace.next_interval(asked, place.utc, progress.interval_s, plan.pace.max_change)
    return max(round(interval_s, 3), shortest_interval_s(plan, limits, body))


def _exposure(
    plan: Plan,
    adjust: Adjust,
    progress: Progress,
    place: Place,
    limits: Limits,
    body: Body,
    interval_s: float,
    longest_s: float,
) -> tuple[Triple, float, float]:
    """The exposure of the next slot, the EV that the light rule asked for, and the seconds that stay unspent."""
    light, held, free_ev = plan.light, progress.exposure, progress.light.highlights_ev
    if isinstance(light, FixedLight):
        chosen = dials.allocate(0.0, limits, (), body, longest_s)
        return chosen, chosen.ev, 0.0

    def asked(utc: float) -> float:
        scene = place.model_ev(utc) + progress.light.offset_at(utc)
        return follow.target_ev(light, scene, place.sun_altitude(utc), adjust.bias_ev) + free_ev

    if held is None:
        first = dials.allocate(asked(place.utc), limits, light.giving_way, body, longest_s)
        target_ev = asked(place.utc + first.shutter_s / 2)
        return dials.allocate(target_ev, limits, light.giving_way, body, longest_s), target_ev, 0.0
    mid_utc = place.utc + min(held.shutter_s, longest_s) / 2
    target_ev = asked(mid_utc)
    trend = asked(mid_utc + 60.0) - target_ev
    aim_ev = follow.settle(held.ev, target_ev, trend, progress.light, progress.heading)
    stays = aim_ev == held.ev and dials.allowed(held, limits, body, longest_s)
    if stays and held.iso <= limits.iso[0]:
        return held, target_ev, ramp.left_s(light, progress.unspent_s, 0.0)
    at_once = follow.at_once(progress.light, aim_ev - held.ev, trend, place.utc, interval_s)
    most_ev = math.inf if at_once else ramp.most_ev(light, progress.unspent_s)
    chosen = ramp.step(light, held, aim_ev, most_ev, limits, body, longest_s)
    if stays and abs(chosen.ev - held.ev) > _SAME_EV:
        chosen = held
    return chosen, target_ev, 0.0 if at_once else ramp.left_s(light, progress.unspent_s, chosen.ev - held.ev)


def _held(value: float, limit: Range | None) -> float:
    return value if limit is None else min(max(value, limit[0]), limit[1])
