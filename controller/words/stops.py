"""Camera value texts, the true stops behind their nominal labels, and exposure values.

Cameras space shutter, aperture and ISO by exact thirds (or halves) of a stop and label them with round figures: "30 s"
is 32 s, "1/60" is 1/64, f/3.5 is f/3.56 (common practice, no source). A ramp worked in the labels flickers by up to
0.19 EV, so everything behind the labels works in true powers of two. Imports `math` and `re` only, since the camera
process must stay small.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

_NUMBER = r"\d{1,10}(?:[.,]\d+)?"
_RATIO = re.compile(rf"({_NUMBER})\s*/\s*({_NUMBER})\s*s?")
_SECONDS = re.compile(rf"({_NUMBER})\s*(s|m|\")?")
_QUOTED = re.compile(r'(\d+)"(\d+)')  # 0"3 is 0.3 s
_APERTURE = re.compile(rf"(?:f\s*/?\s*)?({_NUMBER})", re.IGNORECASE)
_ISO = re.compile(rf"(?:iso\s*)?({_NUMBER})", re.IGNORECASE)
_STEP_NOTE = re.compile(r"\s*\(1/3\)$")  # some bodies mark the third-stop twin of a half-stop label

_LONGEST_S = 3600.0  # the longest exposure that any list of labels names; 429496.7295s and its neighbours mean bulb
_PTP_RESOLUTION = re.compile(r"0[.,]0001s")
_FASTEST_BEHIND_IT_S = 1 / 8000  # ExposureTime counts 0.1 ms, so that 1/8000 reads "0.0001s"

_FASTER = (
    "32000 25600 20000 16000 12800 10000 8000 6400 5000 4000 3200 2500 2000 1600 1250 1000 800 640 500 400 320 250 200 "
    "160 125 100 80 60 50 40 30 25 20 15 13 10 8 6 5 4"
).split()
_SLOWER = "0.3 0.4 0.5 0.6 0.8 1 1.3 1.6 2 2.5 3.2 4 5 6 8 10 13 15 20 25 30".split()
_SHUTTER_LABELS = [f"1/{n}" for n in _FASTER] + [f"{s} s" for s in _SLOWER]
_SHUTTER_ZERO = _SHUTTER_LABELS.index("1 s")
_HALF_STOP_SHUTTERS = (3.0, 1.5, 0.7, *(1 / n for n in (45, 90, 180, 350, 750, 1500, 3000, 6000)))
_THIRD_STOP_SHUTTERS = (25, 13, 5, 3.2, 2.5, 1.6, 1.3, 0.8, 0.6, 0.4, *(1 / n for n in (5, 13, 25, 40, 50, 80, 100)))

_WRITTEN_SHUTTERS = (
    *(1 / float(n) for n in _FASTER),
    *(float(s) for s in _SLOWER),
    *_HALF_STOP_SHUTTERS,
    *(1 / 3, 1 / 1.5, 1 / 1.3, 1 / 1.6, 1 / 2.5),  # as some bodies write what others call 0.3 s, 0.7 s …
)

_APERTURES = [
    float(n)
    for n in (
        "1 1.1 1.2 1.4 1.6 1.8 2 2.2 2.5 2.8 3.2 3.5 4 4.5 5 5.6 6.3 7.1 8 9 10 11 13 14 16 18 20 22 25 29 32 36 40 "
        "45 51 57 64"
    ).split()
]
_HALF_STOP_APERTURES = (1.7, 2.4, 3.3, 4.8, 6.7, 9.5, 19.0, 27.0, 38.0, 54.0, 76.0)

_ISOS = [
    float(n)
    for n in (
        "25 32 40 50 64 80 100 125 160 200 250 320 400 500 640 800 1000 1250 1600 2000 2500 3200 4000 5000 6400 8000 "
        "10000 12800 16000 20000 25600 32000 40000 51200 64000 80000 102400 128000 160000 204800 256000 320000 409600"
    ).split()
]
_ISO_ZERO = _ISOS.index(100.0)


def _figure(text: str) -> float:
    return float(text.replace(",", "."))


def parse_shutter(text: str) -> float | None:
    """Nominal seconds of a shutter label; None for bulb, time, automatic, unknown or empty texts.

    Reads '1/125', '10/13', '0.0080s', '0,0040s', '0"3', '15m', '10" (1/3)' and their like.
    """
    text = _STEP_NOTE.sub("", text.strip())
    if _PTP_RESOLUTION.fullmatch(text):
        return _FASTEST_BEHIND_IT_S
    if ratio := _RATIO.fullmatch(text):
        top, bottom = _figure(ratio[1]), _figure(ratio[2])
        if bottom == 0 or top >= 65535:  # 65535/65535, /65534 and /65533 stand for bulb, flash sync and time
            return None
        value = top / bottom
    elif quoted := _QUOTED.fullmatch(text):
        value = float(f"{quoted[1]}.{quoted[2]}")
    elif seconds := _SECONDS.fullmatch(text):
        value = _figure(seconds[1]) * (60 if seconds[2] == "m" else 1)
    else:
        return None
    return value if 0 < value <= _LONGEST_S else None


def parse_aperture(text: str) -> float | None:
    """Nominal f-number of an aperture label such as 'f/5.6', 'f/6,3' or '5.6'; None where it names none."""
    found = _APERTURE.fullmatch(_STEP_NOTE.sub("", text.strip()))
    if not found:
        return None
    value = _figure(found[1])
    return value if 0.5 <= value <= 128 else None


def parse_iso(text: str) -> float | None:
    """Nominal ISO speed of a label such as '100' or 'ISO 3200'; None for automatic, unknown or special modes."""
    found = _ISO.fullmatch(text.strip())
    if not found:
        return None
    value = _figure(found[1])
    return value if 1 <= value <= 10_000_000 and value != 65535 else None


def true_shutter(nominal_s: float) -> float:
    """Seconds that the shutter is really open for a nominal time: the nearest power of two in thirds of a stop.

    Labels that only half-stop dials have (1/45, 0.7 s) go to halves; times above a minute ('15m') are taken as they
    are. Raises ValueError for a time that is not positive.
    """
    if nominal_s > 60:
        return nominal_s
    return _nearest(nominal_s, 2 if _among(nominal_s, _HALF_STOP_SHUTTERS) else 3)


def true_shutters(nominals_s: Iterable[float]) -> list[float]:
    """True seconds of a body's whole list, in its order.

    "10 s" is 10.08 s on a dial of thirds and 11.3 s on one of halves, "3 s" 3.17 s and 2.83 s; only the list as a whole
    tells which it is. A list of both has "3.2 s" beside the "3 s" of halves.
    """
    nominals_s = list(nominals_s)
    thirds = any(_among(s, _THIRD_STOP_SHUTTERS) for s in nominals_s)
    halves = any(_among(s, _HALF_STOP_SHUTTERS) for s in nominals_s)
    if halves and not thirds:
        return [_nearest(s, 2) if s <= 60 else s for s in nominals_s]
    no_halves = thirds and not any(_among(s, (*_HALF_STOP_SHUTTERS[1:], 3.2)) for s in nominals_s)
    return [_nearest(s, 3) if no_halves and _among(s, (3.0,)) else true_shutter(s) for s in nominals_s]


def meant_shutter(written_s: float) -> float:
    """What a person means who writes a time: true seconds where it is a dial's label (30 means 32), else as written."""
    label_s = parse_shutter(shutter_label(true_shutter(written_s)).replace(" s", "s"))
    return true_shutter(written_s) if label_s and math.isclose(label_s, written_s, rel_tol=0.008) else written_s


