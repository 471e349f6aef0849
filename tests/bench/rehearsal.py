"""What a rehearsal costs: processor time beside a floor of the same run, and memory by the number of frames.

`python -m tests.bench.rehearsal`. The floor is the bare walk of what decides over the same slots: no engine, no camera,
no log. Times are of the processor, the best of several runs, for other work may be on the machine.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time

from controller.decide.meter import Reading
from controller.decide.plan import Plan, plan_from
from controller.decide.schedule import windows
from controller.decide.step import Adjust, Finished, Moment, begin, metered, next_slot, used
from controller.rehearsal import rehearse_now
from tests.bench.rigs import machine, ratio
from tests.decide import utc

RUNS = 5
NOW = utc("2026-10-03T00:00:00")


def plan(days: int) -> Plan:
    """Every 5 s by sun and light, for so many days."""
    return plan_from(
        {
            "name": "bench",
            "site": {"latitude": 57.7, "longitude": 11.95},
            "when": {"start": "2026-10-03T00:10", "frames": 17_280 * days},
            "pace": {"kind": "sun", "points": [[2, 5.0], [-6, 5.0]], "min_gap_s": 1.0},
            "light": {
                "kind": "follow",
                "shutter_s": [0.0005, 18.0],
                "aperture": [2.8, 2.8],
                "iso": [100, 3200],
                "order": ["shutter", "iso"],
            },
        }
    )


def walk(shot: Plan) -> int:
    """The floor: slots decided and metered one after the other."""
    progress = begin(shot, next(windows(shot, NOW)), Moment(NOW, 0.0), earliest_mono=0.0)
    slots = 0
    while True:
        moment = Moment(NOW + progress.due_mono, progress.due_mono)
        slot = next_slot(shot, Adjust(), progress, None, moment)
        if isinstance(slot, Finished):
            return slots
        reading = Reading(min(1.0, 0.18 * 2 ** (slot.sky_ev - slot.exposure.ev)), 0.0, 0.0, 160, 120)
        progress, _ = metered(shot, Adjust(), used(progress, slot, True), slot, reading)
        slots += 1


def memory(days: int) -> float:
    """Most resident MB of a process of its own that rehearses so many days."""
    command = [sys.executable, "-m", "tests.bench.rehearsal", str(days)]
    return float(subprocess.run(command, capture_output=True, check=True, text=True).stdout)


def main() -> None:
    if len(sys.argv) > 1:
        rehearse_now(plan(int(sys.argv[1])), now_utc=NOW)
        print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
        return
    print(machine())
    day = plan(1)
    took: list[float] = []
    floor: list[float] = []
    for _ in range(RUNS):
        start = time.process_time()
        frames = rehearse_now(day, now_utc=NOW).summary.frames
        took.append(time.process_time() - start)
        start = time.process_time()
        assert walk(day) == frames == 17_280
        floor.append(time.process_time() - start)
    best, least = min(took), min(floor)
    print(f"24 hours at 5 s, {frames} frames: {best:.2f} s, {best / frames * 1e6:.0f} µs a frame (goal: at most 3 s)")
    print(f"the bare walk of what decides: {least:.2f} s; {ratio(best, least)}")
    one, four = memory(1), memory(4)
    print(f"memory, most resident: {one:.1f} MB for one day, {four:.1f} MB for four (goal: flat)")


if __name__ == "__main__":
    main()
