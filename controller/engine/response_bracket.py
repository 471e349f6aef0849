"""A bracket of one scene, to learn the body's tone curve from: finds the middle, then goes up and down from it."""

from __future__ import annotations

import asyncio
import math
from collections.abc import Callable

from controller.camera.messages import Opened
from controller.camera.protocol import Camera
from controller.decide.exposure import ASSUMED, Body, Limits, Triple, allocate
from controller.decide.meter import SRGB, Curve, MeterError, Reading, meter
from controller.decide.response import Learned, NotLearned, Shot, cells, from_bracket
from controller.engine.beside import Beside
from controller.words.errors import CameraError
from controller.words.stops import exposure_ev

OFFSETS_EV = (-1.0, 1.0, -2.0, 2.0, -3.0, 3.0, 0.0)
"""About the middle; it comes first and last, so that a change of light in between shows."""

TRIES = 6
"""Pictures that the search for the middle may take."""

LONGEST_S = 4.0
"""Plan seconds of the longest exposure; then the ISO gives way."""

_SHORTEST_S = 1 / 16384
_ISO = 100.0, 6400.0  # extended speeds below and above have curves of their own
_MIDDLE_EV = 0.7


class ResponseBracket:
    """One bracket. Its frames stay on the card: `taken` counts them."""

    def __init__(self, camera: Camera, beside: Beside) -> None:
        self._camera, self._beside = camera, beside
        self._shots: list[Shot] = []
        self.taken = 0

    async def learn(self, before: Curve, go_on: Callable[[], bool] = lambda: True) -> Learned | NotLearned:
        """Take the bracket and learn from it; before each picture `go_on` may end it. Raises CameraError."""
        opened = self._camera.opened
        if opened is None:
            raise CameraError("no-camera", self._camera.trouble or "the camera is not there", self._camera.id)
        middle_ev = await self._middle(opened, go_on)
        for offset in OFFSETS_EV:
            if middle_ev is None or not go_on():
                break
            await self._shoot(_exposure(opened, middle_ev + offset))
        return await asyncio.to_thread(from_bracket, self._shots, before)

    async def _middle(self, opened: Opened, go_on: Callable[[], bool]) -> float | None:
        """The EV that renders the scene about mid grey, None where the camera's exposures do not reach it."""
        shutter_s, aperture = opened.shutter_now_s or ASSUMED.shutter_s, opened.aperture_now or ASSUMED.aperture
        target = exposure_ev(shutter_s, aperture, opened.iso_now or ASSUMED.iso)
        tried: set[Triple] = set()
        for _ in range(TRIES):
            exposure = _exposure(opened, target)
            if exposure in tried or not go_on():
                break
            tried.add(exposure)
            reading = await self._shoot(exposure)
            if reading is None:
                continue
            off = math.log2(max(reading.level, reading.darkest) / reading.mid)
            if abs(off) < _MIDDLE_EV and reading.clipped < 0.2:
                return exposure.ev
            target = exposure.ev + (4.0 if reading.clipped > 0.5 else -5.0 if reading.black > 0.5 else off)
        return None

    async def _shoot(self, exposure: Triple) -> Reading | None:
        """Take one picture into the shots; None where it was missed or cannot be read. Raises CameraError."""
        self.taken += 1
        picture = await self._beside.take(exposure)
        if picture is None:
            return None
        ev = exposure_ev(picture.exposure.shutter_s, exposure.aperture, picture.exposure.iso)
        return self._take(picture.preview.jpeg, ev, picture.mid_utc)

    def _take(self, jpeg: bytes, ev: float, utc: float) -> Reading | None:
        try:
            reading = meter(jpeg, SRGB)
            self._shots.append(Shot(cells(jpeg), ev, utc, 0.0))
        except MeterError:
            return None
        return reading


def _exposure(opened: Opened, ev: float) -> Triple:
    """The nearest exposure to an EV that the body can set, by its shutter first."""
    body = Body(tuple(opened.shutter_s), (), tuple(opened.iso))
    aperture = opened.aperture_now or ASSUMED.aperture  # which cancels out
    iso = opened.iso_now or ASSUMED.iso
    limits = Limits((_SHORTEST_S, LONGEST_S), (aperture, aperture), _ISO if opened.iso else (iso, iso))
    return allocate(ev, limits, ("shutter", "iso"), body, LONGEST_S)
