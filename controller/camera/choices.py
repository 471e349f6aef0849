"""Settings between people and a body: numbers behind its texts, and the text that a wish means. Pure."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime

from controller.camera.messages import Opened, SettingShown, Shown
from controller.words import stops
from controller.words.errors import BadInput
from controller.words.no_number import NoNumber, battery_percent, count, meaning
from controller.words.settings import Setting, SettingNow, codes

REFUSED_REMEDY = {
    Setting.SHUTTER: "Turn the camera's mode dial to M",
    Setting.APERTURE: "Turn the camera's mode dial to M, and see that the lens is not set to an aperture by hand",
    Setting.ISO: "Turn the camera's mode dial to M, and switch automatic ISO off",
    Setting.EXPOSURE_MODE: "Turn the camera's mode dial to M: most bodies let only the dial change it",
    Setting.FOCUS: "Put the switch on the lens or body to manual focus",
    Setting.FORMAT: "Choose it in the camera's menu; some bodies change it only in M",
    Setting.CLOCK: "Set date and time in the camera's menu",
    Setting.TARGET: "See that a card is in the camera and not locked",
}
"""What helps where a body refuses a setting (common practice, no source)."""

_SAME_EV = 1 / 8


def told(shown: SettingShown) -> SettingNow:
    """The setting as the rig tells it."""
    setting = Setting(shown.setting)
    return SettingNow(
        setting=setting,
        control=shown.control,
        value=shown.value,
        choices=shown.choices,
        unnamed=codes([shown.value, *shown.choices]),
        writable=shown.writable,
        number=number(setting, shown.value),
        instead=instead(setting, shown.value),
    )


def with_clock(opened: Opened, answer: Shown, now_mono: float) -> Opened:
    """The body with its clock as it was shown just now, where it was.

    A body that shows what it showed before did not read its clock anew: libgphoto2 keeps what a Canon EOS told at the
    session's beginning (camlibs/ptp2/ptp.c of 2.5.34, whose EOS properties are filled by events alone; from memory).
    """
    shown = next((number(Setting.CLOCK, each.value) for each in answer.settings if each.setting == Setting.CLOCK), None)
    if shown is None or shown == opened.clock_s:
        return opened
    return replace(opened, clock_s=shown, clock_mono=now_mono)


def as_clock_runs(opened: Opened, answer: Shown, now_mono: float) -> Shown:
    """What was shown, with the body's clock as it must stand now."""

    def running(each: SettingShown) -> SettingShown:
        if each.setting != Setting.CLOCK or number(Setting.CLOCK, each.value) is None or opened.clock_s is None:
            return each
        at = datetime.fromtimestamp(opened.clock_s + now_mono - opened.clock_mono, UTC)
        return replace(each, value=f"{at:%Y-%m-%dT%H:%M:%SZ}")

    return replace(answer, settings=[running(each) for each in answer.settings])


def number(setting: Setting, text: str) -> float | None:
    """True seconds, f-number or ISO, per cent or count behind a body's text; None where it is no number."""
    match setting:
        case Setting.SHUTTER:
            nominal = stops.parse_shutter(text)
            return None if nominal is None else stops.true_shutter(nominal)
        case Setting.APERTURE:
            nominal = stops.parse_aperture(text)
            return None if nominal is None else stops.true_aperture(nominal)
        case Setting.ISO:
            nominal = stops.parse_iso(text)
            return None if nominal is None else stops.true_iso(nominal)
        case Setting.BATTERY:
            return battery_percent(text)
        case Setting.SHOTS_LEFT:
            return count(text)
        case Setting.CLOCK if text.endswith("Z"):
            return datetime.fromisoformat(text).timestamp()
    return None


def instead(setting: Setting, text: str) -> NoNumber | None:
    """What stands where shutter, aperture or ISO could be a number; None where there is one, and of other settings."""
    if setting not in (Setting.SHUTTER, Setting.APERTURE, Setting.ISO) or number(setting, text) is not None:
        return None
    return meaning(text)


def the_choice(setting: SettingNow, wanted: str, *, where: str) -> str:
    """The body's own text that `wanted` means: the same text, in any case, or the one that stands for the same number.

    Raises BadInput where the setting cannot be set, or no choice or more than one is meant.
    """
    name = named(setting.setting)
    if not setting.writable:
        what = f"this body only shows its {name} ({setting.value or 'nothing'})"
        raise BadInput("setting-read-only", what, where=where, remedy=_remedy(setting.setting))
    if not setting.choices:
        return wanted
    if wanted in setting.choices:
        return wanted
    folded = wanted.strip().casefold()
    alike = [choice for choice in setting.choices if choice.strip().casefold() == folded]
    if not alike and setting.setting is not Setting.CLOCK and (value := number(setting.setting, wanted)) is not None:
        alike = [
            choice
            for choice in setting.choices
            if (other := number(setting.setting, choice)) is not None and abs(math.log2(other / value)) < _SAME_EV
        ]
    if len(set(alike)) == 1:
        return alike[0]
    what = f"'{wanted}' is no {name} of this body"
    remedy = f"Choose one of {_listed(setting.choices)}"
    raise BadInput("no-such-choice", what, where=where, remedy=remedy)


def named(setting: Setting) -> str:
    """The setting in words."""
    return {Setting.ISO: "ISO", Setting.ISO_AUTO: "automatic ISO"}.get(setting, setting.replace("_", " "))


def _remedy(setting: Setting) -> str:
    return REFUSED_REMEDY.get(setting, "Set it on the camera itself")


def _listed(choices: list[str], most: int = 12) -> str:
    """The choices in words; from a long list its ends."""
    if len(choices) <= most:
        return ", ".join(choices)
    return f"{', '.join(choices[:5])}, … {', '.join(choices[-5:])} ({len(choices)} in all)"
