"""Water: what stands above it, mirrored, broken by ripples, dimmed by Fresnel's law and darkened by its own depth."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from controller.simulated.clouds import noise
from controller.simulated.lens import Lens

Planes = NDArray[np.float32]
_PHASES = 5
#: Light that comes back from within, a share of what falls on it, by colour.
DEEP = (0.006, 0.014, 0.018)


class Water:
    """Ripples of `_PHASES` moments are worked out once; a long exposure averages several."""

    def __init__(self, lens: Lens, seed: int) -> None:
        self.rows = lens.height - lens.horizon
        width, scale = lens.width, lens.height / 1080
        below = np.arange(self.rows, dtype=np.float32)[:, None] + 0.5
        across = np.arange(width, dtype=np.float32)[None, :]
        depression = np.degrees(np.arctan(below / lens.focal_px))
        self.mirror = (0.06 + 0.86 * np.exp(-depression / 9.5)).astype(np.float32)  # after Fresnel, over small waves
        distance = 900 * scale / (below + 2 * scale)
        right = (across - width / 2) / (below + 2 * scale) * 14
        tiles = noise(seed, 1.9) - 0.5, noise(seed + 1, 1.4) - 0.5
        amplitude = 3 * scale + 0.26 * below
        jitter = np.random.default_rng(seed).uniform(-0.5, 0.5, (_PHASES, self.rows, width)).astype(np.float32)
        self._sources: list[NDArray[np.int32]] = []
        for phase in range(_PHASES):
            far = (distance * 1.6 + phase * 37).astype(np.int32) % 512
            side = (right * 3.0 + phase * 23).astype(np.int32) % 512
            near = (distance * 6.1 - phase * 51).astype(np.int32) % 512
            fine = (right * 9.7 - phase * 31).astype(np.int32) % 512
            slope = tiles[0][far, side] + 0.7 * tiles[1][near, fine]
            row = np.clip(below + (slope + 0.16 * jitter[phase]) * amplitude, 0, self.rows - 1).astype(np.int32)
            sway = tiles[1][far, side] * amplitude * 0.35
            column = np.clip(across + sway, 0, width - 1).astype(np.int32)
            self._sources.append(row * width + column)

    def lay(self, mirrored: Planes, ground_lx: NDArray[np.float64], phase: int, shutter_s: float, out: Planes) -> None:
        """Put into `out` (3, rows, width) how the water shows `mirrored`, the same shape, in cd/m²."""
        count = 1 if shutter_s < 0.3 else 2 if shutter_s < 2 else 4
        for c in range(3):
            flat = mirrored[c].ravel()
            np.take(flat, self._sources[phase % _PHASES], out=out[c], mode="clip")
            for k in range(1, count):
                out[c] += flat[self._sources[(phase + k) % _PHASES]]
            out[c] *= self.mirror / np.float32(count)
            out[c] += np.float32(ground_lx[c] * DEEP[c] / np.pi)
