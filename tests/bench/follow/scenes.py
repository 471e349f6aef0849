"""Scenes: a place, a window, the true brightness at each moment, and a camera that looks at it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from controller.decide.moon import moon
from controller.decide.plan import Plan, plan_from
from controller.decide.schedule import Window
from controller.decide.sun import altitudes
from tests.bench.follow import light
from tests.bench.follow.camera import SOFT, SRGB_TONE, VIVID, Camera
from tests.bench.follow.light import Floats
from tests.decide import utc

GRID_S = 5.0
UP_DEG, DOWN_DEG = 10.0, -19.0
PACE = {"kind": "sun", "points": [[2, 6.0], [-6, 10.0], [-14, 20.0]], "min_gap_s": 1.0}
SKY_EV = float(np.log2(20 / np.pi))  # what a camera that looks at a uniform sky meters above the incident light


@dataclass(frozen=True)
class Scene:
    """`kind` says which figures count; `ev` is what a meter at the camera would show at the times `grid`."""

    name: str
    kind: str  # clear, cloud, lamp, eclipse, start
    plan: Plan
    window: Window
    grid: Floats
    ev: Floats
    camera: Camera = field(default_factory=Camera)
    flash: Callable[[float, float], float] = lambda utc, shutter_s: 0.0  # EV on top, for one frame
    lag: int = 1  # after how many slots a picture is known
    held_out: bool = False  # no constant of the light rule was chosen on it

    def at(self, utc: float) -> float:
        return float(np.interp(utc, self.grid, self.ev))


def site(latitude: float, **pace: object) -> Plan:
    """A plan whose limits never bind, so that what is measured is the light rule."""
    return plan_from(
        {
            "name": "bench",
            "site": {"latitude": latitude, "longitude": 0.0},
            "when": {"start": "now"},
            "pace": {**PACE, **pace},
            "light": {
                "kind": "follow",
                "shutter_s": [0.000125, 18.0],
                "aperture": [1.4, 11],
                "iso": [100, 51200],
                "order": ["shutter", "aperture", "iso"],
            },
        }
    )


def half_day(latitude: float, day: str, part: str) -> tuple[Floats, Floats]:
    """Times and sun altitudes of a dusk or a dawn: between +10° and −19°, or as far as that day's sun goes."""
    start = utc(f"{day}T{'12:10' if part == 'dusk' else '00:10'}:00")
    grid = start + np.arange(0, 11.7 * 3600, GRID_S)
    h = altitudes(latitude, 0.0, grid)
    span = np.flatnonzero((h <= UP_DEG) & (h >= DOWN_DEG))
    return grid[span], h[span]


def moonlight(latitude: float, grid: Floats) -> Floats:
    nodes = np.arange(grid[0] - 300, grid[-1] + 600, 300.0)
    moons = [moon(latitude, 0.0, float(t)) for t in nodes]
    height = np.interp(grid, nodes, [m.altitude_deg for m in moons])
    return light.moon_lx(height, np.interp(grid, nodes, [m.elongation_deg for m in moons]))


def twilight(
    name: str, latitude: float, day: str, part: str, *, floor_lx: float = light.STARLIT_LX, aim_ev: float = SKY_EV
) -> Scene:
    """A clear dusk or dawn, seen by a camera that looks at the sky; glow over the sun's place adds 0.6 EV near −5°."""
    grid, h = half_day(latitude, day, part)
    lx = light.sun_lx(h) + moonlight(latitude, grid) + floor_lx
    glow = 0.6 * np.exp(-(((h + 5) / 4) ** 2)) if part == "dusk" else 0.0
    window = Window(float(grid[0]), float(grid[-1]))
    return Scene(name, "clear", site(latitude), window, grid, light.ev(lx) + aim_ev + glow)


SEASONS = {  # days of 2026 near equinox and solstices, one near the new moon and one near the full one
    "equinox": ("2026-03-19", "2026-04-02"),
    "june": ("2026-06-15", "2026-06-29"),
    "december": ("2026-12-09", "2026-12-24"),
}


def under_moons(latitudes: Iterable[float], seasons: dict[str, tuple[str, str]]) -> Iterator[Scene]:
    for latitude in latitudes:
        for season, days in seasons.items():
            for part in ("dusk", "dawn"):
                for day, sky in zip(days, ("new moon", "full moon"), strict=True):
                    yield twilight(f"{part} {latitude:.0f}° {season}, {sky}", latitude, day, part)


def clear_scenes() -> Iterator[Scene]:
    yield from under_moons((0.0, 40.0, 65.0), SEASONS)
    for part in ("dusk", "dawn"):
        yield twilight(f"{part} 40° over a town", 40.0, "2026-03-19", part, floor_lx=0.15, aim_ev=1.0)
        yield behind_a_mountain(part)


def behind_a_mountain(
    part: str, latitude: float = 40.0, day: str = "2026-03-19", ridge_deg: float = 4.0, loses_ev: float = 1.5
) -> Scene:
    """The disc goes behind a ridge within minutes; the sky alone is so much darker, until real sunset."""
    scene = twilight(f"{part} {latitude:.0f}°, ridge at {ridge_deg:.0f}°", latitude, day, part)
    h = altitudes(latitude, 0.0, scene.grid)
    hidden = np.clip((ridge_deg + 0.27 - h) / 0.53, 0, 1)
    return replace(scene, ev=scene.ev - loses_ev * hidden * np.clip((h + 0.8) / (ridge_deg + 0.8), 0, 1))


