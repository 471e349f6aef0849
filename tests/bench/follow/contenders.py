"""Who exposes: ours, through the functions that the engine calls; a plain reactive controller; and an oracle.

All shoot at the same moments, with the same body, limits and pictures.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

import numpy as np

from controller.decide import follow
from controller.decide.exposure import ANY_BODY, Triple, allocate
from controller.decide.meter import Reading, scene_ev
from controller.decide.step import Adjust, Finished, Moment, begin, limits_in_force, metered, next_slot, used
from tests.bench.follow.light import Floats
from tests.bench.follow.scenes import Scene

DEAD_BAND_EV = 0.5


@dataclass
class Track:
    """Frame by frame. `target_ev` is the exposure for the scene as it is, lamps that pass left out."""

    utc: list[float] = field(default_factory=list)
    interval_s: list[float] = field(default_factory=list)
    shutter_s: list[float] = field(default_factory=list)
    ev: list[float] = field(default_factory=list)
    target_ev: list[float] = field(default_factory=list)
    metered_ev: list[float] = field(default_factory=list)  # metered target − exposure, EV
    clipped: list[float] = field(default_factory=list)

    def arrays(self) -> tuple[Floats, Floats, Floats]:
        """Times, exposures and targets."""
        return np.array(self.utc), np.array(self.ev), np.array(self.target_ev)


def target(scene: Scene, utc: float, metered: float | None = None) -> float:
    """The exposure that suits the scene at a moment, or what was metered of it, by the plan's brightness curve."""
    ev = scene.at(utc) if metered is None else metered
    return follow.target_ev(scene.plan.light, ev, 0.0)


def taken(
    track: Track, scene: Scene, due: float, interval_s: float, chosen: Triple, rng: np.random.Generator
) -> Reading:
    """The picture of a slot, and its line in the track."""
    mid = due + chosen.shutter_s / 2
    true = scene.at(mid)
    over = true + scene.flash(mid, chosen.shutter_s) - chosen.ev
    reading = scene.camera.picture(over, rng)
    track.utc.append(mid)
    track.interval_s.append(interval_s)
    track.shutter_s.append(chosen.shutter_s)
    track.ev.append(chosen.ev)
    track.target_ev.append(target(scene, mid))
    track.metered_ev.append(target(scene, mid, scene_ev(reading, chosen.ev)) - chosen.ev)
    track.clipped.append(scene.camera.clips(true - chosen.ev))
    return reading


def ours(scene: Scene, seed: int = 1) -> Track:
    """The controller's own functions, one slot after the other; pictures are known `scene.lag` slots later."""
    rng, track, plan = np.random.default_rng(seed), Track(), scene.plan
    progress = begin(plan, scene.window, Moment(scene.window.start_utc, 0.0), earliest_mono=0.0)
    pictures: deque[tuple[object, Reading]] = deque()
    while True:
        moment = Moment(scene.window.start_utc + progress.due_mono, progress.due_mono)
        slot = next_slot(plan, Adjust(), progress, None, moment)
        if isinstance(slot, Finished):
            return track
        pictures.append((slot, taken(track, scene, slot.due_utc, slot.interval_s, slot.exposure, rng)))
        progress = used(progress, slot, True)
        if len(pictures) >= scene.lag:
            seen, reading = pictures.popleft()
            progress, _ = metered(plan, Adjust(), progress, seen, reading)


def reactive(scene: Scene, like: Track, seed: int = 1) -> Track:
    """The last frame's brightness decides: more than half a stop off, and the nearest third for it is set."""
    rng, track = np.random.default_rng(seed), Track()
    held = Triple(like.shutter_s[0], 1.0, 100.0, like.ev[0])
    pictures: deque[float] = deque()
    for mid, interval_s, shutter_s in zip(like.utc, like.interval_s, like.shutter_s, strict=True):
        due = mid - shutter_s / 2
        if len(pictures) >= scene.lag and abs((wanted := pictures.popleft()) - held.ev) > DEAD_BAND_EV:
            held = _nearest(scene, wanted, interval_s)
        taken(track, scene, due, interval_s, held, rng)
        pictures.append(track.metered_ev[-1] + held.ev)
    return track


def oracle(scene: Scene, like: Track, seed: int = 1) -> Track:
    """Knows the scene, and suffers only that settings come in thirds of a stop."""
    rng, track = np.random.default_rng(seed), Track()
    for mid, interval_s, shutter_s in zip(like.utc, like.interval_s, like.shutter_s, strict=True):
        taken(track, scene, mid - shutter_s / 2, interval_s, _nearest(scene, target(scene, mid), interval_s), rng)
    return track


def _nearest(scene: Scene, ev: float, interval_s: float) -> Triple:
    limits = limits_in_force(scene.plan, Adjust())
    return allocate(ev, limits, scene.plan.light.giving_way, ANY_BODY, interval_s - scene.plan.pace.min_gap_s)
