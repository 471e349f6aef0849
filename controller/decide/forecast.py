"""What is still to come of a window: frames, end and clip, by walking the pace over the expected sky.

Frames are counted as ∫dt/interval over a coarse grid, not slot by slot, so that a page can ask for it at any moment.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from controller.decide import exposure as dials
from controller.decide import follow, pace, sky
from controller.decide.bracket import exposures, room_s
from controller.decide.exposure import ANY_BODY, Body, Triple
from controller.decide.moon import Moon, moon
from controller.decide.plan import FollowLight, Plan
from controller.decide.schedule import Window
from controller.decide.step import Adjust, Moment, Progress, limits_in_force, shortest_interval_s, stretched_s
from controller.decide.sun import altitudes

_GRID = 200
_NEAR_GRID = 6  # for half an hour
_MOON_GRID_S = 1800.0  # straight between: 0.1° of the moon's altitude, less than clouds and hills blur
_OPEN_S = 12 * 3600.0  # how far a window without an end is looked ahead
_LONGEST_S = 400 * 86400.0
_STEP_S = (10.0, 3600.0)


@dataclass(frozen=True, slots=True)
class Point:
    """The expected state at a moment; `frames` counts slots from the forecast's beginning.

    `exposures` are those of one interval; `exposure` is the one at 0 EV, or else what the bracket is around.
    """

    utc: float
    sun_altitude_deg: float
    moon_altitude_deg: float
    interval_s: float
    exposure: Triple
    exposures: tuple[Triple, ...]
    target_ev: float
    scene_ev: float
    frames: float

    @property
    def longest(self) -> Triple:
        """The longest of the interval's exposures; of several, the one that takes in most light."""
        return max(self.exposures, key=lambda exposure: (exposure.shutter_s, -exposure.ev))

    @property
    def together_s(self) -> float:
        """How long all of the interval's exposures are together, seconds."""
        return sum(exposure.shutter_s for exposure in self.exposures)


@dataclass(frozen=True, slots=True)
class Forecast:
    """What is to come. Without an end (until stopped) all but the points, of the next 12 hours, are None."""

    frames_left: int | None
    end_utc: float | None
    left_s: float | None
    clip_s: float | None  # of the whole window, what is shot already included
    points: tuple[Point, ...]


def forecast(
    plan: Plan,
    adjust: Adjust,
    progress: Progress | None,
    window: Window,
    body: Body | None,
    now: Moment,
    *,
    grid: int = _GRID,
) -> Forecast:
    """What is still to come of `window`, from the next slot on, or from its start where nothing was shot yet."""
    due_in_s = 0.0 if progress is None else max(0.0, progress.due_mono - now.mono)  # one that has passed, as while held
    start_utc = max(window.start_utc, now.utc) if progress is None else now.utc + due_in_s
    done = progress.frames_done if progress is not None else 0
    wanted = None if window.frames is None else max(0, window.frames - done)
    stop_utc = window.stop_utc if window.stop_utc is not None else start_utc + (_LONGEST_S if wanted else _OPEN_S)
    points: list[Point] = []
    for point in _walk(plan, adjust, progress, window, body or ANY_BODY, start_utc, stop_utc, wanted, grid):
        points.append(point)
        if wanted is not None and point.frames >= wanted:
            break
    if window.stop_utc is None and wanted is None:
        return Forecast(None, None, None, None, tuple(points))
    last = points[-1]
    if wanted is None:
        frames, end_utc = math.ceil(last.frames - 1e-6), max(window.stop_utc or now.utc, now.utc)
    else:
        frames, end_utc = wanted, last.utc - max(0.0, last.frames - wanted) * last.interval_s / len(plan.light.offsets)
    return Forecast(
        frames, end_utc, max(0.0, end_utc - now.utc), (done + frames) / plan.releases_per_clip_s, tuple(points)
    )


def forecast_held(
    plan: Plan,
    adjust: Adjust,
    progress: Progress | None,
    window: Window,
    body: Body | None,
    now: Moment,
    hold_s: float,
    *,
    grid: int = _GRID,
) -> Forecast:
    """The same where nothing is released for `hold_s` from now on."""
    later = Moment(now.utc + hold_s, now.mono + hold_s)
    if window.stop_utc is not None and max(window.start_utc, later.utc) >= window.stop_utc:
        end_utc = max(window.stop_utc, now.utc)
        return Forecast(0, end_utc, end_utc - now.utc, None, ())
    if progress is None:
        return forecast(plan, adjust, None, window, body, later, grid=grid)
    progress = replace(progress, due_mono=max(progress.due_mono, later.mono))
    return forecast(plan, adjust, progress, window, body, now, grid=grid)