def by_day(hours: float) -> Scene:
    grid = utc("2026-03-19T10:00:00") + np.arange(0, hours * 3600, GRID_S)
    ev = light.ev(light.sun_lx(altitudes(40.0, 0.0, grid)))
    return Scene("day", "clear", site(40.0), Window(float(grid[0]), float(grid[-1])), grid, ev)


def under_clouds(scene: Scene, day: int, hour: float) -> Scene:
    """A scene with the clouds of a day of March 2019 laid over it."""
    name = f"{scene.name.split()[0]}, clouds of March {day}, {hour:g} h"
    return replace(scene, name=name, kind="cloud", ev=scene.ev + light.cloud_ev(day, hour, scene.grid - scene.grid[0]))


def cloud_scenes() -> Iterator[Scene]:
    """Clouds as measured in the middle of a day, laid over a dusk and over a day."""
    hours = ((11, 13.0), (12, 9.0), (12, 12.5), (13, 10.0), (14, 11.0), (11, 8.5), (11, 10.5), (12, 10.75), (14, 13.5))
    dusk = twilight("dusk 40°", 40.0, "2026-03-19", "dusk")
    for day, hour in hours:
        for scene in (dusk, by_day(2.5)):
            yield under_clouds(scene, day, hour)
    plan = site(40.0, kind="light", points=[[12, 5.0], [0, 12.0], [-8, 20.0]])
    yield replace(under_clouds(dusk, 11, 13.0), name="dusk, clouds of March 11, pace by light", plan=plan)


def eclipses(kinds: Iterable[tuple[str, float, float]]) -> Iterator[Scene]:
    """Name, least distance of the centres in solar radii, moon's radius over the sun's.

    Brightness of a total eclipse's sky, 10⁻⁴ of the day's: Möllmann & Vollmer, Eur. J. Phys. 27 (2006) 1299.
    """
    for name, closest, ratio in kinds:
        day = by_day(4.0)
        share = 1 - light.eclipsed(day.grid - day.grid.mean(), closest, ratio)
        yield replace(day, name=name, kind="eclipse", ev=day.ev + np.log2(np.maximum(share, 1e-4)))


def eclipse_scenes() -> Iterator[Scene]:
    yield from eclipses((("partial eclipse, magnitude 0.6", 0.8, 1.0), ("total eclipse", 0.0, 1.04)))


def lamps(night: Scene, seed: int) -> tuple[Scene, Scene]:
    """Headlights pass for 4 to 12 s, +0.8 … +2.5 EV on the mean; lightning adds 1 … 5 EV to one frame in eight."""
    rng = np.random.default_rng(seed)
    passes = np.cumsum(rng.exponential(150.0, 200)) + night.window.start_utc
    length, height = rng.uniform(4, 12, 200), rng.uniform(0.8, 2.5, 200)

    def headlights(utc: float, shutter_s: float) -> float:
        on = np.clip(
            np.minimum(passes + length, utc + shutter_s / 2) - np.maximum(passes, utc - shutter_s / 2), 0, None
        )
        return float(np.log2(1 + np.sum((2**height - 1) * on / max(shutter_s, 1e-3))))

    def lightning(utc: float, shutter_s: float) -> float:
        draw = np.random.default_rng(int(utc))
        return float(draw.uniform(1, 5)) if draw.random() < 1 / 8 else 0.0

    return (
        replace(night, name=f"{night.name}, headlights", kind="lamp", flash=headlights),
        replace(night, name=f"{night.name}, lightning", kind="lamp", flash=lightning),
    )


def lamp_scenes() -> Iterator[Scene]:
    yield from lamps(twilight("night 40°", 40.0, "2026-03-19", "dusk", floor_lx=0.01), 5)


def camera_scenes() -> Iterator[Scene]:
    """Three tone curves, decoded as sRGB (the body's own is not known yet) and with the body's own."""
    dusk = twilight("dusk", 40.0, "2026-03-19", "dusk")
    for tone in (SRGB_TONE, VIVID, SOFT):
        for learned in (False, True) if tone is not SRGB_TONE else (True,):
            name = f"dusk 40°, {tone.name} tone curve{'' if learned else ', not known'}"
            yield replace(dusk, name=name, kind="clear", camera=Camera(tone, learned))
    yield replace(dusk, name="dusk 40°, pictures known two slots late", lag=2)


def starts(latitude: float, day: str, wrongs: Iterable[float], moments: Iterable[tuple[str, float]]) -> Iterator[Scene]:
    """Light that is so much brighter or darker than the sky model's, from a sun altitude on, for five minutes."""
    for wrong in wrongs:
        for part, from_deg in moments:
            scene = twilight(f"start at {from_deg:+.0f}°, {part}, guess {wrong:+.0f} EV off", latitude, day, part)
            h = altitudes(latitude, 0.0, scene.grid)
            first = int(np.flatnonzero(h <= from_deg if part == "dusk" else h >= from_deg)[0])
            window = Window(float(scene.grid[first]), float(scene.grid[first]) + 300)
            yield replace(scene, kind="start", window=window, ev=scene.ev - SKY_EV + wrong)


def start_scenes() -> Iterator[Scene]:
    moments = (("dusk", 5.0), ("dusk", -4.0), ("dawn", -4.0), ("dusk", -9.0))
    yield from starts(40.0, "2026-03-19", (-6.0, 6.0), moments)


def tuned_scenes() -> Iterator[Scene]:
    """Those on which the light rule's constants were chosen."""
    for group in (clear_scenes, camera_scenes, cloud_scenes, lamp_scenes, eclipse_scenes, start_scenes):
        yield from group()
