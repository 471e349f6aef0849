"""The light rule beside a reactive controller and an oracle, scene by scene.

`python -m tests.bench.follow` prints every scene, first those on which the rule's constants were chosen, then those
held out; `--quick` prints those that the tests assert; `--scene WORDS` some.
"""

from __future__ import annotations

import argparse
import math
import time
from collections.abc import Iterable, Iterator

from tests.bench.follow.contenders import Track, oracle, ours, reactive
from tests.bench.follow.figures import Figures, figures
from tests.bench.follow.held_out import every_scene, quick_scenes
from tests.bench.follow.scenes import Scene
from tests.bench.rigs import machine

HEAD = (
    f"{'scene':<46}{'frames':>7}{'p95 EV':>19}{'rms EV':>19}{'÷oracle':>8}{'reversals':>15}"
    f"{'clipped':>12}{'to trend EV':>13}{'start':>6}{'hunt':>5} fits"
)
Row = tuple[Scene, Figures, Figures, Figures]


def rows(scenes: Iterable[Scene]) -> Iterator[Row]:
    """Each scene with the figures of ours, of the reactive controller and of the oracle."""
    for scene in scenes:
        mine = ours(scene)
        tracks: tuple[Track, ...] = (mine, reactive(scene, mine), oracle(scene, mine))
        unknown = not scene.camera.learned
        one, other, best = (figures(scene, track, as_metered=unknown) for track in tracks)
        yield scene, one, other, best


def line(row: Row) -> str:
    """One scene's figures: ours, reactive, oracle."""
    scene, *three = row
    one, other, best = three

    def of(name: str, pattern: str) -> str:
        return " ".join(format(getattr(f, name), pattern) for f in three)

    return (
        f"{scene.name:<46}{one.frames:>7}  {of('p95_ev', '5.2f')}  {of('rms_ev', '5.3f')}"
        f"{one.rms_ev / best.rms_ev:>8.2f}{of('reversals', '4d'):>15}{of('clipped', '3d'):>12}"
        f"{one.trend_ev:>7.2f}{other.trend_ev:>6.2f}{one.started_ev:>6.2f}{one.hunting:>5}"
        f" {'yes' if one.fits else 'NO'}"
    )


def summary(table: list[Row]) -> Iterator[str]:
    """The figures of a group of scenes: the worst of the clear ones, and the cloud scenes together."""
    known = [r for r in table if r[0].kind == "clear" and r[0].camera.learned and r[0].lag == 1]
    if known:
        yield (
            f"{len(known)} clear: worst p95 {max(one.p95_ev for _, one, _, _ in known):.2f} EV,"
            f" worst rms {max(one.rms_ev / best.rms_ev for _, one, _, best in known):.2f} × the oracle's,"
            f" {sum(max(0, one.reversals - best.reversals) for _, one, _, best in known)} reversals beyond its,"
            f" {sum(one.clipped for _, one, _, _ in known)} frames clipped"
        )
    cloud = [r for r in table if r[0].kind == "cloud"]
    if cloud:
        frames = sum(one.frames for _, one, _, _ in cloud)
        ours, other = (math.sqrt(sum(r[1].frames * r[k].trend_ev ** 2 for r in cloud) / frames) for k in (1, 2))
        yield (
            f"{len(cloud)} of clouds: {sum(r[1].reversals for r in cloud)} reversals against"
            f" {sum(r[2].reversals for r in cloud)}, {ours:.3f} against {other:.3f} EV rms to the trend,"
            f" {sum(r[1].clipped for r in cloud)} of {frames} frames clipped against {sum(r[2].clipped for r in cloud)}"
        )
    start = [r for r in table if r[0].kind == "start"]
    if start:
        worst = max(one.started_ev for _, one, _, _ in start)
        yield f"{len(start)} starts: {worst:.2f} EV off at most after 5 frames"
    yield f"{sum(not one.fits for _, one, _, _ in table)} of {len(table)} scenes with an exposure that did not fit"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="only the scenes of the test")
    parser.add_argument("--scene", default="", help="only scenes whose name or kind has these words")
    args = parser.parse_args()
    print(machine())
    print("three figures: ours, reactive, oracle; two: ours, reactive; one: ours")
    print(HEAD)
    began = time.process_time()
    scenes = quick_scenes() if args.quick else every_scene()
    table = []
    for row in rows(s for s in scenes if args.scene in s.name or args.scene == s.kind):
        if row[0].held_out and not (table and table[-1][0].held_out):
            print("held out, no constant was chosen on these:")
        print(line(row), flush=True)
        table.append(row)
    for name, held_out in (("chosen on", False), ("held out", True)):
        for text in summary([row for row in table if row[0].held_out == held_out]):
            print(f"{name}: {text}")
    print(f"{time.process_time() - began:.0f} s of processor time")


if __name__ == "__main__":
    main()
