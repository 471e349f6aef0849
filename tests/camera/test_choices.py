"""What people write and what bodies call it. The spellings are those that libgphoto2 2.5.34 prints for the makers."""

from __future__ import annotations

import pytest

from controller.camera.choices import number, the_choice, told
from controller.camera.messages import SettingShown
from controller.camera.worker.widgets import SETTINGS
from controller.words.errors import BadInput
from controller.words.settings import Setting, SettingNow


def shown(setting: str, value: str, *choices: str, writable: bool = True) -> SettingNow:
    return told(SettingShown(setting, "control", value, list(choices), writable))


def test_codes_in_place_of_names_are_told_apart() -> None:
    """As libgphoto2 gives what it has no word for (from memory)."""
    format_now = shown("format", "Unknown value 0001", "RAW", "Unknown value 0001", "0x00ff", "Unknown-looking")
    assert format_now.unnamed == {"Unknown value 0001": "0001", "0x00ff": "00ff"}
    assert format_now.value in format_now.choices, "a choice is set by the body's own text"


def test_every_setting_has_its_controls() -> None:
    assert set(SETTINGS) == set(Setting)
    assert all(SETTINGS.values())


# True values behind nominal labels: ISO 2720 and the cameras' thirds of a stop, 1/125 being 1/128 and f/5.6 4·√2.
@pytest.mark.parametrize(
    ("setting", "text", "value"),
    [
        (Setting.SHUTTER, "1/125", 1 / 128),
        (Setting.SHUTTER, "0,0080s", 1 / 128),
        (Setting.SHUTTER, "10/13", 2 ** (-1 / 3)),
        (Setting.SHUTTER, "bulb", None),
        (Setting.SHUTTER, "65535/65535", None),
        (Setting.APERTURE, "f/5,6", 32**0.5),
        (Setting.APERTURE, "implicit auto", None),
        (Setting.ISO, "Auto", None),
        (Setting.ISO, "65535", None),
        (Setting.ISO, "400", 400),
        (Setting.BATTERY, "75%", 75),
        (Setting.BATTERY, "Low", 5),
        (Setting.BATTERY, "Unknown", None),
        (Setting.SHOTS_LEFT, "1432", 1432),
        (Setting.FOCUS, "Unknown value 8001", None),
    ],
)
def test_numbers_behind_texts(setting: Setting, text: str, value: float | None) -> None:
    assert number(setting, text) == (value if value is None else pytest.approx(value))


@pytest.mark.parametrize(
    ("setting", "choices", "wanted", "chosen"),
    [
        ("target", ("Internal RAM", "Memory card"), "memory CARD", "Memory card"),
        ("shutter", ("10.3", "1/4", "1/125", "bulb"), "10", "10.3"),
        ("shutter", ("0,0080s", "0,0100s", "0,0125s"), "1/100", "0,0100s"),
        ("shutter", ("1/125", "bulb"), "Bulb", "bulb"),
        ("aperture", ("f/5,6", "f/6,3"), "5.6", "f/5,6"),
        ("iso", ("Auto", "100", "200"), "ISO 200", "200"),
        ("focus", ("MF", "AF-S", "AF-C"), "mf", "MF"),
    ],
)
def test_what_is_meant(setting: str, choices: tuple[str, ...], wanted: str, chosen: str) -> None:
    assert the_choice(shown(setting, choices[0], *choices), wanted, where="camera-1") == chosen


@pytest.mark.parametrize("wanted", ["", "5", "1/3000", "auto"])
def test_what_no_choice_stands_for(wanted: str) -> None:
    with pytest.raises(BadInput, match=r"Choose one of 1/4, 1/125, bulb$") as refused:
        the_choice(shown("shutter", "1/4", "1/4", "1/125", "bulb"), wanted, where="camera-1")
    assert refused.value.where == "camera-1"


def test_a_number_that_two_choices_stand_for_is_refused() -> None:
    with pytest.raises(BadInput, match="Choose one of"):
        the_choice(shown("iso", "100", "100", "ISO 100", "200"), "100.0", where="camera-1")


def test_what_the_body_only_shows() -> None:
    with pytest.raises(BadInput, match=r"only shows its exposure mode \(P\).*dial to M"):
        the_choice(shown("exposure_mode", "P", "P", "M", writable=False), "M", where="camera-1")


def test_a_long_list_is_told_by_its_ends() -> None:
    choices = [str(n) for n in range(100, 140)]
    with pytest.raises(BadInput, match=r"100, 101, 102, 103, 104, … 135, 136, 137, 138, 139 \(40 in all\)"):
        the_choice(shown("iso", "100", *choices), "5", where="camera-1")


def test_a_control_without_a_list_takes_what_is_written() -> None:
    assert the_choice(shown("power_off", "60"), "0", where="camera-1") == "0"
