"""Interval, settings and light over the sun's altitude: frames as they come, medians in the end."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from controller.results.report.documents import SunRow
from controller.results.report.tally import Tally
from controller.words.documents import Frame

ROWS = 24
"""Rows at most."""

_WIDTHS_DEG = (1, 2, 5, 10, 15)
_KEPT = 128  # different values of each column in a cell of one degree


def _tally() -> Tally:
    return Tally(_KEPT)


@dataclass(slots=True)
class _Cell:
    """Frames of one row, or of one degree of it."""

    frames: int = 0
    interval_s: Tally = field(default_factory=_tally)
    shutter_s: Tally = field(default_factory=_tally)
    aperture: Tally = field(default_factory=_tally)
    iso: Tally = field(default_factory=_tally)
    exposure_ev: Tally = field(default_factory=_tally)
    scene_ev: Tally = field(default_factory=_tally)

    def merge(self, other: _Cell) -> None:
        self.frames += other.frames
        for name in _COLUMNS:
            getattr(self, name).merge(getattr(other, name))


_COLUMNS = ("interval_s", "shutter_s", "aperture", "iso", "exposure_ev", "scene_ev")


class OverSun:
    """Takes frames in order; counts by whole degrees, which make wider rows where there are many of them."""

    def __init__(self) -> None:
        self._cells: dict[tuple[bool, int], _Cell] = {}

    def __call__(self, frame: Frame) -> None:
        if frame.sun_altitude_deg is None:
            return
        rising = (frame.sun_azimuth_deg or 180.0) < 180  # the sun climbs in the eastern half of the sky
        cell = self._cells.setdefault((rising, math.floor(frame.sun_altitude_deg)), _Cell())
        cell.frames += 1
        for name in _COLUMNS:
            if (value := getattr(frame, name)) is not None:
                getattr(cell, name).add(value)

    def rows(self) -> list[SunRow]:
        """In the order in which the sun first stood there."""
        width = next((w for w in _WIDTHS_DEG if len(self._groups(w)) <= ROWS), _WIDTHS_DEG[-1])
        wide: dict[tuple[bool, int], _Cell] = {}
        for (rising, degree), cell in self._cells.items():
            wide.setdefault((rising, degree // width), _Cell()).merge(cell)
        return [_row(rising, step * width, width, cell) for (rising, step), cell in wide.items()]

    def _groups(self, width: int) -> set[tuple[bool, int]]:
        return {(rising, degree // width) for rising, degree in self._cells}


def _row(rising: bool, from_deg: int, width: int, cell: _Cell) -> SunRow:
    return SunRow(
        from_deg=from_deg,
        to_deg=from_deg + width,
        rising=rising,
        frames=cell.frames,
        interval_s=cell.interval_s.percentiles([50])[0],
        shutter_s=cell.shutter_s.low_median(),
        aperture=cell.aperture.low_median(),
        iso=cell.iso.low_median(),
        exposure_ev=cell.exposure_ev.median(),
        scene_ev=cell.scene_ev.median(),
    )
