"""Flicker before and after steadying, against the truth of simulated nights, beside two plain ways in the same run.

`python -m tests.bench.steadying [SEEDS]`

EV throughout, the worst of all seeds. `rms` and `step`: of what is faster than the eye takes for a change of light,
against the ideal; `drift`: the most of what is slower; `event`: by how much a flash stands out more or less.
Goals: rms 0.010, step 0.030, drift 0.10. The two plain ways: nothing, and a moving average of 8-bit means.
"""

from __future__ import annotations

import itertools
import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from controller.results.clip.steady import steady
from tests.bench.follow.light import cloud_ev
from tests.bench.rigs import machine
from tests.results.judging import Truth, Verdict, averaged, levels_of, slow, steadied, with_gaps
from tests.results.nights import INTERVAL_S, Floats, Night, dusk, styled
from tests.results.test_clip import file_of
from tests.results.test_steady_film import SIZE, film, save

FRAMES = 300
_ELAPSED_S = INTERVAL_S * np.arange(FRAMES)


def measured_clouds(day: int, hour: float, share: float) -> Floats:
    """By day, as seen from a lit ground; beneath them at dusk, and in a view with shadows, less of them arrives."""
    return share * cloud_ev(day, hour, _ELAPSED_S)


def rounded_clouds(day: int, hour: float) -> Floats:
    """The same minutes joined by curves (Catmull & Rom 1974) instead of lines: how light went within a minute was not
    measured. Lines turn it from one frame to the next, and by up to 0.13 EV a frame."""
    knots = np.pad(cloud_ev(day, hour, 60.0 * np.arange(27)), (1, 0), mode="reflect", reflect_type="odd")
    minute = (_ELAPSED_S // 60).astype(int) + 1
    x = _ELAPSED_S % 60 / 60
    p, q, r, s = (knots[minute + beside] for beside in (-1, 0, 1, 2))
    return np.asarray(q + x / 2 * (r - p + x * (2 * p - 5 * q + 4 * r - s + x * (3 * (q - r) + s - p))))


def drifting_clouds(day: int, hour: float) -> Floats:
    """The mean of a picture that each cloud crosses in a minute: an invention, wind and view being anybody's guess."""
    return np.asarray(np.log2(np.mean([2 ** cloud_ev(day, hour, _ELAPSED_S + lag) for lag in range(0, 60, 5)], axis=0)))


SCENES: dict[str, dict[str, Any]] = {
    "clear, sRGB": {},
    "clear, picture style": {"curve": styled},
    "slow clouds, 0.3 EV": {"clouds": 0.3, "curve": styled},
    "clouds of 4 min, 0.2 EV": {"broken": 0.2 * np.sin(2 * np.pi * _ELAPSED_S / 240)},
    "measured clouds, a third": {"broken": measured_clouds(14, 11.0, 1 / 3), "curve": styled},
    "measured broken clouds, all": {"broken": measured_clouds(11, 10.0, 1.0)},
    "the most broken ones, all": {"broken": measured_clouds(11, 15.5, 1.0)},
}
DISTURBANCES: dict[str, dict[str, Any]] = {
    "stairs alone": {},
    "3 % flicker": {"flicker": 0.03},
    "1 % jitter": {"jitter": 0.01},
    "lightning": {"lightning": True, "flicker": 0.01},
    "headlights": {"headlights": True, "flicker": 0.01},
    "all": {"flicker": 0.03, "jitter": 0.01, "lightning": True, "headlights": True},
}
WAYS = ("nothing", "moving average", "steadied")


def in_arrays(night: Night) -> list[Verdict]:
    truth = Truth(night)
    ways = (truth.taken, averaged(truth.taken), steadied(night, truth.taken))
    return [truth.judge(levels_of(each)) for each in ways]


def in_films(night: Night) -> list[Verdict]:
    """Of decoded H.264, the pictures being JPEGs first."""
    truth = Truth(night, SIZE)
    with tempfile.TemporaryDirectory() as name:
        directory = Path(name)
        rows = save(directory, truth.taken, night.exposure_ev, [100] * len(truth.taken))
        nothing, steady = (film(directory, rows, steady=way)[0] for way in (False, True))
        for slot, pixels in zip(rows, averaged(truth.taken), strict=True):
            path = file_of(directory, slot)
            Image.fromarray(pixels).save(path, quality=92)
            os.utime(path, ns=(0, path.stat().st_mtime_ns + 10**9))  # another file, whatever was seen before
        plain = film(directory, rows, steady=False)[0]
    return [truth.judge(each) for each in (nothing, plain, steady)]


def table(judged: Callable[[Night], list[Verdict]], disturbances: list[str], seeds: int) -> None:
    print(f"| scene | disturbed by | {' | '.join(f'{way}: rms, step' for way in WAYS)} | drift | event |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    met = rows = 0
    for (scene, light), name in itertools.product(SCENES.items(), disturbances):
        tried = [judged(dusk(FRAMES, seed=seed, **light, **DISTURBANCES[name])) for seed in range(1, seeds + 1)]
        worst = [
            Verdict(*(max(getattr(one[way], field) for one in tried) for field in Verdict.__dataclass_fields__))
            for way in range(len(WAYS))
        ]
        ours = worst[-1]
        rows += 1
        met += ours.rms <= 0.01 and ours.step <= 0.03 and ours.drift <= 0.1
        cells = [f"{each.rms:.4f}, {each.step:.3f}" for each in worst]
        print(f"| {scene} | {name} | {' | '.join(cells)} | {ours.drift:.3f} | {ours.event:.3f} |", flush=True)
    print(f"\n{met} of {rows} rows meet all goals\n")


def gaps(seeds: int) -> None:
    """Five gaps a night of so many slots, all disturbances; beside it steadying as if frames were slots."""
    ways = "nothing: rms, step | as if frames were slots | steadied"
    print(f"| scene | slots missing | {ways} | drift | the film's own | the ideal's own |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- |")
    for (scene, light), lacking in itertools.product(SCENES.items(), (1, 2, 5, 10, 20)):
        kept, found = with_gaps(FRAMES, lacking), []
        for seed in range(1, seeds + 1):
            truth = Truth(night := dusk(FRAMES, seed=seed, **light, **DISTURBANCES["all"]), kept=kept)
            blind, after = (levels_of(steadied(night, truth.taken, kept, way)) for way in (True, False))
            told = [truth.judge(each) for each in (truth.before, blind, after)]
            calm = night.event_ev[kept] == 0
            there = (np.diff(kept) > 1) & calm[1:] & calm[:-1]
            own = [np.abs(np.diff(each))[there].max() for each in (after, truth.ideal)]
            found.append([*(figure for each in told for figure in (each.rms, each.step)), told[-1].drift, *own])
        worst = np.max(found, axis=0)
        cells = [f"{rms:.4f}, {step:.3f}" for rms, step in zip(worst[0:6:2], worst[1:6:2], strict=True)]
        print(
            f"| {scene} | {lacking} | {' | '.join(cells)} | {worst[6]:.3f} | {worst[7]:.3f} | {worst[8]:.3f} |",
            flush=True,
        )
    print()


def half_hours(flicker: float, clouds: Callable[[int, float], Floats]) -> None:
    """Every half hour of the measured days, full strength, on tracks alone."""
    found = []
    for day, hour in itertools.product((10, 11, 12, 13, 14, 17), np.arange(8.0, 16.5, 0.5).tolist()):
        night = dusk(FRAMES, broken=clouds(day, hour), flicker=flicker)
        track = steady(night.scene_ev - night.exposure_ev + night.flicker_ev, night.exposure_ev)
        off = track.wanted - night.wanted
        fast = off - slow(off, 4)
        found.append([fast.std(), np.abs(np.diff(fast)).max(), np.abs(slow(off, 15)).max()])
    figures = np.array(found)
    met = (figures <= [0.01, 0.03, 0.1]).all(axis=1)
    print(
        f"{100 * flicker:.0f} % flicker: {met.sum()} of {met.size} half hours meet all goals; rms, step, drift:",
        end=" ",
    )
    for name, each in (("median", np.median(figures, axis=0)), ("most", figures.max(axis=0))):
        print(f"{name} {each[0]:.4f}, {each[1]:.3f}, {each[2]:.3f}", end="; ")
    print()


def main() -> None:
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    print(machine())
    print(f"\npictures, {FRAMES} frames, {seeds} seeds\n")
    table(in_arrays, list(DISTURBANCES), seeds)
    print(
        "gaps; a film's own: its largest step at one, between frames without events; the ideal is what is asked for\n"
    )
    gaps(seeds)
    print("measured clouds at full strength, their minutes joined by lines\n")
    for flicker in (0.01, 0.03):
        half_hours(flicker, lambda day, hour: measured_clouds(day, hour, 1.0))
    for how, clouds in (("by curves", rounded_clouds), ("by lines, drifting over the picture", drifting_clouds)):
        print(f"\n{how}\n")
        for flicker in (0.01, 0.03):
            half_hours(flicker, clouds)
    print(f"\ndecoded H.264, {FRAMES} frames, {SIZE[0]} × {SIZE[1]} pixels\n")
    table(in_films, ["stairs alone", "all"], 1)


if __name__ == "__main__":
    main()
