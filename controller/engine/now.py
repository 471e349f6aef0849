"""What the phone's first screen shows, gathered from a run and the rig."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from controller.decide.advice.storage import PREVIEW_BYTES
from controller.decide.checks.card_room import COUNTS_TO
from controller.decide.exposure import ANY_BODY, allocate
from controller.decide.forecast import Forecast, forecast_held
from controller.decide.heading import Towards, heading
from controller.decide.health.missed_slots import usual_cause
from controller.decide.moon import moon_altitude
from controller.decide.plan import Files, FollowLight
from controller.decide.plan.tables import Site
from controller.decide.step import limits_in_force
from controller.decide.sun import position
from controller.engine.run import ShootRun
from controller.results.intervals import offsets
from controller.words.documents import (
    ENDED,
    CameraNow,
    Exposure,
    Frame,
    Heading,
    HeaterNow,
    Now,
    PlaceNow,
    PostNow,
    Raised,
    RigClock,
    Shoot,
    ShootState,
    Storage,
)
from controller.words.phrases import count
from controller.words.stops import exposure_label

OFF_TARGET_EV = 0.75
"""More than steps and hysteresis put between exposure and target."""

AHEAD_EVERY_S = 5.0
"""Plan seconds after which what is to come is worked out anew; slots that are used meanwhile are taken off."""

RECENT_S = 600.0
"""Plan seconds for which a missed slot asks for attention."""


@dataclass(frozen=True, slots=True)
class RigFacts:
    """What the rig knows beside the shoot."""

    utc: float
    rate: float
    event_id: str
    camera: CameraNow | None
    beside: list[CameraNow]
    free_bytes: int
    fetching_paused: bool
    bytes_per_frame: int | None
    pictured: Frame | None
    past: Shoot | None  # the last shoot, where none was taken up since the rig was started
    heater: HeaterNow | None
    wiring: list[str]  # what hangs on the rig's pins and does not work
    log: list[str]  # what of the frame log is damaged, or was made anew
    findings: list[Raised]  # those that stand, urgent ones first
    messages: PostNow | None
    clock: RigClock
    clock_trouble: str | None
    places: list[PlaceNow]
    places_trouble: str | None
    site: Site | None = None  # where the rig stands, as far as it knows


class Forecasts:
    """The forecast of a run, worked out anew where something was changed and every AHEAD_EVERY_S; `heading` too."""

    def __init__(self) -> None:
        self._key: tuple[object, ...] = ()
        self._forecast: Forecast | None = None
        self._gone = 0
        self.heading: Heading | None = None

    def of(self, run: ShootRun) -> Forecast | None:
        if run.window is None:
            return None
        now, progress = run.moment(), run.slots.progress
        fresh = now.mono // AHEAD_EVERY_S
        standing = (run.shoot.state, run.shoot.held_until_utc)
        key = (run.shoot.id, run.adjust, run.window, standing, progress is None, fresh)
        gone = 0 if progress is None else progress.seq if run.window.frames is None else progress.frames_done
        if key != self._key:
            coming = forecast_held(run.plan, run.adjust, progress, run.window, run.body(), now, run.holding.left_s)
            self._forecast, self.heading, self._key, self._gone = coming, None, key, gone
            if progress is not None and run.shoot.state in (ShootState.SHOOTING, ShootState.RECOVERING):
                self.heading = _heading(
                    heading(run.plan, run.adjust, progress, run.window, run.body(), now, coming.end_utc)
                )
        kept = self._forecast
        if kept is None or kept.frames_left is None or gone == self._gone:
            return kept
        return replace(kept, frames_left=max(0, kept.frames_left - (gone - self._gone)))


def _heading(found: Towards | None) -> Heading | None:
    if found is None:
        return None
    e = found.exposure
    exposure = _exposure(e.shutter_s, e.aperture, e.iso, e.ev)
    return Heading(utc=found.utc, interval_s=round(found.interval_s, 3), exposure=exposure)


def storage(facts: RigFacts, interval_s: float | None, files: Files | None) -> Storage:
    """Room left, and for how many hours it lasts at `interval_s` from frame to frame, by what frames were seen to take;
    small pictures alone by the same guess as a plan's forecast.

    A body's own count of frames goes by a guess at their size, and mostly ends at 9999: it counts for the card only
    where the body tells no bytes.
    """

    def hours(frames: float | None) -> float | None:
        return round(frames * interval_s / 3600, 2) if frames is not None and interval_s else None

    def takes(free: int | None) -> float | None:
        return free / facts.bytes_per_frame if free is not None and facts.bytes_per_frame else None

    card = facts.camera.card_free_bytes if facts.camera else None
    room = facts.camera.card_free_frames if facts.camera else None
    counted = float(room) if card is None and room is not None and room < COUNTS_TO else None
    fetch, every = (None, None) if files is None else (files.fetch, files.every)
    on_rig = takes(facts.free_bytes)
    if fetch == "preview" and facts.free_bytes is not None:
        on_rig, every = facts.free_bytes / PREVIEW_BYTES, 1
    return Storage(
        rig_free_bytes=facts.free_bytes,
        rig_hours_left=None if on_rig is None or every is None else hours(on_rig * every),
        card_free_bytes=card,
        card_hours_left=hours(counted if card is None else takes(card)),
        bytes_per_frame=facts.bytes_per_frame,
        fetching="paused" if facts.fetching_paused else "off" if fetch == "none" else "on",
    )


def attention(facts: RigFacts, run: ShootRun | None, now: Now) -> list[str]:
    """What needs a person, most urgent first, each with what to do."""
    found: list[str] = []
    camera, told = facts.camera, {"shoot", "frame log", "log made anew", "rig clock", "wiring"}
    if run is not None and run.shoot.state is ShootState.FAILED:
        found.append(f"The shoot has failed: {run.shoot.cause}")
    found.extend(
        f"{other.id} is not there, the others go on: {other.trouble}" for other in facts.beside if not other.connected
    )
    if camera is None:
        found.append("No camera. Connect one and switch it on")
    elif not camera.connected:
        name = f"{camera.id} not there, the others go on" if facts.beside else "Camera not there"
        found.append(f"{name}: {camera.trouble}")
    found.extend(facts.log)
    if run is not None and run.book.trouble is not None:
        found.append(f"The frame log cannot be written: {run.book.trouble}")
    if run is not None and run.reports.blind is not None:
        found.append(f"The exposure follows the sky model alone: {run.reports.blind.what}")
        told.add("metering")
    if run is not None and run.shoot.state not in ENDED:
        there = {camera.id for camera in [camera, *facts.beside] if camera is not None and not camera.connected}
        for each in run.company.runs:
            if each.camera.id not in there and (text := _missed(facts, each)) is not None:
                found.append(f"{each.camera.id}: {text}" if run.company.several else text)
                told.add("missed slots")
        if (text := _off_target(run, now)) is not None:
            found.append(text)
    if facts.clock_trouble is not None:
        found.append(facts.clock_trouble)
    found.extend(facts.wiring)
    if facts.fetching_paused:
        found.append("The rig's disk is full: frames stay on the card. Free some space on the rig")
        told.add("rig disk")
    found.extend(finding.line for finding in facts.findings if not _told_anyway(finding, facts, told))
    return found


def _told_anyway(finding: Raised, facts: RigFacts, told: Collection[str]) -> bool:
    """Whether it is told above, in the words of this moment; `told` are checks of which that is so."""
    shown = {each.id for each in [facts.camera, *facts.beside] if each is not None}
    return finding.check in told or (finding.check == "camera" and finding.camera in shown)


def _missed(facts: RigFacts, run: ShootRun) -> str | None:
    """The slots missed lately: how many, how long ago the last, and why most of them."""
    lately = [frame for frame in run.book.lately_missed if facts.utc - frame.due_utc <= RECENT_S]
    if not lately:
        return None
    ago_s = facts.utc - lately[-1].due_utc
    ago = "just now" if ago_s < 90 else f"{ago_s / 60:.0f} min ago"
    cause = usual_cause(frame.cause for frame in lately)
    return f"{count(len(lately), 'slot')} missed in {RECENT_S / 60:.0f} min, the last {ago}: {cause}"


def _off_target(run: ShootRun, now: Now) -> str | None:
    """Frames that the limits, or the body, keep away from the exposure that the light asks for."""
    slot, light = run.slots.slot, run.plan.light
    if slot is None or now.exposure is None or now.target_ev is None or run.reports.scene_ev is None:
        return None
    reached_ev = now.exposure.ev
    if isinstance(light, FollowLight) and slot.bracket is None:  # what is only on its way there needs nobody
        limits, room_s = limits_in_force(run.plan, run.adjust), slot.interval_s - run.plan.pace.min_gap_s
        reached_ev = allocate(slot.target_ev, limits, light.giving_way, run.body() or ANY_BODY, room_s).ev
    off = now.target_ev - reached_ev
    if abs(off) < OFF_TARGET_EV:
        return None
    way = "bright: allow shorter exposures or less ISO" if off > 0 else "dark: allow longer exposures or more ISO"
    return f"Frames come out {abs(off):.1f} EV too {way}"


def describe(facts: RigFacts, run: ShootRun | None, forecasts: Forecasts) -> Now:
    """The whole answer of `GET /api/v1/now`."""
    now = Now(
        utc=facts.utc,
        rate=facts.rate,
        well=True,
        camera=facts.camera,
        beside=facts.beside,
        heater=facts.heater,
        findings=facts.findings,
        places=facts.places,
        places_trouble=facts.places_trouble,
        messages=facts.messages,
        event_id=facts.event_id,
        clock=facts.clock,
        last_frame=facts.pictured,
        storage=storage(facts, None, None),
    )
    shooting = run is not None and run.shoot.state not in ENDED
    if (site := run.plan.site if run is not None and shooting else facts.site) is not None:
        _sky(now, site)
    if run is None:
        if facts.past is not None:
            _past(now, facts.past)
        now.attention = attention(facts, None, now)
        now.well = not now.attention
        return now
    counts = run.book.counts
    now.shoot = run.document()
    now.frames_done, now.frames_missed, now.frames_lost = counts.done, counts.missed, counts.lost
    now.fps = run.plan.clip.fps
    now.clip_s = round(counts.done / run.plan.releases_per_clip_s, 2)
    now.bias_ev = run.adjust.bias_ev
    if shooting:
        _ahead(now, facts, run, forecasts)
    if run.slots.progress is not None:
        now.interval_s = now.interval_s or run.slots.progress.interval_s
    last = run.book.last
    if last is not None:
        now.scene_ev = run.reports.scene_ev if run.reports.scene_ev is not None else last.scene_ev
        now.target_ev = now.target_ev if now.target_ev is not None else last.target_ev
        if now.exposure is None and last.shutter_s and last.aperture and last.iso and last.exposure_ev is not None:
            now.exposure = _exposure(last.shutter_s, last.aperture, last.iso, last.exposure_ev)
            now.gap_s = last.gap_s
    apart_s = _apart_s(run, now.interval_s)
    now.storage = storage(facts, apart_s, run.plan.files)
    if facts.bytes_per_frame and apart_s and run.plan.files.every is not None:
        frames_per_h = 3600 / apart_s / run.plan.files.every
        now.places = [_lasting(place, facts.bytes_per_frame * frames_per_h) for place in facts.places]
    now.attention = attention(facts, run, now)
    now.well = not now.attention
    return now


def _apart_s(run: ShootRun, interval_s: float | None) -> float | None:
    """From one frame to the next, seconds: of a bracket, in which they come unevenly, on average."""
    progress, count = run.slots.progress, len(run.plan.light.offsets)
    if count == 1 or progress is None or progress.interval_s is None:
        return interval_s
    return progress.interval_s / count


def _sky(now: Now, site: Site) -> None:
    altitude, azimuth = position(site.latitude, site.longitude, now.utc)
    now.sun_altitude_deg, now.sun_azimuth_deg = round(altitude, 3), round(azimuth, 3)
    now.moon_altitude_deg = round(moon_altitude(site.latitude, site.longitude, now.utc), 2)


def _lasting(place: PlaceNow, bytes_per_h: float) -> PlaceNow:
    """A second place with the hours until it is full at this pace."""
    if place.free_bytes is None:
        return place
    return place.model_copy(update={"hours_left": round(place.free_bytes / bytes_per_h, 2)})


def _past(now: Now, shoot: Shoot) -> None:
    """A shoot that ended before this start of the rig."""
    now.shoot = shoot
    counts = shoot.counts
    now.frames_done, now.frames_missed, now.frames_lost = counts.done, counts.missed, counts.lost
    now.fps = shoot.fps
    now.clip_s = round(counts.done / len(offsets(shoot)) / now.fps, 2)


def _ahead(now: Now, facts: RigFacts, run: ShootRun, forecasts: Forecasts) -> None:
    if (coming := forecasts.of(run)) is not None:
        now.heading = forecasts.heading
        now.frames_left = coming.frames_left
        now.end_utc = coming.end_utc
        if coming.end_utc is not None:
            now.left_s = round(max(0.0, coming.end_utc - facts.utc), 1)
        if coming.frames_left is not None:
            now.clip_end_s = round((now.frames_done + coming.frames_left) / run.plan.releases_per_clip_s, 2)
    slot = run.slots.slot
    coming_slot = next((each.slots.slot for each in run.company.runs if each.camera.opened is not None), None)
    if coming_slot is not None:
        now.next_release_utc = coming_slot.due_utc
        now.next_release_in_s = round(max(0.0, coming_slot.due_mono - run.clock.mono()), 3)
    if slot is not None:
        now.interval_s, now.gap_s = round(slot.interval_s, 3), round(slot.gap_s, 3)
        now.target_ev = round(slot.target_ev, 3)
        exposure = slot.exposure
        now.exposure = _exposure(exposure.shutter_s, exposure.aperture, exposure.iso, exposure.ev)
    elif run.window is not None and run.shoot.state in (ShootState.WAITING, ShootState.CHECKING):
        now.next_release_utc = max(run.window.start_utc, facts.utc)
        now.start_in_s = round(now.next_release_utc - facts.utc, 1)


def _exposure(shutter_s: float, aperture: float, iso: float, ev: float) -> Exposure:
    label = exposure_label(shutter_s, aperture, iso)
    return Exposure(shutter_s=shutter_s, aperture=aperture, iso=iso, ev=round(ev, 3), label=label)
