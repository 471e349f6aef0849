"""From an exposure to a finished frame: scene, sensor, picture style, thumbnail, Exif, files."""

from __future__ import annotations

import functools
import io
import threading
from datetime import datetime
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from controller.simulated.body import Exposure, Picture
from controller.simulated.exif import Facts, dng, exif
from controller.simulated.lens import FOCAL_LENGTH_MM, Lens
from controller.simulated.light import Place
from controller.simulated.properties import Prop
from controller.simulated.scene import Scene
from controller.simulated.sensor import RAW_WHITE, Planes, Sensor, saturation_fraction

THUMB = 160, 120
_LIVE = 480, 320
_QUALITY = 90
_AUTOMATIC, _TUNGSTEN = 2, 6


class Eye:
    """Lens, scene and sensor. `bars`: the thumbnail keeps the picture's shape between black bars, as DCF bodies do."""

    def __init__(self, lens: Lens, place: Place, sky: str, style: str, seed: int, bars: bool) -> None:
        self.size = lens.width, lens.height
        self._place, self._sky, self._seed, self._bars = place, sky, seed, bars
        self._sensor = Sensor(style, seed)
        self.scene = Scene(lens, place, sky, seed)
        self._lock = threading.Lock()

    @functools.cached_property
    def _small(self) -> Scene:
        """What live view and meter look at, so that they need not wait for a frame; drawn when first wanted."""
        small = Scene(Lens(*_LIVE, self.scene.lens.azimuth_deg), self._place, self._sky, self._seed)
        small.extra_lx = self.scene.extra_lx
        return small

    def set_sky(self, sky: str) -> None:
        """Raises KeyError for an unknown one."""
        with self._lock:
            self._sky = sky
            for scene in (self.scene, self._small):
                scene.sky.clouds.change(sky)

    def set_lamp(self, lux: float) -> None:
        with self._lock:
            for scene in (self.scene, self._small):
                scene.extra_lx = lux

    def take(self, exposure: Exposure, stamp: datetime) -> Picture:
        shutter_s = exposure.shutter_s or 0.0
        light = self.scene.render(exposure.released_utc, shutter_s)
        gain = saturation_fraction(shutter_s, exposure.aperture, exposure.iso)
        gains = _white_balance(exposure.white_balance, light)
        seed = self._seed + exposure.number
        shot = self._sensor.develop(light, [gain * g for g in gains], exposure.iso, seed, exposure.raw)
        image = _image(shot.codes)
        thumb = _damaged(_jpeg(self._thumb(image), 85), exposure.flaws)
        facts = Facts(
            stamp=stamp,
            shutter_s=shutter_s,
            aperture=exposure.aperture,
            f_label=Fraction(exposure.labels[Prop.F_NUMBER], 100),
            iso_label=exposure.labels[Prop.EXPOSURE_INDEX],
            focal_length_mm=FOCAL_LENGTH_MM,
            size=self.size,
            automatic_white=exposure.white_balance == _AUTOMATIC,
            program=exposure.labels[Prop.EXPOSURE_PROGRAM],
        )
        exif_body = exif(facts, thumb)
        jpeg = _jpeg(image, _QUALITY, exif_body)
        raw = None if shot.mosaic is None else dng(facts, thumb, shot.mosaic.astype("<u2").tobytes(), RAW_WHITE)
        mean_code = float(shot.codes[:, ::4, ::4].mean())
        return Picture(_spoilt(jpeg, exposure.flaws, len(exif_body), seed), raw, mean_code, shot.mean_linear)

    def _thumb(self, image: Image.Image) -> Image.Image:
        if not self._bars:
            return image.resize(THUMB, Image.Resampling.BOX)
        height = min(THUMB[1], round(THUMB[0] * image.height / image.width))
        out = Image.new("RGB", THUMB)
        out.paste(image.resize((THUMB[0], height), Image.Resampling.BOX), (0, (THUMB[1] - height) // 2))
        return out

    def live(self, utc: float) -> bytes:
        with self._lock:
            light = self._small.render(utc, 1 / 30)
            gain = 0.127 / max(float(light[1].mean()), 1e-4)
            shot = self._sensor.develop(light, [gain] * 3, 800, int(utc * 30), False)
        return _jpeg(_image(shot.codes), 75)

    def metered_ev(self, utc: float) -> float:
        with self._lock:
            return self._small.metered_ev(utc)


def _white_balance(setting: int, light: Planes) -> tuple[float, float, float]:
    """Gains by colour: daylight leaves the light as it is, automatic wants the picture's mean grey."""
    if setting == _TUNGSTEN:
        return 0.62, 1.0, 1.65
    if setting == _AUTOMATIC:
        red, green, blue = (float(light[c, ::8, ::8].mean()) for c in range(3))
        return min(1.7, max(0.6, green / red)), 1.0, min(1.7, max(0.6, green / blue))
    return 1.0, 1.0, 1.0


def _image(codes: NDArray[np.uint8]) -> Image.Image:
    return Image.merge("RGB", [Image.fromarray(plane) for plane in codes])


def _jpeg(image: Image.Image, quality: int, exif_body: bytes = b"") -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=quality, exif=exif_body)
    return out.getvalue()


def _damaged(thumb: bytes, flaws: frozenset[str]) -> bytes:
    if "nothumb" in flaws:
        return b""
    return _noise(len(thumb), len(thumb)) if "badthumb" in flaws else thumb


def _spoilt(jpeg: bytes, flaws: frozenset[str], head: int, seed: int) -> bytes:
    """Spoil the picture behind its first `head` bytes, so that Exif and thumbnail stay whole."""
    size = len(jpeg) - head
    if "truncate" in flaws:
        return jpeg[: head + size // 2]
    if "corrupt" in flaws:
        start, end = head + size // 2, head + size * 3 // 4
        return jpeg[:start] + _noise(end - start, seed) + jpeg[end:]
    return jpeg


def _noise(size: int, seed: int) -> bytes:
    return np.random.default_rng(seed).bytes(size)