def at(
    plan: Plan, adjust: Adjust, progress: Progress, window: Window, body: Body | None, now: Moment, utc: float
) -> Point:
    """The expected state at one moment ahead, at little cost: `frames` are those until then."""
    *_, last = _walk(plan, adjust, progress, window, body or ANY_BODY, now.utc, max(utc, now.utc), None, _NEAR_GRID)
    return last


def _walk(
    plan: Plan,
    adjust: Adjust,
    progress: Progress | None,
    window: Window,
    body: Body,
    start_utc: float,
    stop_utc: float,
    wanted: int | None,
    grid: int,
) -> Iterator[Point]:
    light_offset = progress.light.offset_ev if progress is not None else 0.0
    limits, offsets = limits_in_force(plan, adjust), plan.light.offsets
    shortest_s = shortest_interval_s(plan, limits, body)
    interval_s = progress.interval_s if progress is not None else None
    frames, before = 0.0, start_utc
    for utc, altitude, body_moon in _sky(plan, start_utc, stop_utc, wanted, interval_s or 10.0, grid):
        scene = sky.scene_ev(altitude, sky.night_lx(body_moon, plan.site.floor_lx)) + light_offset
        asked = pace.interval_at(plan.pace, adjust.pace, window, utc, _always(altitude), _always(scene))
        after = max(stretched_s(plan, adjust, limits, body, asked, scene, altitude), shortest_s)
        if interval_s is not None:
            reach = (1 + plan.pace.max_change) ** min(500.0, (utc - before) / interval_s)
            after = min(max(after, interval_s / reach), interval_s * reach)
            frames += len(offsets) * (utc - before) / _log_mean(interval_s, after)
        interval_s, before = after, utc
        room = room_s(interval_s, plan.pace.min_gap_s, offsets)
        base, target = _exposed(plan, adjust, limits, body, scene, altitude, room)
        shots = exposures(plan.light, base, limits, body, room)
        right = shots[offsets.index(0)] if 0 in offsets else base
        yield Point(utc, altitude, body_moon.altitude_deg, interval_s, right, shots, target, scene, frames)


def _sky(
    plan: Plan, start_utc: float, stop_utc: float, wanted: int | None, interval_s: float, grid: int
) -> Iterator[tuple[float, float, Moon]]:
    """Moments with the sun's altitude and the moon, from start to stop; a counted window's end is not known ahead."""
    site = plan.site
    at = start_utc
    while True:
        if wanted is None or stop_utc - start_utc < _LONGEST_S:
            step_s = (stop_utc - at) / grid
        else:
            step_s = min(max(wanted * interval_s / grid, _STEP_S[0]), _STEP_S[1])
        utc = at + step_s * np.arange(grid + 1, dtype=np.float64)
        nodes = np.arange(math.floor(utc[0] / _MOON_GRID_S), math.floor(utc[-1] / _MOON_GRID_S) + 2) * _MOON_GRID_S
        moons = [moon(site.latitude, site.longitude, float(node)) for node in nodes]
        heights = np.interp(utc, nodes, [m.altitude_deg for m in moons])
        elongations = np.interp(utc, nodes, [m.elongation_deg for m in moons])
        heights_of_sun = altitudes(site.latitude, site.longitude, utc)
        for moment in zip(utc.tolist(), heights_of_sun.tolist(), heights.tolist(), elongations.tolist(), strict=True):
            yield moment[0], moment[1], Moon(moment[2], moment[3])
        at = float(utc[-1])
        if at >= stop_utc - 1e-3:
            return


def _exposed(
    plan: Plan, adjust: Adjust, limits: dials.Limits, body: Body, scene_ev: float, altitude: float, longest_s: float
) -> tuple[Triple, float]:
    if not isinstance(plan.light, FollowLight):
        triple = dials.allocate(0.0, limits, (), body, longest_s)
        return triple, triple.ev
    target_ev = follow.target_ev(plan.light, scene_ev, altitude, adjust.bias_ev)
    return dials.allocate(target_ev, limits, plan.light.giving_way, body, longest_s), target_ev


def _always(value: float) -> pace.Scene:
    return lambda _: value


def _log_mean(a: float, b: float) -> float:
    """The mean interval of a stretch over which it runs linearly from a to b: dt divided by ∫dt/interval."""
    return a if math.isclose(a, b, rel_tol=1e-9) else (b - a) / math.log(b / a)
