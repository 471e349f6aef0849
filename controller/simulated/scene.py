"""What is before the lens: sky, stars, harbour and water, as luminance in cd/m² averaged over an exposure."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from controller.simulated.clouds import noise
from controller.simulated.drawing import UNITS, Canvas, Lamp
from controller.simulated.harbour import draw
from controller.simulated.lens import Lens
from controller.simulated.light import Lights, Place, lights
from controller.simulated.sky import LUMINANCE, Sky
from controller.simulated.stars import Stars, deposit
from controller.simulated.water import Water

Planes = NDArray[np.float32]
TOWN_LX = 0.0009
_STARS_BELOW_DEG = -6.0


class Scene:
    """One picture size; `extra_lx` is light that somebody shines on the harbour."""

    def __init__(self, lens: Lens, place: Place, sky: str, seed: int) -> None:
        self.lens, self.place = lens, place
        self.sky = Sky(lens, sky, seed, TOWN_LX)
        self.extra_lx = 0.0
        canvas = Canvas(lens.width, lens.height)
        draw(canvas, seed)
        texture = (0.75 + 0.5 * noise(seed + 7, 1.0)).astype(np.float32)
        upright, mirrored = canvas.layers(texture)
        self._top = int(np.argmax(upright.cover.any(axis=1)))
        self._behind = 1 - upright.cover[self._top :]
        self._albedo = upright.albedo[:, self._top :] / np.float32(np.pi)
        self._behind_mirrored = 1 - mirrored.cover[lens.horizon :]
        self._albedo_mirrored = mirrored.albedo[:, lens.horizon :] / np.float32(np.pi)
        self._lamps = [(lamp, *_glow(lamp, lens)) for lamp in canvas.lamps]
        self._water = Water(lens, seed + 3)
        self._stars = Stars(seed + 5)

    def render(self, utc: float, shutter_s: float) -> Planes:
        """(3, height, width) for an exposure that begins at `utc`, POSIX seconds."""
        lens, horizon = self.lens, self.lens.horizon
        now = lights(self.place, utc + shutter_s / 2)
        coarse, ambient = self.sky.luminance(now, utc + shutter_s / 2)
        ground = ambient.ground + self.extra_lx
        out = np.empty((3, lens.height, lens.width), np.float32)
        above = out[:, :horizon]
        self.sky.paint(coarse, above)
        self._disc(above, now.sun_altitude, now.sun_azimuth, 3e5, (1.2, 0.97, 0.6), ambient.opacity, 180.0)
        moon_cd = 3000.0 * max(0.03, math.sin(math.radians(max(now.moon_altitude, 0.0)))) ** 0.3
        self._disc(
            above, now.moon_altitude, now.moon_azimuth, moon_cd, (1.03, 1.0, 0.92), ambient.opacity, now.moon_elongation
        )
        if now.sun_altitude < _STARS_BELOW_DEG:
            self._put_stars(above, utc, shutter_s, ambient.opacity)
        mirrored = above[:, horizon - self._water.rows :][:, ::-1].copy()
        for c in range(3):
            mirrored[c] *= self._behind_mirrored
            mirrored[c] += self._albedo_mirrored[c] * np.float32(ground[c])
        lit = [
            (glow, below, share)
            for lamp, glow, below in self._lamps
            if (share := _share_lit(lamp, now, utc, shutter_s))
        ]
        for _, below, share in lit:
            if below is not None:
                _add(mirrored, below, share)
        self._water.lay(mirrored, ground, int(utc * 3), shutter_s, out[:, horizon:])
        land = out[:, self._top :]
        for c in range(3):
            land[c] *= self._behind
            land[c] += self._albedo[c] * np.float32(ground[c])
        for glow, _, share in lit:
            _add(out, glow, share)
        return out

    def _put_stars(self, above: Planes, utc: float, shutter_s: float, opacity: Planes) -> None:
        x, y, flux = self._stars.trails(self.lens, self.place, utc, shutter_s)
        rows, columns = opacity.shape
        veil = opacity[(y * rows / above.shape[1]).astype(np.intp), (x * columns / above.shape[2]).astype(np.intp)]
        deposit(above, x, y, flux * (1 - veil), self.lens)

    def _disc(
        self, above: Planes, altitude: float, azimuth: float, luminance: float, colour: tuple[float, float, float],
        opacity: Planes, elongation: float,
    ) -> None:  # fmt: skip
        """Sun or moon, half a degree across; the moon's dark part follows from its elongation."""
        x, y, ahead = (float(v) for v in self.lens.project(altitude, azimuth))
        radius = max(0.6, self.lens.focal_px * math.radians(0.265))
        if not ahead or not -radius < x < self.lens.width + radius or not -radius < y < above.shape[1] + radius:
            return
        left, right = max(0, int(x - radius - 2)), min(self.lens.width, int(x + radius + 3))
        top, bottom = max(0, int(y - radius - 2)), min(above.shape[1], int(y + radius + 3))
        if left >= right or top >= bottom:
            return
        dx, dy = np.arange(left, right)[None, :] - x, np.arange(top, bottom)[:, None] - y
        inside = np.clip(radius + 0.5 - np.hypot(dx, dy), 0, 1)
        terminator = math.cos(math.radians(elongation)) * np.sqrt(np.maximum(radius**2 - dy**2, 0))
        inside = inside * np.clip(dx - terminator + 0.5, 0, 1)
        rows, columns = opacity.shape
        veil = opacity[
            min(rows - 1, int(y * rows / above.shape[1])) if y > 0 else 0,
            min(columns - 1, int(max(x, 0) * columns / self.lens.width)),
        ]
        for c in range(3):
            above[c, top:bottom, left:right] += (luminance * (1 - veil) ** 3 * colour[c] * inside).astype(np.float32)

    def metered_ev(self, utc: float) -> float:
        """EV at ISO 100 of the mean luminance (K = 12.5), as the camera's own averaging meter finds it."""
        mean = float(LUMINANCE @ self.render(utc, 0.01)[:, ::4, ::4].mean(axis=(1, 2)))
        return math.log2(mean * 100 / 12.5)


