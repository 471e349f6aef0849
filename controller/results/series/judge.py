"""Fog, drops on the lens, and night, told by what is usual at the same site in the weeks around.

Nothing is compared with a number from elsewhere: a site has the contrast that it has, and it changes as it is built.
Lines are common practice without a source, set on drawn scenes (tests/results/test_series_judge.py), and two of them on
a photograph with weather put into it (tests/bench/weather.py).
"""

from __future__ import annotations

from array import array

import numpy as np
from numpy.typing import NDArray

from controller.results.series.measure import TILES, Measures, tile_values

Floats = NDArray[np.float64]

AROUND_DAYS = 15
"""Days before and after that are asked for what is usual."""

LEAST_DAYS = 5
"""Days without which nothing is usual yet, and nothing is fog or drops."""

NIGHT_EV = 8.0
"""Below the brightest of usual days: between sunset and the end of civil twilight, by the tables of illuminance in the
Explanatory Supplement to the Astronomical Almanac (1992)."""

FOG_CONTRAST, FOG_SHARP = -1.3, -1.0
"""log2 against the usual: two fifths of the contrast, and half of the sharpness too. An overcast sky leaves more of the
first, and fresh snow more of the second."""

VEILED = -0.5
"""log2: where tiles are blurred and the whole picture lost so much of both, it is thin fog before what is far; drops
leave most of both."""

DROP_SHARP = -2.0
"""log2 of the sharpness of a tile that a drop blurs, against the usual and against the rest of the picture."""

DROP_TILES, CLEAR_TILES = 0.05, 0.25
"""Shares of the tiles that have something to blur: so many blurred are drops, as long as so many are as usual."""

_AS_USUAL = 1.0
_STEADY = 1.5
"""log2: a tile that is softer by more on one usual day of six is sky or leaves, and tells nothing of drops."""

_GROUND = 4.0
"""log2 below the sharpest tenth of the tiles: one with less, such as sky or a plain wall, shows little but noise, and
has nothing to be blurred."""

_BLOCK = 4096

_TILES = TILES[0] * TILES[1]


class Table:
    """Measures of many pictures, some 130 bytes each: months of them fit into memory."""

    def __init__(self) -> None:
        self._days, self._light, self._rms, self._sharp = array("i"), array("f"), array("f"), array("f")
        self._tiles = bytearray()

    def add(self, day: int, measures: Measures) -> None:
        """The next picture, of a local day's number."""
        self._days.append(day)
        self._light.append(measures.light)
        self._rms.append(measures.rms)
        self._sharp.append(measures.sharp)
        self._tiles += measures.tiles.tobytes()

    def __len__(self) -> int:
        return len(self._days)

    @property
    def days(self) -> NDArray[np.int32]:
        return np.array(self._days, np.int32)

    @property
    def light(self) -> Floats:
        return np.array(self._light, float)

    @property
    def rms(self) -> Floats:
        return np.array(self._rms, float)

    @property
    def sharp(self) -> Floats:
        return np.array(self._sharp, float)

    @property
    def tiles(self) -> NDArray[np.uint8]:
        """The sharpness of each picture's tiles, as it is kept: (pictures, tiles)."""
        return np.frombuffer(bytes(self._tiles), np.uint8).reshape(-1, _TILES)


def judge(table: Table) -> list[str | None]:
    """Of each picture 'night', 'fog', 'drops', or None where it is fit to be shown."""
    days, place = np.unique(table.days, return_inverse=True)
    said: list[str | None] = [None] * len(table)
    if days.size == 0:
        return said
    bright = _usual(days, _daily(place, days.size, table.light, 90))[place]
    night = table.light < bright - NIGHT_EV
    lit = np.where(night, np.nan, 1.0)
    rms, sharpness = table.rms, table.sharp
    contrast = rms - _usual(days, _daily(place, days.size, rms * lit, 75))[place]
    sharp = sharpness - _usual(days, _daily(place, days.size, sharpness * lit, 75))[place]
    drops = _drops(table, days, place, lit)
    known = _known(days, _daily(place, days.size, lit, 50))[place]
    for number in range(len(said)):
        if night[number]:
            said[number] = "night"
        elif not known[number]:
            continue
        elif contrast[number] < FOG_CONTRAST and sharp[number] < FOG_SHARP:
            said[number] = "fog"
        elif drops[number]:
            veiled = contrast[number] < VEILED and sharp[number] < VEILED
            said[number] = "fog" if veiled else "drops"
    return said


def _drops(table: Table, days: NDArray[np.int32], place: NDArray[np.intp], lit: Floats) -> NDArray[np.bool_]:
    tiles = table.tiles
    centre = tile_values(np.median(tiles, axis=0))
    some = centre > np.percentile(centre, 90) - _GROUND
    whole = np.concatenate(  # how sharp each picture is in all, block by block
        [
            np.median(tile_values(tiles[n : n + _BLOCK, some]) - centre[some], axis=1)
            for n in range(0, len(tiles), _BLOCK)
        ]
    )
    blurred, clear, textured = (np.zeros(place.size) for _ in range(3))
    for number in np.flatnonzero(some):
        own = tile_values(tiles[:, number]).astype(float)
        daily = _daily(place, days.size, (own - whole) * lit, 50)
        usual = _usual(days, daily)
        steady = usual - _usual(days, daily, 15) < _STEADY
        there = steady[place]
        off = own - whole - usual[place]
        textured += there
        blurred += there & (off < DROP_SHARP)
        clear += there & (np.abs(off) < _AS_USUAL)
    share = np.maximum(textured, 1)
    return np.asarray((blurred / share >= DROP_TILES) & (clear / share >= CLEAR_TILES))


def _daily(place: NDArray[np.intp], days: int, values: Floats, percent: float) -> Floats:
    """A percentile of each day's values; nan where it has none."""
    order = np.argsort(place, kind="stable")
    found = np.full(days, np.nan)
    for day, of_day in enumerate(np.split(values[order], np.cumsum(np.bincount(place, minlength=days))[:-1])):
        there = of_day[~np.isnan(of_day)]
        if there.size:
            found[day] = np.percentile(there, percent)
    return found


def _usual(days: NDArray[np.int32], daily: Floats, percent: float = 50) -> Floats:
    """The median of the days around each, or another percentile; nan where none is known."""
    found = np.full(days.size, np.nan)
    for number, day in enumerate(days):
        near = daily[np.searchsorted(days, day - AROUND_DAYS) : np.searchsorted(days, day + AROUND_DAYS, side="right")]
        near = near[~np.isnan(near)]
        if near.size:
            found[number] = np.percentile(near, percent)
    return found


def _known(days: NDArray[np.int32], daily: Floats) -> NDArray[np.bool_]:
    """Whether enough of the days around have a picture by day."""
    lit = (~np.isnan(daily)).astype(int)
    before = np.concatenate([[0], np.cumsum(lit)])
    first = np.searchsorted(days, days - AROUND_DAYS)
    last = np.searchsorted(days, days + AROUND_DAYS, side="right")
    return np.asarray(before[last] - before[first] >= LEAST_DAYS)
