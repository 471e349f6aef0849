"""The frames of a film, one after the other: which pictures each shows, through which curve and window."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from controller.results.clip import overlay, retime
from controller.results.clip.curves import Curves
from controller.results.clip.geometry import Canvas
from controller.results.clip.looks import Look, Looks, identity
from controller.results.clip.options import ClipOptions, Window
from controller.results.clip.sidecar import FrameGain
from controller.results.clip.tone import Floats
from controller.words.documents import Frame, Shoot
from controller.words.site_time import zone_of


@dataclass(frozen=True, slots=True)
class Layer:
    """A picture in a frame of the film."""

    place: int
    share: float  # of the frame's light
    curve: Floats | None  # light by code; none: as it is


@dataclass(frozen=True, slots=True)
class Shot:
    """One frame of the film, and all that it depends on."""

    number: int
    layers: tuple[Layer, ...]
    window: Window
    lines: tuple[str, ...]


class Shots:
    """Of a whole film, as often as they are wanted. `remarks`, for people: what is known of the exposures."""

    def __init__(
        self, shoot: Shoot, looks: Sequence[Look], kept: Looks | None, canvas: Canvas, options: ClipOptions
    ) -> None:
        self._looks, self._canvas, self._options = looks, canvas, options
        self._curves = Curves(looks, kept.shares, options.steady) if kept is not None else None
        self.remarks: list[str] = self._curves.remarks if self._curves is not None else []
        self._zone = zone_of(shoot.plan.get("site", {}).get("timezone"))
        self._count = len(looks)
        if options.retime != "off":
            self._count = retime.count(*self._speed())

    def __len__(self) -> int:
        return self._count

    def __iter__(self) -> Iterator[Shot]:
        for number, (earlier, later, share) in enumerate(self._places()):
            layers = [(earlier, 1 - share), (later, share)]
            seen = tuple(Layer(place, part, self._curve(place)) for place, part in layers if part > 0)
            nearest = later if share > 0.5 else earlier
            yield Shot(number, seen, self._canvas.window(number, len(self)), tuple(self._lines(nearest)))

    def recipe(self, shots: Sequence[Shot]) -> Any:
        """All that the film of these shots depends on, as JSON can hold it."""
        options = self._options.model_dump(mode="json", include={"fps", "codec", "bits"})
        reference = self._canvas.reference
        lies = [reference.width, reference.height, reference.orientation]
        return [options, lies, list(self._canvas.size), self._canvas.moves, [self._told(shot) for shot in shots]]

    def gains(self) -> list[FrameGain]:
        """Of each picture; none where nothing is steadied."""
        return self._curves.rows() if self._curves is not None else []

    @property
    def largest_gain_ev(self) -> float:
        """Of the shots that were asked for so far."""
        return self._curves.largest_gain_ev if self._curves is not None else 0.0

    def _curve(self, place: int) -> Floats | None:
        return self._curves.curve(place) if self._curves is not None else None

    def _lines(self, place: int) -> list[str]:
        return overlay.lines(self._looks[place].picture.frame, self._zone, self._options.burn)

    def _places(self) -> Iterator[tuple[int, int, float]]:
        """Of each frame: the earlier picture, the later, and the later's share. Made as they are wanted."""
        if self._options.retime == "off":
            return ((place, place, 0.0) for place in range(len(self._looks)))
        return retime.shown(*self._speed(), self._options.retime == "blend")

    def _speed(self) -> tuple[list[float], float, float]:
        return speed([look.picture.frame for look in self._looks], self._options)

    def _told(self, shot: Shot) -> Any:
        layers = [(self._file(layer.place), layer.share, _name(layer.curve)) for layer in shot.layers]
        window = shot.window
        return [shot.number, layers, [window.x, window.y, window.w, window.h], shot.lines]

    def _file(self, place: int) -> str:
        try:
            return identity(self._looks[place].picture)
        except OSError:
            return "gone"


def speed(frames: Sequence[Frame], options: ClipOptions) -> tuple[list[float], float, float]:
    """Moments of the pictures, frames a second, and seconds of the scene in one of the film."""
    times = [frame.due_utc if frame.released_utc is None else frame.released_utc for frame in frames]
    return times, options.fps, options.scene_s_per_s or retime.usual(times, options.fps)


def _name(curve: Floats | None) -> str:
    """Rounded far below what can be seen, so that a last bit of another processor makes no new part."""
    return "" if curve is None else hashlib.sha256(np.round(curve, 6).tobytes()).hexdigest()[:16]
