"""How near sun and moon come to JPL's DE421 over 2026 at ten places, and what they cost.

`python -m tests.bench.sun`
"""

from __future__ import annotations

import timeit
from collections.abc import Callable

import numpy as np

from controller.decide import moon, sun
from tests.bench.rigs import machine, ratio
from tests.decide import ephemeris
from tests.decide.ephemeris import FROM_UTC, PLACES, TO_UTC, crossings, track

NIGHTS = FROM_UTC + 10.0 * np.arange(30 * 8640)
"""30 days at 10 s."""


def off(found: list[tuple[str, float]], name: str, expected: np.ndarray) -> tuple[int, int, np.ndarray]:
    """How many of an event are missing, how many are invented, and by how many seconds the others are off."""
    ours = np.array([utc for called, utc in found if called == name])
    if ours.size == expected.size:
        return 0, 0, np.abs(ours - expected)
    return max(0, expected.size - ours.size), max(0, ours.size - expected.size), np.zeros(0)


def accuracy() -> None:
    print("place                      sun°   moon°  events  missed  invented  off s: 50 %    max   moon: max")
    for place, (latitude, longitude) in PLACES.items():
        seen, moons = track("sun", place), track("moon", place)
        sun_deg = np.abs(sun.altitudes(latitude, longitude, seen.utc) - seen.altitude).max()
        moon_deg = np.abs(moon.moon_altitudes(latitude, longitude, seen.utc) - moons.altitude).max()
        found = [(e.name, e.utc) for e in sun.events(latitude, longitude, FROM_UTC, TO_UTC)]
        results = [
            off(found, name, crossings(seen.utc, seen.altitude - level, name.endswith("dawn") or name == "sunrise"))
            for name, level in sun.EVENT_ALTITUDE_DEG.items()
        ]
        risen = [(e.name, e.utc) for e in moon.moon_events(latitude, longitude, FROM_UTC, TO_UTC)]
        results_moon = [
            off(risen, name, crossings(moons.utc, moons.limb(), name == "moonrise")) for name in ("moonrise", "moonset")
        ]
        missed, invented = (sum(r[k] for r in (*results, *results_moon)) for k in (0, 1))
        late, moon_late = (np.concatenate([r[2] for r in some]) for some in (results, results_moon))
        print(
            f"{place:25} {sun_deg:6.4f}  {moon_deg:6.4f}  {late.size + moon_late.size:6}  {missed:6}  {invented:8}"
            f"  {np.median(late):10.2f}  {late.max():6.1f}  {moon_late.max():9.1f}"
        )
    utc, lit = ephemeris.lit()
    ours = np.array([moon.illuminated(float(t)) for t in utc[::7]])
    print(f"illuminated fraction: {np.abs(ours - lit[::7]).max():.5f} at most (goal: 0.01)")


def best_s(work: Callable[[], object]) -> float:
    return min(timeit.repeat(work, number=1, repeat=5))


def cost() -> None:
    floor = best_s(lambda: np.sin(NIGHTS))
    for name, altitudes in (("sun", sun.altitudes), ("moon", moon.moon_altitudes)):
        took = best_s(lambda altitudes=altitudes: altitudes(57.7, 11.95, NIGHTS))
        print(f"{NIGHTS.size} altitudes of the {name}: {took:.3f} s; beside as many sines {ratio(took, floor)}")
    print("(goal: sun at most 0.5 s)")


if __name__ == "__main__":
    print(machine())
    accuracy()
    cost()
