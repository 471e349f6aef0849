"""The sky's luminance and colour over the picture: twilight bands, blue hour, glow round sun and moon, clouds.

Worked on a coarse grid, for it is smooth; `Sky.paint` enlarges it. How light is spread over the sky, and its colours,
are our own drawing after the look of clear dusks; how much there is of it follows controller.simulated.light.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from controller.simulated.clouds import Clouds
from controller.simulated.lens import Lens
from controller.simulated.light import NIGHT_LX, Lights

Planes = NDArray[np.float32]
#: Rec. 709 weights of luminance.
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
_ANCHORS_DEG = np.array([0.0, 3.5, 11.0, 30.0])
_SUN_DEG = np.array([-18.0, -14.0, -10.0, -6.0, -2.5, 0.5, 6.0, 40.0])
# Colour of light at the four anchors above, toward the sun, for each sun altitude; scaled to luminance 1 below.
_TOWARD = np.array(
    [
        [(0.95, 0.98, 1.15), (0.85, 0.98, 1.3), (0.75, 0.98, 1.5), (0.68, 0.97, 1.6)],
        [(1.75, 0.86, 0.50), (1.05, 0.95, 1.05), (0.60, 0.94, 1.7), (0.48, 0.92, 1.95)],
        [(2.15, 0.72, 0.26), (1.45, 0.90, 0.60), (0.72, 0.95, 1.45), (0.42, 0.88, 2.1)],
        [(2.15, 0.72, 0.22), (1.60, 0.88, 0.42), (0.95, 0.97, 1.08), (0.45, 0.87, 2.05)],
        [(2.05, 0.76, 0.24), (1.55, 0.89, 0.45), (1.10, 0.96, 0.90), (0.56, 0.90, 1.85)],
        [(1.70, 0.86, 0.38), (1.40, 0.92, 0.58), (1.08, 0.97, 0.92), (0.62, 0.91, 1.75)],
        [(1.20, 0.97, 0.75), (1.10, 0.98, 0.88), (0.88, 0.98, 1.25), (0.62, 0.92, 1.75)],
        [(0.98, 1.00, 1.05), (0.90, 1.00, 1.25), (0.75, 0.97, 1.5), (0.60, 0.92, 1.8)],
    ]
)
# Away from the sun: the rosy belt over a blue-grey horizon just after sunset, blue otherwise.
_AWAY = np.array(
    [
        [(0.92, 0.98, 1.2), (0.85, 0.98, 1.3), (0.75, 0.98, 1.5), (0.68, 0.97, 1.6)],
        [(0.80, 0.96, 1.4), (0.72, 0.96, 1.5), (0.58, 0.95, 1.75), (0.48, 0.92, 1.95)],
        [(0.78, 0.94, 1.5), (0.68, 0.94, 1.6), (0.52, 0.92, 1.9), (0.42, 0.88, 2.1)],
        [(0.85, 0.92, 1.5), (0.85, 0.90, 1.5), (0.62, 0.92, 1.8), (0.45, 0.87, 2.05)],
        [(0.90, 0.93, 1.4), (1.20, 0.90, 1.15), (0.85, 0.94, 1.4), (0.56, 0.90, 1.85)],
        [(1.05, 0.95, 1.1), (1.20, 0.92, 1.05), (0.85, 0.95, 1.35), (0.62, 0.91, 1.75)],
        [(1.00, 0.98, 1.05), (0.95, 0.98, 1.12), (0.80, 0.97, 1.4), (0.62, 0.92, 1.75)],
        [(0.98, 1.00, 1.05), (0.90, 1.00, 1.25), (0.75, 0.97, 1.5), (0.60, 0.92, 1.8)],
    ]
)
_GLOW = np.array([0.0, 4.0, 9.0, 8.0, 5.0, 3.5, 1.5, 0.3])  # of the horizon toward the sun, over the zenith
_GLOW_HEIGHT = np.array([4.0, 4.5, 6.0, 8.5, 11.0, 13.0, 15.0, 20.0])  # degrees
_TOWN_COLOUR = np.array([1.35, 0.95, 0.55])


@dataclass(frozen=True)
class Ambient:
    """What falls on the ground, lux by colour, and how opaque the clouds are over the grid."""

    ground: NDArray[np.float64]
    opacity: Planes


class Sky:
    def __init__(self, lens: Lens, clouds_sky: str, seed: int, town_lx: float) -> None:
        self.lens, self.town_lx = lens, town_lx
        columns = min(lens.width, max(160, lens.width // 4))
        rows = min(lens.horizon, max(66, lens.horizon // 4))
        self.altitude, self.azimuth = lens.sky_grid(rows, columns)
        self.clouds = Clouds(self.altitude, self.azimuth, clouds_sky, seed)
        self._level = np.minimum(self.altitude * 4, 199).astype(np.intp)  # quarter degrees, for tables
        self._unit = _unit(self.altitude, self.azimuth)

    def _colours(self, table: NDArray[np.float64], sun: float) -> Planes:
        """Colour over altitude in quarter degrees, (3, 200), luminance 1."""
        keys = np.array([[np.interp(sun, _SUN_DEG, table[:, a, c]) for a in range(4)] for c in range(3)])
        steps = np.arange(200) / 4
        curve = np.array([np.interp(steps, _ANCHORS_DEG, keys[c]) for c in range(3)])
        curve = np.maximum(1 + 1.3 * (np.apply_along_axis(_smooth, 1, curve) - 1), 0.05)
        return np.asarray(curve / (LUMINANCE @ curve), np.float32)

    def luminance(self, lights: Lights, utc: float) -> tuple[Planes, Ambient]:
        """The coarse sky, (3, rows, columns) in cd/m², and what it gives to the ground."""
        sun = lights.sun_altitude
        through = self.clouds.transmission(utc)
        mean = lights.sky_lx / np.pi
        turn = np.radians((self.azimuth - lights.sun_azimuth + 180) % 360 - 180)
        toward = np.exp(-((turn / 0.95) ** 2)).astype(np.float32)
        glow = np.interp(sun, _SUN_DEG, _GLOW)
        height = np.interp(sun, _SUN_DEG, _GLOW_HEIGHT)
        band = np.exp(-np.arange(200) / 4 / height).astype(np.float32)[self._level]
        level = np.float32(mean) * (0.5 + 0.25 * band + np.float32(glow) * band * (0.12 + 0.88 * toward))
        near, away = self._colours(_TOWARD, sun), self._colours(_AWAY, sun)
        out = np.stack(
            [level * (near[c][self._level] * toward + away[c][self._level] * (1 - toward)) for c in range(3)]
        )
        self._aureole(out, lights.sun_altitude, lights.sun_azimuth, lights.direct_lx, np.array([1.55, 0.9, 0.38]))
        night = (lights.moon_lx * 0.6 + NIGHT_LX) / np.pi
        town = np.float32(self.town_lx / np.pi) * (0.25 + 2.5 * band)
        for c, blue in enumerate((0.8, 0.98, 1.45)):
            out[c] += np.float32(night * blue) + town * np.float32(_TOWN_COLOUR[c])
        self._aureole(out, lights.moon_altitude, lights.moon_azimuth, lights.moon_lx, np.array([1.05, 1.0, 0.95]))
        opacity = self.clouds.opacity(utc)
        self._cloud(out, lights, toward, opacity, level)
        falling = (lights.sky_lx + 0.5 * lights.direct_lx + lights.moon_lx + NIGHT_LX) * through
        cool = 0.5 * (near[:, 140] + away[:, 20])
        ground = falling * cool / (LUMINANCE @ cool) + self.town_lx * _TOWN_COLOUR
        return out, Ambient(ground.astype(np.float64), opacity)

    def _aureole(self, out: Planes, altitude: float, azimuth: float, lux: float, colour: NDArray[np.float64]) -> None:
        """Light scattered forward round a body whose straight light on the ground is `lux`."""
        if lux <= 0 or altitude < -1:
            return
        beam = lux / max(np.sin(np.radians(altitude)), 0.02)
        body = _unit(np.array(altitude), np.array(azimuth))
        apart = np.degrees(np.arccos(np.clip(np.tensordot(body, self._unit, axes=(0, 0)), -1, 1))).astype(np.float32)
        ring = np.float32(beam) * (0.6 * np.exp(-apart / 1.3) + 0.07 * np.exp(-apart / 8.0))
        for c in range(3):
            out[c] += ring * np.float32(colour[c])

    def _cloud(self, out: Planes, lights: Lights, toward: Planes, opacity: Planes, level: Planes) -> None:
        """Lay the clouds over `out`: lit from below while the sun is near the horizon, grey before and after."""
        sun = lights.sun_altitude
        lit = np.exp(-(((sun + 1.0) / 2.8) ** 2))
        grey = np.interp(sun, [-10, -5, 0, 6], [0.55, 0.5, 0.75, 1.15])
        shine = np.float32(lit) * (0.25 + 0.75 * toward) * (1 - 0.55 * opacity)
        rose = np.array([1.9, 0.78, 0.55]) if sun < 0 else np.array([1.5, 0.92, 0.62])
        for c in range(3):
            own = 0.5 * level * np.float32((0.96, 0.99, 1.08)[c]) + 0.5 * out[c]
            cloud = np.float32(grey) * own + level * shine * np.float32(1.7 * rose[c])
            cloud += np.float32(self.town_lx / np.pi * 0.6 * _TOWN_COLOUR[c] + 0.5 * lights.moon_lx / np.pi)
            out[c] += opacity * (cloud - out[c])

    def paint(self, coarse: Planes, out: Planes) -> None:
        """Enlarge a coarse sky into `out`, (3, horizon, width)."""
        for c in range(3):
            image = Image.fromarray(coarse[c]).resize((out.shape[2], out.shape[1]), Image.Resampling.BICUBIC)
            out[c] = np.asarray(image)
        np.maximum(out, 0, out=out)


def _unit(altitude: NDArray[np.float64], azimuth: NDArray[np.float64]) -> NDArray[np.float64]:
    a, z = np.radians(altitude), np.radians(azimuth)
    return np.stack([np.cos(a) * np.cos(z), np.cos(a) * np.sin(z), np.sin(a)])


def _smooth(curve: NDArray[np.float64]) -> NDArray[np.float64]:
    """Round the corners between anchors, about 2° wide."""
    kernel = np.hanning(11)[1:-1]
    padded = np.pad(curve, 4, mode="edge")
    return np.convolve(padded, kernel / kernel.sum(), mode="valid")
