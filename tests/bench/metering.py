"""Metering: what a picture costs beside its decoding, and how well tone curves are recovered beside OpenCV.

    python -m tests.bench.metering

Prints the floor (Pillow's decoding of the same picture: the simulated camera's harbour at dusk) and ratios to it, then
for each picture style the error of sRGB, of our curve from a bracket and from a dusk's own steps, and of OpenCV's
Debevec and Robertson, EV rms over codes 20 to 240 against the style's formula.
"""

from __future__ import annotations

import functools
import io
import statistics
import time
from collections.abc import Callable, Sequence

import cv2
import numpy as np
from PIL import Image

from controller.decide.meter import SRGB, Region, meter
from controller.decide.response import Learned, cells, from_bracket, from_steps
from controller.simulated.lens import Lens
from controller.simulated.light import Place
from controller.simulated.scene import Scene
from tests.bench.rigs import ratio
from tests.decide.brackets import ORDER_EV, STYLES, Eye, bracket, dusk, error_ev

ROUNDS, TIMES = 60, 20
DUSK_UTC = 1_792_512_360.0  # 2026-10-20T16:06:00Z


def cost_us(works: Sequence[Callable[[], object]], times: int = TIMES) -> list[float]:
    """Microseconds of each, the best of some rounds; in turns, so that a busy machine is as busy for all of them."""
    best = [float("inf")] * len(works)
    for _ in range(ROUNDS):
        for i, work in enumerate(works):
            begun = time.perf_counter()
            for _ in range(times):
                work()
            best[i] = min(best[i], (time.perf_counter() - begun) / times)
    return [seconds * 1e6 for seconds in best]


def decode(jpeg: bytes, shrink: int) -> None:
    with Image.open(io.BytesIO(jpeg)) as picture:
        if shrink > 1:
            picture.draft("RGB", (picture.width // shrink, picture.height // shrink))
        picture.load()


def costs() -> None:
    harbour = Scene(Lens(1620, 1080, 260.0), Place(57.66, 11.72), "clear", 1).render(DUSK_UTC, 0.01)
    eye, large = Eye("standard", harbour / harbour.mean()), io.BytesIO()
    thumbnail = eye.thumbnail(0, 0)
    Image.fromarray(eye.image(0, 0)).save(large, "JPEG", quality=90)
    regions = [Region(0.4, 0.4, 0.6, 0.6, 0.0)]
    for name, jpeg, shrink, times in (
        ("thumbnail, 160 × 120", thumbnail, 1, TIMES),
        ("preview, 1620 × 1080", large.getvalue(), 4, 5),
    ):
        works: list[Callable[[], object]] = [
            functools.partial(decode, jpeg, shrink),
            functools.partial(meter, jpeg),
            functools.partial(meter, jpeg, SRGB, regions),
            functools.partial(cells, jpeg),
        ]
        floor, plain, weighed, learning = cost_us(works, times)
        print(f"{name}, {len(jpeg)} bytes: decoding {floor:.0f} µs, metering {plain:.0f} µs: {ratio(plain, floor)}")
        print(f"  with a region {ratio(weighed, floor)}; cells for learning {ratio(learning, floor)}")


def curves() -> None:
    print("EV rms over codes 20–240   sRGB   bracket   steps   Debevec   Robertson   (quality said: bracket, steps)")
    for style in STYLES:
        eye = Eye(style)
        images = [eye.image(0.0, float(ev)) for ev in ORDER_EV[:-1]]
        times = np.array([2.0**-ev for ev in ORDER_EV[:-1]], np.float32)
        theirs = [
            error_ev(made.process(images, times)[:, 0, 1], style)
            for made in (cv2.createCalibrateDebevec(samples=200), cv2.createCalibrateRobertson())
        ]
        ours = from_bracket(bracket(style)), from_steps(dusk(style, frames=120))
        errors = [error_ev(found.curve.linear, style) if isinstance(found, Learned) else np.nan for found in ours]
        said = [found.quality_ev if isinstance(found, Learned) else np.nan for found in ours]
        print(
            f"{style:24s} {error_ev(SRGB.linear, style):6.3f} {errors[0]:9.3f} {errors[1]:7.3f} "
            f"{theirs[0]:9.3f} {theirs[1]:11.3f}   ({said[0]:.3f}, {said[1]:.3f})"
        )


def efforts() -> None:
    shots, steps = bracket("flat"), dusk("flat", frames=120)
    for name, work in (
        ("a bracket of 8", lambda: from_bracket(shots)),
        ("120 frames of a dusk", lambda: from_steps(steps)),
    ):
        taken = []
        for _ in range(3):
            begun = time.process_time()
            work()
            taken.append(time.process_time() - begun)
        print(f"learning from {name}: {statistics.median(taken):.2f} s of processor time")


if __name__ == "__main__":
    costs()
    curves()
    efforts()
