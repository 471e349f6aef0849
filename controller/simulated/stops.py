"""What the dials say and what they do: nominal labels, PTP codes, and the powers of two behind them.

Cameras space their settings by exact thirds of a stop and label them with round figures (common practice, no source):
"30 s" exposes 32 s, "1/60" 1/64 s, f/3.5 is 2^(11/6).
"""

from __future__ import annotations

BULB = 0xFFFFFFFF

_FASTER = (
    "8000 6400 5000 4000 3200 2500 2000 1600 1250 1000 800 640 500 400 320 250 200 160 125 100 80 60 50 40 30 "
    "25 20 15 13 10 8 6 5 4"
).split()
_SLOWER = "0.3 0.4 0.5 0.6 0.8 1 1.3 1.6 2 2.5 3.2 4 5 6 8 10 13 15 20 25 30".split()
_NOMINAL_S = [1 / float(n) for n in _FASTER] + [float(s) for s in _SLOWER]
_APERTURES = "2.8 3.2 3.5 4 4.5 5 5.6 6.3 7.1 8 9 10 11 13 14 16 18 20 22".split()
_ISOS = "100 125 160 200 250 320 400 500 640 800 1000 1250 1600 2000 2500 3200 4000 5000 6400 8000 10000 12800".split()


def _shutters() -> dict[int, float]:
    """PTP's ExposureTime counts 0.1 ms, so that some of the shortest labels share a code: it means the stop nearest."""
    table: dict[int, float] = {}
    for index, nominal_s in enumerate(_NOMINAL_S):
        true_s = 2.0 ** ((index - 39) / 3)
        code = max(1, round(nominal_s * 10_000))
        if code not in table or abs(true_s - code * 1e-4) < abs(table[code] - code * 1e-4):
            table[code] = true_s
    return table


def fractions() -> dict[int, tuple[int, int]]:
    """ExposureTime code -> the label as a fraction of whole numbers: 1/125, 13/10, 30/1."""
    labels = [(1, int(n)) for n in _FASTER]
    labels += [(int(s), 1) if "." not in s else (round(float(s) * 10), 10) for s in _SLOWER]
    near: dict[int, tuple[int, int]] = {}
    for index, (top, bottom) in enumerate(labels):
        code = max(1, round(top / bottom * 10_000))
        if code not in near or SHUTTER_S[code] == 2.0 ** ((index - 39) / 3):
            near[code] = (top, bottom)
    return near


#: ExposureTime code (0.1 ms) -> seconds that the shutter is really open.
SHUTTER_S: dict[int, float] = _shutters()
#: FNumber code (hundredths) -> true f-number.
APERTURE: dict[int, float] = {round(float(n) * 100): 2.0 ** ((9 + k) / 6) for k, n in enumerate(_APERTURES)}
#: ExposureIndex code (the label) -> true ISO speed.
ISO: dict[int, float] = {int(n): 100 * 2.0 ** (k / 3) for k, n in enumerate(_ISOS)}
