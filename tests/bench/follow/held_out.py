"""Scenes that no constant of the light rule was chosen on: other places, dates, ridges, curves, clouds, eclipses.

The clouds are of other days of the same week, or of hours that no other scene has.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from tests.bench.follow.camera import Camera, Tone
from tests.bench.follow.scenes import (
    Scene,
    behind_a_mountain,
    by_day,
    eclipses,
    lamps,
    starts,
    tuned_scenes,
    twilight,
    under_clouds,
    under_moons,
)

SEASONS = {  # days of 2026 near a new moon and the full one after it
    "february": ("2026-02-17", "2026-03-03"),
    "may": ("2026-05-16", "2026-05-31"),
    "november": ("2026-11-09", "2026-11-24"),
}
HARD, MILD = Tone("hard", 1.25), Tone("mild", 0.9)
CLOUDS = ((10, 12.5), (10, 14.5), (11, 15.5), (12, 15.0), (13, 7.5), (13, 12.5), (14, 8.25), (17, 12.5))


def held_out_scenes() -> Iterator[Scene]:
    return (replace(scene, held_out=True) for scene in _scenes())


def _scenes() -> Iterator[Scene]:
    yield from under_moons((25.0, 52.0, -35.0), SEASONS)
    for part in ("dusk", "dawn"):
        yield twilight(f"{part} 52° over a town", 52.0, "2026-11-09", part, floor_lx=0.3, aim_ev=0.5)
        yield behind_a_mountain(part, 25.0, "2026-05-16", 7.0, 1.2)
        yield behind_a_mountain(part, -35.0, "2026-02-17", 2.0, 1.8)
    dusk = twilight("dusk", 52.0, "2026-11-09", "dusk")
    for tone in (HARD, MILD):
        for learned in (False, True):
            name = f"dusk 52°, {tone.name} tone curve{'' if learned else ', not known'}"
            yield replace(dusk, name=name, camera=Camera(tone, learned))
    yield replace(dusk, name="dusk 52°, pictures known two slots late", lag=2)
    evening = twilight("evening", 0.0, "2026-06-15", "dusk")
    for day, hour in CLOUDS:
        for scene in (evening, by_day(1.5)):
            if scene.grid[-1] - scene.grid[0] < (17.0 - hour) * 3600:
                yield under_clouds(scene, day, hour)
    yield from lamps(twilight("night 52°", 52.0, "2026-11-09", "dusk", floor_lx=0.02), 11)
    yield from eclipses(
        (
            ("partial eclipse, magnitude 0.75", 0.5, 1.0),
            ("annular eclipse", 0.1, 0.95),
            ("short total eclipse", 0.0, 1.015),
        )
    )
    yield from starts(52.0, "2026-11-09", (-6.0, 6.0), (("dusk", 8.0), ("dusk", -2.0), ("dawn", -7.0), ("dusk", -8.0)))


def every_scene() -> Iterator[Scene]:
    yield from tuned_scenes()
    yield from held_out_scenes()


def quick_scenes() -> Iterator[Scene]:
    """Those that the test asserts, of both groups: starts and clouds, and a share of each other kind."""
    tuned = (
        *("dusk 0° equinox, new moon", "dawn 40° june, full moon", "dusk 40° december, new moon"),
        *("dawn 65° december, new moon", "dusk 65° june, full moon", "dusk 40° over a town"),
        *("dusk 40°, ridge at 4°", "dawn 40°, ridge at 4°", "dusk 40°, vivid tone curve"),
        *("dusk 40°, soft tone curve, not known", "night 40°, headlights", "night 40°, lightning"),
        *("partial eclipse, magnitude 0.6", "total eclipse"),
    )
    held_out = (
        *("dusk 25° february, new moon", "dawn -35° may, full moon", "dusk 52° november, new moon"),
        *("dawn 52° over a town", "dawn 25°, ridge at 7°", "dusk 25°, ridge at 7°"),
        *("dusk 52°, hard tone curve", "dusk 52°, mild tone curve, not known"),
        *("night 52°, headlights", "night 52°, lightning", "partial eclipse, magnitude 0.75", "short total eclipse"),
    )
    names = {*tuned, *held_out}
    return (s for s in every_scene() if s.name in names or s.kind in ("start", "cloud"))
