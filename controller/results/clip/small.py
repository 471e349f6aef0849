"""Previews between black bars: which shape the picture in them has, told once for all of a clip."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from controller.results.clip.geometry import Size
from controller.results.clip.reading import Unreadable, decode, opened
from controller.words.bars import bar_beside, shape_between_bars

_SAMPLED = 9  # previews, spread over the shoot: a dark one tells nothing
_AT_LEAST = (160, 120)

Edges = tuple[int, int, int, int]
"""Left, upper, right, lower, in pixels."""


def between(paths: Sequence[Path]) -> float | None:
    """Width by height of the picture between bars; None where a third of the previews do not show such bars."""
    if not paths:
        return None
    some = [paths[place] for place in sorted({n * (len(paths) - 1) // _SAMPLED for n in range(_SAMPLED + 1)})]
    found: Counter[float | None] = Counter()
    for path in some:
        try:
            with opened(path) as image:
                codes = np.asarray(decode(image, _AT_LEAST))
        except Unreadable:
            continue
        found[shape_between_bars(np.ascontiguousarray(codes.transpose(2, 0, 1)))] += 1
    shapes = [(count, shape) for shape, count in found.items() if shape is not None]
    count, shape = max(shapes, default=(0, None))
    return shape if 3 * count >= found.total() else None


def inside(size: Size, shape: float) -> Edges | None:
    """What lies between the bars of a picture of `size`; None where there are none."""
    width, height = size
    bar, axis = bar_beside(height, width, shape)
    cut = math.ceil(bar)
    if bar < 1:
        return None
    return (0, cut, width, height - cut) if axis == 0 else (cut, 0, width - cut, height)