def told_shutters(told_s: Iterable[float]) -> list[float]:
    """True seconds of times as pictures tell them: a label of a dial stands for its stop, also where a body writes it
    as 1/3 or 1/1.6 s; another time, such as the 1/73 s of an automatic, is taken as it is.
    """
    told_s = list(told_s)
    on_dial = sorted({s for s in told_s if _among(s, _WRITTEN_SHUTTERS)})
    true_s = dict(zip(on_dial, true_shutters(on_dial), strict=True))
    return [true_s.get(s, s) for s in told_s]


def true_aperture(nominal: float) -> float:
    """True f-number behind a nominal one; a number that is on no dial (a lens's own f/4.2) is taken as it is."""
    if _among(nominal, _APERTURES):
        return math.sqrt(_nearest(nominal * nominal, 3))
    if _among(nominal, _HALF_STOP_APERTURES):
        return math.sqrt(_nearest(nominal * nominal, 2))
    return nominal


def true_iso(nominal: float) -> float:
    """True ISO speed behind a nominal one; a number that is on no dial is taken as it is."""
    return 100 * _nearest(nominal / 100, 3) if _among(nominal, _ISOS) else nominal


def aperture_value(f_number: float) -> float:
    """Av = log2 N² (APEX, ASA PH2.5-1960). ValueError unless above 0, here and below."""
    return 2 * math.log2(f_number)


