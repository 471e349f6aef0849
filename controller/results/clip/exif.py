"""The exposure that a picture itself tells, in true stops, and whether it is the one that the log has.

Exif (CIPA DC-008, version 3.0, 4.6.6): ExposureTime and FNumber, or their APEX forms; the sensitivity by the rules of
SensitivityType. What a body writes there are the labels of its dials as a rule: 1/60 s that is 1/64 s, f/3.5 that is
f/3.56.
"""

from __future__ import annotations

import math
import struct
import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image

from controller.results.clip.containers import exif_tags
from controller.words import stops
from controller.words.documents import Frame

Floats = NDArray[np.float64]

warnings.filterwarnings("ignore", module=r"PIL\.TiffImagePlugin")  # of damaged Exif; what can be read is used
BROKEN = (
    OSError,
    SyntaxError,
    ValueError,
    KeyError,
    TypeError,
    IndexError,
    ArithmeticError,
    EOFError,
    UserWarning,
    struct.error,
)
"""What Pillow raises where Exif is damaged."""

_SOS, _REI, _ISO_SPEED, _SENSITIVITY_TYPE = 0x8831, 0x8832, 0x8833, 0x8830
_LONG_FORMS = {  # SensitivityType: which tags hold the same speed in 32 bits
    1: (_SOS,),
    2: (_REI,),
    3: (_ISO_SPEED,),
    4: (_SOS, _REI),
    5: (_SOS, _ISO_SPEED),
    6: (_REI, _ISO_SPEED),
    7: (_SOS, _REI, _ISO_SPEED),
}
_NO_MORE = 65535  # of PhotographicSensitivity: the speed is this or higher, and stands in a long form
_SAME_EV = 0.01
_TOLD_EV = 0.05  # differences that are worth a remark
_REMARKS = 5


@dataclass(frozen=True, slots=True)
class ExifExposure:
    """Seconds, f-number and ISO speed as written, each None where Exif tells none."""

    written_s: float | None
    written_aperture: float | None
    written_iso: float | None

    @property
    def shutter_s(self) -> float | None:
        """True seconds. Of a dial in halves `exposures` knows more, since it sees all labels."""
        return None if self.written_s is None else stops.told_shutters([self.written_s])[0]

    @property
    def aperture(self) -> float | None:
        return None if self.written_aperture is None else stops.true_aperture(self.written_aperture)

    @property
    def iso(self) -> float | None:
        return None if self.written_iso is None else stops.true_iso(self.written_iso)

    @property
    def ev(self) -> float | None:
        """EV at ISO 100 of the true settings, None where one is unknown."""
        return _ev(self.shutter_s, self.aperture, self.iso)


def true_exposure(source: Path | Image.Image) -> ExifExposure | None:
    """Of a JPEG, of a RAW file, or of a picture that was opened from a JPEG; nothing is decoded.

    None where there is no Exif, or none that can be read; raises nothing.
    """
    try:
        if isinstance(source, Image.Image):
            return _told(source.getexif().get_ifd(ExifTags.IFD.Exif))
        return _told(exif_tags(source))
    except BROKEN:
        return None


def exposures(frames: Sequence[Frame], told: Sequence[ExifExposure | None]) -> tuple[Floats, list[str]]:
    """EV at ISO 100 of each frame, nan where neither log nor picture knows it, and remarks.

    Where a picture tells another setting than the log has, since a dial was turned by hand or the body chose by itself,
    the picture is right. Where it tells the label of what the log has, the log is: it knows the body's whole dial. A
    lens without contacts tells no aperture, and stays at one: its frames count from f/1, since only steps matter.
    """
    written = [one.written_s for one in told if one and one.written_s]
    dial = dict(zip(written, stops.told_shutters(written), strict=True))
    evs, differing = [], []
    for place, (frame, one) in enumerate(zip(frames, told, strict=True)):
        logged = (frame.shutter_s, frame.aperture, frame.iso)
        used = logged
        if one is not None:
            shutter_s = dial[one.written_s] if one.written_s else None
            used = (
                _right(frame.shutter_s, one.written_s, shutter_s, 1),
                _right(frame.aperture, one.written_aperture, one.aperture, 2),
                _right(frame.iso, one.written_iso, one.iso, 1),
            )
        before = frame.exposure_ev if frame.exposure_ev is not None else _ev(logged[0], logged[1] or 1.0, logged[2])
        told_ev = None if used == logged else _ev(used[0], used[1] or 1.0, used[2])
        ev = before if told_ev is None else told_ev
        if ev is not None and before is not None and abs(ev - before) > _TOLD_EV:
            differing.append((place, _words(*used), _words(*logged)))
        evs.append(math.nan if ev is None else ev)
    return np.array(evs, dtype=float), _remarks(frames, differing)


