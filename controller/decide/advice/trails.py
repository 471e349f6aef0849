"""How far stars trail in a picture while the shutter is open, and how long it may be open for them to look like points.

Two rules of the trade stand beside the arithmetic. The 500 rule (a rule of thumb, no one source): 500 divided by the
focal length, on a sensor of 36 × 24 mm; on a smaller one by the focal length with the same angle of view. The NPF
formula of Frédéric Michaud (Société Astronomique du Havre) also knows the aperture's diffraction and the pixels.
"""

from __future__ import annotations

import math

SIDEREAL_DAY_S = 86_164.1
"""In which the sky turns by 360° (Meeus, Astronomical Algorithms, chapter 12)."""

TURN_ARCSEC_S = 360 * 3600 / SIDEREAL_DAY_S  # 15.041″ a second

_FULL_FRAME_DIAGONAL_MM = math.hypot(36.0, 24.0)


def trail_px(exposure_s: float, focal_mm: float, pixel_um: float, declination_deg: float = 0.0) -> float:
    """Length of a star's trail in the middle of the picture, pixels.

    The sky's turn, times cos δ, over the angle of one pixel. Towards the corners of a wide lens trails are longer.
    """
    turn = math.radians(TURN_ARCSEC_S / 3600) * exposure_s * math.cos(math.radians(declination_deg))
    return turn * focal_mm * 1000.0 / pixel_um


def points_s(px: float, focal_mm: float, pixel_um: float, declination_deg: float = 0.0) -> float:
    """Seconds after which a star has moved by `px` pixels; infinite at a pole of the sky."""
    a_second = trail_px(1.0, focal_mm, pixel_um, declination_deg)
    return px / a_second if a_second > 1e-12 else math.inf


def rule_500_s(focal_mm: float, sensor_mm: tuple[float, float] | None = None) -> float:
    """The 500 rule: seconds. Without a sensor the focal length is taken as one of 36 × 24 mm."""
    crop = 1.0 if sensor_mm is None else _FULL_FRAME_DIAGONAL_MM / math.hypot(*sensor_mm)
    return 500.0 / (focal_mm * crop)


def npf_s(aperture: float, focal_mm: float, pixel_um: float, declination_deg: float = 0.0) -> float:
    """Michaud's NPF formula in full, for stars that are points: (16.856 N + 0.0997 f + 13.713 p) / (f cos δ), seconds.

    N is the f-number, f the focal length in mm, p the pixel pitch in µm.
    """
    cosine = math.cos(math.radians(declination_deg))
    if cosine < 1e-12:
        return math.inf
    return (16.856 * aperture + 0.0997 * focal_mm + 13.713 * pixel_um) / (focal_mm * cosine)
