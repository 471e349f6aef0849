"""Clouds: a layer of seeded noise that drifts and slowly changes, and how much light it lets through over time."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
_TILE = 512


@dataclass(frozen=True)
class Weather:
    """Cover is the share of the sky, 0…1; `swing` how far it wanders; `depth` how opaque the thickest cloud is."""

    cover: float
    swing: float
    depth: float
    stretch: float
    dims: float


#: Thin high streaks that dim nothing; and broken grey layers whose light wanders by about a stop.
SKIES = {
    "clear": Weather(cover=0.22, swing=0.05, depth=0.55, stretch=4.0, dims=0.0),
    "cloudy": Weather(cover=0.68, swing=0.30, depth=0.96, stretch=1.6, dims=0.75),
}


@functools.cache
def noise(seed: int, slope: float) -> Floats:
    """A tile of noise that wraps around, amplitude falling with frequency^slope, spread evenly over 0…1."""
    rng = np.random.default_rng(seed)
    frequency = np.hypot(np.fft.fftfreq(_TILE)[:, None], np.fft.rfftfreq(_TILE)[None, :])
    frequency[0, 0] = np.inf
    spectrum = np.fft.rfft2(rng.standard_normal((_TILE, _TILE))) * frequency**-slope
    field = np.fft.irfft2(spectrum, (_TILE, _TILE))
    ranks = np.empty(field.size, np.float32)
    ranks[np.argsort(field, axis=None)] = np.linspace(0, 1, field.size, dtype=np.float32)
    ranks.setflags(write=False)
    return ranks.reshape(field.shape)


class Clouds:
    """Opacity over a grid of directions, at any moment; `sky` names one of SKIES."""

    def __init__(
        self, altitude_deg: NDArray[np.float64], azimuth_deg: NDArray[np.float64], sky: str, seed: int
    ) -> None:
        self.change(sky)
        low = np.radians(np.maximum(altitude_deg, 1.2))
        bearing = np.radians(azimuth_deg - azimuth_deg.mean())
        self._right = (60 * np.sin(bearing) / np.tan(low)).astype(np.float32)
        self._far = (60 * np.cos(bearing) / np.tan(low)).astype(np.float32)
        self._veil = np.clip(altitude_deg / 4, 0.15, 1).astype(np.float32)  # far clouds sink into the haze
        self._tiles = noise(seed, 1.7), noise(seed + 1, 1.5)
        rng = np.random.default_rng(seed + 2)
        self._waves = [(rng.uniform(300, 4000), rng.uniform(0, 2 * math.pi)) for _ in range(5)]

    def change(self, sky: str) -> None:
        """Another weather from now on; raises KeyError for a name that SKIES lacks."""
        self.weather = SKIES[sky]

    def cover(self, utc: float) -> float:
        wander = sum(math.sin(2 * math.pi * utc / period + start) for period, start in self._waves) / 2.2
        return max(0.0, min(1.0, self.weather.cover + self.weather.swing * wander))

    def transmission(self, utc: float) -> float:
        """Share of the clear sky's light that reaches the ground."""
        return float(1 - self.weather.dims * self.cover(utc) ** 1.5)

    def opacity(self, utc: float) -> Floats:
        """0 clear … 1 opaque, over the grid."""
        cover = self.cover(utc)
        drift = utc % 1_000_000
        thick = self._sample(self._tiles[0], 1.0, drift * 0.045) * 0.7
        thick += self._sample(self._tiles[1], 2.3, drift * 0.16) * 0.3
        edge = np.float32(1 - cover)
        shape = np.clip((thick - edge * np.float32(0.9)) / np.float32(0.35), 0, 1)
        return np.asarray(shape * shape * (3 - 2 * shape) * self._veil * np.float32(self.weather.depth), np.float32)

    def _sample(self, tile: Floats, zoom: float, shift: float) -> Floats:
        across = (self._right * zoom + shift).astype(np.int32) % _TILE
        away = (self._far * (zoom * self.weather.stretch) - shift * 0.4).astype(np.int32) % _TILE
        return np.asarray(tile[away, across])
