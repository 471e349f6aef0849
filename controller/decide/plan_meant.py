"""Keys and values by other names of the trade: what a plan has in their place."""

from __future__ import annotations

import re
from collections.abc import Sequence

from controller.decide.plan_figures import limits

_COMPASS = "N NNE NE ENE E ESE SE SSE S SSW SW WSW W WNW NW NNW".split()
_SIDES = {"north": "N", "east": "E", "south": "S", "west": "W"}
_SENSORS = {  # mm; 135 film is ISO 1007's, four thirds the Four Thirds standard's; the others are makers' data sheets'
    "apsc": "[23.5, 15.6]",
    "dx": "[23.5, 15.6]",
    "fullframe": "[36, 24]",
    "ff": "[36, 24]",
    "fx": "[36, 24]",
    "35mm": "[36, 24]",
    "mft": "[17.3, 13.0]",
    "m43": "[17.3, 13.0]",
    "fourthirds": "[17.3, 13.0]",
    "microfourthirds": "[17.3, 13.0]",
    "1inch": "[13.2, 8.8]",
    "1": "[13.2, 8.8]",
}
SENSOR = "Write sensor_mm, width and height in mm: [36, 24] is full frame, [23.5, 15.6] APS-C"
_PAIRED = ("points", "brightness", "shutter_s", "aperture", "iso", "sensor_mm")
FOCAL = "Write one number: what the zoom is set to, such as 35"


def for_key(key: str, value: object, table: str) -> str | None:
    """What to write in place of a key of another quantity than the plan's; None where nothing is known of it."""
    word = re.sub(r"[\s_-]", "", key.casefold())
    if table == "power" and (charge := re.fullmatch(r"(?:battery|capacity|charge)?(m?ah)", word)):
        unit, per = ("mAh", 1000) if charge[1] == "mah" else ("Ah", 1)
        told = f"battery_wh is energy: {unit} × V{' / 1000' if per > 1 else ''}"
        if isinstance(value, int | float) and not isinstance(value, bool) and 0 < value < 1e9:
            return f"{told}, so that {value:g} {unit} of 3.7 V cells are battery_wh = {value / per * 3.7:.3g}"
        return f"{told}"
    if table == "optics" and word in ("sensor", "sensorsize", "crop", "format"):
        return sensor(value)
    return None


def sensor(value: object) -> str:
    """The size of a sensor that is known by a name."""
    word = re.sub(r"[^a-z0-9]", "", str(value).casefold()).removesuffix("sensor")
    size = _SENSORS.get(word)
    return f"Write sensor_mm = {size}" if size else SENSOR


def for_value(key: str, value: object) -> str | None:
    """What to write in place of a value that the trade would understand under that key; None for others."""
    if key == "azimuth_deg" and isinstance(value, str):
        return azimuth(value)
    if key == "focal_mm" and (isinstance(value, list | tuple) or (isinstance(value, str) and limits(value, key))):
        return FOCAL
    if key == "sensor_mm" and isinstance(value, str):
        pair = limits(re.sub("[x×*]", "-", value.casefold()).replace("mm", ""), "")
        return f"Write sensor_mm = {pair}" if pair else sensor(value)
    if isinstance(value, list | tuple) and key in _PAIRED and (pair := decimal_commas(value)):
        return f"Decimal comma? Write {pair}"
    return None


def azimuth(text: str) -> str | None:
    """Degrees from north through east of one of the sixteen points of the compass: 'SW', 'north-east'."""
    word = text[:64].casefold()
    for name, letter in _SIDES.items():
        word = word.replace(name, letter)
    word = re.sub(r"[\s_-]", "", word).upper()
    return f"Write {_COMPASS.index(word) * 22.5:g}, without quotes" if word in _COMPASS else None


def decimal_commas(value: Sequence[object]) -> str | None:
    """A pair that decimal commas have made a list of three or four: [3, 4, 0] was [3, 4,0]."""
    whole = [isinstance(part, int) and not isinstance(part, bool) for part in value]
    if len(value) == 4 and all(whole):
        return f"[{value[0]}.{value[1]}, {value[2]}.{value[3]}]"
    if len(value) == 3 and whole[1]:
        if whole[2] and str(value[2]).isdecimal():
            return f"[{value[0]}, {value[1]}.{value[2]}]"
        if whole[0] and not whole[2]:
            return f"[{value[0]}.{value[1]}, {value[2]}]"
    return None
