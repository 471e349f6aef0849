"""A body's settings as the page, the checks and REST name them, whoever made the body."""

from __future__ import annotations

import re
from enum import StrEnum

from pydantic import Field

from controller.words.documents import Document
from controller.words.no_number import NoNumber


class Setting(StrEnum):
    """Our names; what each maker calls them is known to the camera process alone."""

    SHUTTER = "shutter"
    APERTURE = "aperture"
    ISO = "iso"
    ISO_AUTO = "iso_auto"
    FORMAT = "format"  # which files a frame leaves: RAW, JPEG or both
    TARGET = "target"  # where frames go: card or the body's memory
    FOCUS = "focus"
    EXPOSURE_MODE = "exposure_mode"
    WHITE_BALANCE = "white_balance"
    DRIVE = "drive"  # single frame, continuous, self-timer
    NOISE_REDUCTION = "noise_reduction"  # the dark frame after a long exposure
    POWER_OFF = "power_off"
    BATTERY = "battery"
    SHOTS_LEFT = "shots_left"
    STYLE = "style"
    CLOCK = "clock"  # the body's date and time, in UTC; its one choice is NOW


NOW = "now"
"""The choice of CLOCK: the rig's time."""


_CODE = re.compile(r"(?:unknown(?: value)? +|0x)([0-9a-f]+)", re.IGNORECASE)


def codes(texts: list[str]) -> dict[str, str]:
    """Of a body's texts those where libgphoto2 has no word, and the number of the body's own that it gives instead."""
    return {text: found[1] for text in texts if (found := _CODE.fullmatch(text.strip()))}


class SettingNow(Document):
    """One setting as the body shows it. `control` is libgphoto2's name of it on this body."""

    setting: Setting
    control: str
    value: str = Field(description="the body's own text; empty where it shows none")
    choices: list[str] = Field(default_factory=list, description="the body's own texts that it can be set to")
    unnamed: dict[str, str] = Field(
        default_factory=dict,
        description="of these texts those that are no name, such as 'Unknown value 0001', and the body's code in each",
    )
    writable: bool = False
    number: float | None = Field(
        None,
        description="true seconds, f-number, ISO, per cent, count or POSIX seconds behind the value; null: no number",
    )
    instead: NoNumber | None = Field(None, description="of shutter, aperture and ISO: what stands in place of a number")


class Level(StrEnum):
    PASS = "pass"
    WARN = "warn"
    FAIL = "fail"


class Finding(Document):
    """What one check found. A remedy stands beside everything that is not a pass."""

    check: str
    level: Level
    what: str
    remedy: str | None = None
    camera: str | None = Field(None, description="id of the camera that it is about; null for the rig itself")
    fix: dict[Setting, str] | None = Field(None, description="settings that would mend it, as --fix sets them")