def time_value(shutter_s: float) -> float:
    """Tv = −log2 t (APEX)."""
    return -math.log2(shutter_s)


def speed_value(iso: float) -> float:
    """Sv = log2(ISO / 3.125), so that ISO 100 is 5 (Exif 2.32, Annex C)."""
    return math.log2(iso / 3.125)


def exposure_ev(shutter_s: float, aperture: float, iso: float) -> float:
    """EV at ISO 100 of true settings: Av + Tv, less what the speed is above ISO 100. ValueError unless all > 0."""
    return aperture_value(aperture) + time_value(shutter_s) + speed_value(100) - speed_value(iso)


def shutter_label(true_s: float) -> str:
    """A shutter time as a photographer says it: '1/125', '8 s'; a time that is on no dial in its own figures."""
    thirds = 3 * math.log2(true_s)
    index = round(thirds) + _SHUTTER_ZERO
    if abs(thirds - round(thirds)) < 0.03 and 0 <= index < len(_SHUTTER_LABELS):
        return _SHUTTER_LABELS[index]
    return f"{true_s:.3g} s" if true_s >= 0.3 else f"1/{1 / true_s:.0f}"


def shutter_time(true_s: float) -> str:
    """The same always with its unit: '1/125 s', '8 s'."""
    label = shutter_label(true_s)
    return label if label.endswith(" s") else f"{label} s"


def aperture_label(true_number: float) -> str:
    """'f/5.6' for 5.657; an f-number that is on no dial in its own figures."""
    steps = 6 * math.log2(true_number)
    index = round(steps)
    on_dial = abs(steps - index) < 0.03 and 0 <= index < len(_APERTURES)
    return f"f/{_APERTURES[index]:g}" if on_dial else f"f/{true_number:.3g}"


def iso_label(true_speed: float) -> str:
    """'ISO 125' for 125.99; a speed that is on no dial in its own figures."""
    steps = 3 * math.log2(true_speed / 100)
    index = round(steps) + _ISO_ZERO
    on_dial = abs(steps - round(steps)) < 0.03 and 0 <= index < len(_ISOS)
    return f"ISO {_ISOS[index]:.0f}" if on_dial else f"ISO {true_speed:.0f}"


def exposure_label(shutter_s: float, aperture: float, iso: float) -> str:
    """'1/125 s  f/2.8  ISO 400' for true settings."""
    return f"{shutter_time(shutter_s)}  {aperture_label(aperture)}  {iso_label(iso)}"


def _nearest(value: float, steps: int) -> float:
    """The power of two in 1/steps that is nearest to `value` on the log scale."""
    return math.exp2(round(steps * math.log2(value)) / steps)


def _among(value: float, labels: Iterable[float]) -> bool:
    return any(math.isclose(value, label, rel_tol=0.008) for label in labels)