def _right(logged: float | None, written: float | None, true: float | None, power: int) -> float | None:
    """The log's value where the picture tells its label, on a dial of thirds or of halves; else the picture's.

    `power`: light goes with this power of the value.
    """
    if logged is None or written is None or true is None:
        return logged if true is None else true
    if math.isclose(true, written, rel_tol=1e-9):  # no label: as exact as it can be
        return true
    told_ev, logged_ev = power * math.log2(written), power * math.log2(logged)
    stops_of_label = [round(told_ev * steps) / steps for steps in (2, 3)]
    return logged if any(abs(logged_ev - stop) < _SAME_EV for stop in stops_of_label) else true


def _remarks(frames: Sequence[Frame], differing: Sequence[tuple[int, str, str]]) -> list[str]:
    """One line for each run of frames with the same difference; with many, one for all of them."""
    runs: list[list[int]] = []
    for number, (place, *words) in enumerate(differing):
        goes_on = runs and differing[number - 1][0] == place - 1 and list(differing[number - 1][1:]) == words
        runs[-1].append(number) if goes_on else runs.append([number])
    if len(runs) > _REMARKS:
        place, exif, log = differing[0]
        return [
            f"{len(differing)} of {len(frames)} frames were exposed otherwise than the log says, by their Exif:"
            f" frame {frames[place].seq} first, {exif} instead of {log}; steadied by their Exif"
        ]
    lines = []
    for run in runs:
        (first, exif, log), last = differing[run[0]], differing[run[-1]][0]
        of = f"frame {frames[first].seq}" if first == last else f"frames {frames[first].seq} to {frames[last].seq}"
        lines.append(f"{of}: exposed with {exif}, by their Exif, instead of {log}; steadied by their Exif")
    return lines


def _words(shutter_s: float | None, aperture: float | None, iso: float | None) -> str:
    shutter = stops.shutter_label(shutter_s) if shutter_s else ""
    shutter = f"{shutter} s" if "/" in shutter else shutter
    parts = [shutter, stops.aperture_label(aperture) if aperture else "", stops.iso_label(iso) if iso else ""]
    return " ".join(filter(None, parts))


def _ev(shutter_s: float | None, aperture: float | None, iso: float | None) -> float | None:
    return stops.exposure_ev(shutter_s, aperture, iso) if shutter_s and aperture and iso else None


def _told(tags: dict[int, Any]) -> ExifExposure | None:
    base = ExifTags.Base
    exposure = ExifExposure(
        _number(tags, base.ExposureTime, 1e-6, 86_400)
        or _number(tags, base.ShutterSpeedValue, 1e-6, 86_400, lambda apex: 2.0**-apex),
        _number(tags, base.FNumber, 0.5, 128)
        or _number(tags, base.ApertureValue, 0.5, 128, lambda apex: 2.0 ** (apex / 2)),
        _speed(tags),
    )
    return None if exposure == ExifExposure(None, None, None) else exposure


def _speed(tags: dict[int, Any]) -> float | None:
    short = _number(tags, ExifTags.Base.ISOSpeedRatings, 1, _NO_MORE)  # PhotographicSensitivity since Exif 2.3
    if short is not None and short < _NO_MORE:
        return short
    kind = int(_number(tags, _SENSITIVITY_TYPE, 1, 7) or 7)
    longs = (_number(tags, tag, 1, 1e7) for tag in _LONG_FORMS[kind])
    return next((speed for speed in longs if speed is not None), short)


def _number(
    tags: dict[int, Any], tag: int, low: float, high: float, of: Callable[[float], float] = lambda value: value
) -> float | None:
    """The first value of a tag, if it is a number in range; 0/0 and 1/0 are what bodies write for what they lack."""
    try:
        value = tags[tag]
        number = of(float(value[0] if isinstance(value, tuple) else value))
    except BROKEN:
        return None
    return number if low <= number <= high else None