Glow = tuple[int, int, Planes]


def _glow(lamp: Lamp, lens: Lens) -> tuple[Glow, Glow | None]:
    """The light of a lamp in the picture, and of its mirror image below the horizon: corner and cd/m²."""
    mirrored = None
    if lamp.waterline is not None:
        y = 2 * lamp.waterline - lamp.y
        horizon = lens.horizon * UNITS[1] / lens.height
        mirrored = _patch(lamp, lamp.x, y - horizon, lens, lens.height - lens.horizon)
    return _patch(lamp, lamp.x, lamp.y, lens, lens.height), mirrored


def _patch(lamp: Lamp, x: float, y: float, lens: Lens, rows: int) -> Glow:
    sx, sy = lens.width / UNITS[0], lens.height / UNITS[1]
    middle, width, height = (x * sx, y * sy), lamp.width * sx, lamp.height * sy
    reach = 1.6 * max(width, height) if lamp.soft else 3.5 * max(width, height) + 3 + 22 * sx
    left, top = max(0, int(middle[0] - reach)), max(0, int(middle[1] - reach))
    right, bottom = min(lens.width, int(middle[0] + reach) + 1), min(rows, int(middle[1] + reach) + 1)
    dx = np.arange(left, max(left, right))[None, :] + 0.5 - middle[0]
    dy = np.arange(top, max(top, bottom))[:, None] + 0.5 - middle[1]
    if lamp.soft:
        shape = np.exp(-((dx / (0.5 * width)) ** 2) - (dy / (0.5 * height)) ** 2)
    else:
        core = _edge(dx, width) * _edge(dy, height)
        spread = 2.0 * max(width, height) / 2 + 2.5 * sx
        halo = np.exp(-np.hypot(dx, dy) / spread) * width * height / (2 * math.pi * spread**2)
        shape = core + 0.04 * halo * np.clip(1 - np.hypot(dx, dy) / reach, 0, 1) ** 2
    return top, left, np.stack([shape * lamp.luminance * v for v in lamp.colour]).astype(np.float32)


def _edge(d: NDArray[np.floating], width: float) -> NDArray[np.floating]:
    """How much of each pixel a bar of `width` covers."""
    return np.asarray(np.clip(np.minimum(d + 0.5, width / 2) - np.maximum(d - 0.5, -width / 2), 0, 1))


def _add(out: Planes, glow: Glow, share: float) -> None:
    top, left, light = glow
    out[:, top : top + light.shape[1], left : left + light.shape[2]] += light * np.float32(share)


def _share_lit(lamp: Lamp, now: Lights, utc: float, shutter_s: float) -> float:
    """How much of the exposure a lamp shines."""
    if now.sun_altitude >= lamp.lit_below:
        return 0.0
    if lamp.blink_s is None:
        return 1.0
    period, on = lamp.blink_s

    def lit_until(t: float) -> float:
        return t // period * on + min(t % period, on)

    span = max(shutter_s, 1e-4)
    return (lit_until(utc + span) - lit_until(utc)) / span
