"""What deciding costs, each figure as a ratio to a floor measured in the same run: the decoding of one thumbnail, where
nothing else is named.

`python -m tests.bench.deciding`
"""

from __future__ import annotations

import io
import time
import timeit
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

import astral
import astral.sun
import numpy as np
from PIL import Image

from controller.decide.effect import Change, Standing, effect
from controller.decide.forecast import forecast
from controller.decide.heading import heading
from controller.decide.meter import Reading, meter
from controller.decide.pace import PaceChange
from controller.decide.schedule import Window, windows
from controller.decide.step import Adjust, Finished, Moment, begin, metered, next_slot, used
from controller.decide.sun import altitudes
from tests.bench.rigs import machine, ratio
from tests.decide import changed, example, utc


def best_us(work: Callable[[], object], number: int) -> float:
    """Microseconds of processor time a call, the best of five."""
    return min(timeit.repeat(work, timer=time.process_time, number=number, repeat=5)) / number * 1e6


def thumbnail() -> bytes:
    """A JPEG of 160 × 120 with a sky, a ridge and noise."""
    rng = np.random.default_rng(1)
    ramp = np.linspace(210, 40, 120)[:, None, None] * np.ones((1, 160, 3))
    out = io.BytesIO()
    Image.fromarray(np.clip(ramp + rng.normal(0, 6, ramp.shape), 0, 255).astype(np.uint8)).save(out, "JPEG", quality=85)
    return out.getvalue()


def decoded(jpeg: bytes) -> None:
    """The floor of metering: decoding alone."""
    Image.open(io.BytesIO(jpeg)).load()


def main() -> None:
    print(machine())
    jpeg = thumbnail()
    floor, took = best_us(lambda: decoded(jpeg), 200), best_us(lambda: meter(jpeg), 200)
    print(f"metering a 160×120 thumbnail: {took:.0f} µs (goal: at most 3 times its decoding)")
    print(f"  beside decoding it, {floor:.0f} µs: {ratio(took, floor)}")

    plan = changed(example("quay_at_dusk"), when={"start": "noon", "stop": None, "duration": "24h"})
    plan = changed(plan, pace={"kind": "sun", "points": [[2, 5.0], [-6, 5.0]]})
    now = utc("2026-10-03T12:00:00")
    window = next(windows(plan, now))
    start = time.process_time()
    progress, slots = begin(plan, window, Moment(now, 0.0), earliest_mono=0.0), 0
    while True:
        moment = Moment(now + progress.due_mono, progress.due_mono)
        slot = next_slot(plan, Adjust(), progress, None, moment)
        if isinstance(slot, Finished):
            break
        reading = Reading(min(1.0, 0.18 * 2 ** (slot.sky_ev + 0.4 - slot.exposure.ev)), 0.0, 0.0, 160, 120)
        progress, _ = metered(plan, Adjust(), used(progress, slot, True), slot, reading)
        slots += 1
    took_s = time.process_time() - start
    moment_utc, quay = datetime.fromtimestamp(now, UTC), astral.Observer(57.7, 11.95)
    sun = best_us(lambda: astral.sun.elevation(quay, moment_utc), 200)
    each = took_s / slots * 1e6
    print(f"24 hours at 5 s: {slots} slots in {took_s:.2f} s, {each:.0f} µs each (goal: at most 100)")
    print(f"  beside one altitude of the sun by astral, {sun:.0f} µs: {ratio(each, sun)}")

    for name, night in (("an evening", window), ("ten thousand frames", Window(window.start_utc, None, 10_000))):
        took = best_us(lambda night=night: forecast(plan, Adjust(), None, night, None, Moment(now, 0.0)), 20)
        print(f"forecast of {name}: {took / 1000:.1f} ms (goal: at most 20), {ratio(took, floor)}")

    took = best_us(lambda: heading(plan, Adjust(), progress, window, None, Moment(now, progress.due_mono), None), 100)
    print(f"where it is heading: {took / 1000:.2f} ms, {ratio(took, floor)}")
    at = Standing(
        plan, Adjust(), window, progress, None, Moment(progress.due_utc - 7200, progress.due_mono), slots, now
    )
    pace = PaceChange(5.0, 2.0, at.now.utc, 600.0)
    for name, night in (("two hours", at), ("24 hours", replace(at, progress=None, now=Moment(now, 0.0)))):
        took = best_us(lambda night=night: effect(night, Change(Adjust(pace=pace))), 3)
        print(f"a change looked at, {name} ahead: {took / 1000:.0f} ms, {ratio(took, floor)}, in a process of its own")

    month = now + np.arange(259_200) * 10.0
    took = best_us(lambda: altitudes(57.7, 11.95, month), 1)
    print(f"30 days of sun altitudes at 10 s: {took / 1e6:.3f} s (goal: at most 0.5)")
    print(f"  beside as many single ones by astral: {ratio(took, 259_200 * sun)}")

    year = changed(example("quay_at_dusk"), when={"every": "day", "until": "2027-10-02"})
    start = time.process_time()
    found = len(list(windows(year, now)))
    took_s = time.process_time() - start
    print(f"windows of twelve months: {found} in {took_s:.2f} s (goal: at most 2), {ratio(1e6 * took_s, floor)}")


if __name__ == "__main__":
    main()
