"""The best frame of each hour: the sharpest of those that are well lit."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np

from controller.results.series.measure import Measures

LIGHT_WEIGHT = 10.0
"""What a share of pixels without anything in it, white or black, costs against log2 of the sharpness: a tenth of the
picture as much as half of the sharpness (common practice, no source)."""


def hour_of(local: datetime) -> int:
    """The hour by the place's clock: the minute of UTC at which it began.

    Where a zone is half an hour off its hours are too, and the hour that comes twice in autumn is two.
    """
    return (int(local.timestamp()) - local.minute * 60 - local.second) // 60


def score(measures: Measures) -> float:
    """The higher the better; to be compared within an hour, of the same scene in the same light."""
    return measures.sharp - LIGHT_WEIGHT * (measures.clipped + measures.black)


def best_of_each(hours: Sequence[int], scores: Sequence[float], fit: Sequence[bool]) -> list[int]:
    """Places of the best fit frame of each hour, by hour; an hour without a fit one has none. The first of equals."""
    number = np.asarray(hours)
    order = sorted(range(number.size), key=lambda place: (hours[place], -scores[place], place))
    found: list[int] = []
    for place in order:
        if fit[place] and not (found and hours[found[-1]] == hours[place]):
            found.append(place)
    return found
