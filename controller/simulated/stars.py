"""Stars: a sky of our own, seeded, that turns with sidereal time and trails while the shutter is open."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from controller.simulated.lens import Lens
from controller.simulated.light import Place

Floats = NDArray[np.float64]
#: Illuminance by a star of magnitude 0 outside the air, lux (common practice: 2.5·10⁻⁶).
MAGNITUDE_0_LX = 2.5e-6
SIDEREAL_DEG_S = 15.041069 / 3600
_COUNT = 5000
_FAINTEST = 6.0


def sidereal_deg(utc: float, longitude: float) -> float:
    """Local mean sidereal time as an angle: Meeus, Astronomical Algorithms (1998), eq. 12.4 without its small terms."""
    days = utc / 86_400 + 2_440_587.5 - 2_451_545.0
    return (280.46061837 + 360.98564736629 * days + longitude) % 360


def horizontal(hour_angle_deg: Floats, declination_deg: Floats, latitude_deg: float) -> tuple[Floats, Floats]:
    """Altitude and azimuth from north through east, degrees."""
    h, d, f = np.radians(hour_angle_deg), np.radians(declination_deg), np.radians(latitude_deg)
    sine = np.sin(f) * np.sin(d) + np.cos(f) * np.cos(d) * np.cos(h)
    azimuth = np.arctan2(-np.cos(d) * np.sin(h), np.cos(f) * np.sin(d) - np.sin(f) * np.cos(d) * np.cos(h))
    return np.degrees(np.arcsin(np.clip(sine, -1, 1))), np.degrees(azimuth) % 360


class Stars:
    def __init__(self, seed: int) -> None:
        rng = np.random.default_rng(seed)
        self.right_ascension = rng.uniform(0, 360, _COUNT)
        self.declination = np.degrees(np.arcsin(rng.uniform(-1, 1, _COUNT)))
        # Star counts grow about threefold a magnitude: N(<m) ~ 10^(0.5 m)
        magnitude = _FAINTEST + 2 * np.log10(rng.uniform(1e-4, 1, _COUNT))
        warmth = rng.normal(0, 0.18, _COUNT)
        flux = MAGNITUDE_0_LX * 10 ** (-0.4 * magnitude)
        self.flux = np.stack([flux * (1 + warmth), flux, flux * (1 - warmth)])

    def trails(self, lens: Lens, place: Place, utc: float, shutter_s: float) -> tuple[Floats, Floats, Floats]:
        """Points x, y in pixels and their illuminances (3, n), lux, averaged over an exposure that begins at `utc`."""
        # The fastest star moves focal_px · ω · t at the image's middle; corners stretch it by up to a half.
        steps = max(1, int(np.ceil(1.5 * lens.focal_px * np.radians(SIDEREAL_DEG_S) * shutter_s)))
        start = sidereal_deg(utc, place.longitude) - self.right_ascension
        xs, ys, fluxes = [], [], []
        for k in range(steps):
            hours = start + SIDEREAL_DEG_S * shutter_s * (k + 0.5) / steps
            altitude, azimuth = horizontal(hours, self.declination, place.latitude)
            x, y, ahead = lens.project(altitude, azimuth)
            seen = ahead & (altitude > 0.5) & (x >= 0) & (x < lens.width - 1) & (y >= 0) & (y < lens.horizon - 1)
            through = np.exp(-0.25 / np.sin(np.radians(altitude[seen])))
            xs.append(x[seen])
            ys.append(y[seen])
            fluxes.append(self.flux[:, seen] * through / steps)
        return np.concatenate(xs), np.concatenate(ys), np.concatenate(fluxes, axis=1)


def deposit(out: NDArray[np.float32], x: Floats, y: Floats, flux: Floats, lens: Lens) -> None:
    """Add points of light to `out`, (3, rows, columns) in cd/m²; each falls on the four pixels round it."""
    solid_angle = 1 / lens.focal_px**2
    column, row = x.astype(np.intp), y.astype(np.intp)
    right, down = x - column, y - row
    for dy, dx in ((0, 0), (0, 1), (1, 0), (1, 1)):
        share = (right if dx else 1 - right) * (down if dy else 1 - down) / solid_angle
        for c in range(3):
            np.add.at(out[c], (row + dy, column + dx), (flux[c] * share).astype(np.float32))
