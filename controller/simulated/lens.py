"""Where a direction of the sky falls in the picture: a level camera, its lens shifted so that masts stand upright."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
FOCAL_LENGTH_MM, SENSOR_WIDTH_MM = 24.0, 36.0
HORIZON = 0.62  # of the height, from the top


@dataclass(frozen=True)
class Lens:
    """`azimuth_deg` is the middle of the picture; pixels count from the upper left corner."""

    width: int
    height: int
    azimuth_deg: float

    @property
    def focal_px(self) -> float:
        return self.width * FOCAL_LENGTH_MM / SENSOR_WIDTH_MM

    @property
    def horizon(self) -> int:
        """Rows above the horizon."""
        return round(self.height * HORIZON)

    def project(
        self, altitude_deg: Floats | float, azimuth_deg: Floats | float
    ) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        """x, y in pixels (gnomonic projection), and whether the direction is in front of the camera at all."""
        turn = np.radians((np.asarray(azimuth_deg) - self.azimuth_deg + 180) % 360 - 180)
        ahead = np.cos(turn)
        safe = np.where(ahead > 0.05, ahead, 1.0)
        x = self.width / 2 + self.focal_px * np.sin(turn) / safe
        y = self.horizon - self.focal_px * np.tan(np.radians(altitude_deg)) / safe
        return x, y, ahead > 0.05

    def sky_grid(self, rows: int, columns: int) -> tuple[Floats, Floats]:
        """Altitude and azimuth, degrees, of the middle of each cell when the sky is cut into `rows` × `columns`."""
        across = ((np.arange(columns) + 0.5) * self.width / columns - self.width / 2) / self.focal_px
        up = (self.horizon - (np.arange(rows) + 0.5) * self.horizon / rows) / self.focal_px
        altitude = np.degrees(np.arctan2(up[:, None], np.hypot(1, across)[None, :]))
        azimuth = np.degrees(np.arctan(across)) + self.azimuth_deg
        return altitude, np.broadcast_to(azimuth, altitude.shape)
