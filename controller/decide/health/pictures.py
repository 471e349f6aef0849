"""What a small picture tells of the lens and what is before it, beside its brightness. Pure.

A preview is small: blur of less than one of its pixels, a few of the frame's, is not seen in it.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np

from controller.decide.focus import sharpness
from controller.decide.meter import SRGB, WEIGHTS, Curve, Reading, scene_ev
from controller.decide.picture import read_picture
from controller.decide.step import Slot


@dataclass(frozen=True, slots=True)
class Look:
    """One picture. `fingerprint` is the same for the same pixels; `sharpness` is that of decide/focus.py.

    `expected_ev` is how far the picture should lie above mid grey by the sky model and its exposure, `found_ev` how far
    it does; both are 0 for a picture that came out as a clear sky promises.
    """

    seq: int
    sun_altitude_deg: float
    rising: bool
    expected_ev: float
    found_ev: float
    black: float
    clipped: float
    sharpness: float
    fingerprint: int


def look(jpeg: bytes, reading: Reading, slot: Slot, curve: Curve = SRGB) -> Look:
    """Look at a slot's picture that has been metered with `curve`. Raises MeterError."""
    planes = read_picture(jpeg, reading.shape).planes
    light = np.tensordot(np.array(WEIGHTS, np.float32), curve.linear[planes], 1)
    return Look(
        seq=slot.seq,
        sun_altitude_deg=slot.sun_altitude_deg,
        rising=slot.sun_azimuth_deg < 180.0,
        expected_ev=slot.sky_ev - slot.exposure.ev,
        found_ev=scene_ev(reading, 0.0),
        black=reading.black,
        clipped=reading.clipped,
        sharpness=sharpness(light),
        fingerprint=zlib.crc32(planes.tobytes()),
    )
