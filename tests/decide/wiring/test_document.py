"""rig.toml, read or refused in one line."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from controller.decide.wiring import DewHeater, Motion, Trigger, WiredRelease, Wiring, read_wiring
from controller.words.errors import BadInput

DOCS = Path(__file__).parents[3] / "docs" / "wiring.md"
TABLES = {"motion": Motion, "trigger": Trigger, "wired_release": WiredRelease, "dew_heater": DewHeater}


def test_nothing_is_wired_by_an_empty_document():
    assert read_wiring("") == Wiring()
    assert not Wiring().wants_pins


def test_all_of_it():
    found = read_wiring(
        """
        [motion]
        pin = 17
        settle_s = 1.2
        [trigger]
        pin = 27
        edge = "rising"
        pull = "down"
        [wired_release]
        shutter_pin = 23
        focus_pin = 24
        [dew_heater]
        pin = 22
        active = "low"
        sensor_command = ["air", "--once"]
        """
    )
    assert found.motion == Motion(pin=17, settle_s=1.2)
    assert found.motion.needs_s == pytest.approx(0.1 + 0.2 + 1.2)
    assert found.dew_heater is not None
    assert found.dew_heater.sensor_command == ("air", "--once")
    assert found.wants_pins


@pytest.mark.parametrize(
    ("text", "where", "says"),
    [
        ("[motion]\nsettle_s = 1", "line 1, [motion] pin", "is missing"),
        ('[motion]\npin = "GPIO17"\nsettle_s = 1', "line 2, [motion] pin", "is no pin"),
        ("[motion]\npin = 1\nsettle_s = 1", "line 2, [motion] pin", "(BCM), 2 to 27"),
        ("[motion]\npin = 5\nsettle = 1", "line 3, [motion] settle", "unknown key. Did you mean settle_s?"),
        ('[motion]\npin = 5\nsettle_s = "1 s"', "line 3, [motion] settle_s", "Write 1"),
        ("[motion]\npin = 5\nsettle_s = nan", "line 3, [motion] settle_s", "finite"),
        ("[moton]\npin = 5", "line 1, [moton]", "unknown table. Did you mean motion?"),
        ("motion = 5", "line 1, [motion]", "Write [motion]"),
        ('[trigger]\npin = 5\nedge = "fall"', "line 3, [trigger] edge", "falling"),
        ("[dew_heater]\npin = 5", "line 1, [dew_heater] sensor_command", "no sensor"),
        ('[dew_heater]\npin = 5\nsensor_command = "air"', "line 3, [dew_heater] sensor_command", '["PROGRAM"'),
        ('[dew_heater]\npin = 5\nsensor_file = "a"\nsensor_command = ["a"]', "[dew_heater] sensor_file", "two sensors"),
        ('[dew_heater]\npin = 5\nsensor_file = "a"', "[dew_heater] sensor_file", "whole path"),
        ('[dew_heater]\npin = 5\nsensor_file = "/a"\nsilent_s = 20', "[dew_heater] silent_s", "not longer"),
        ('[wired_release]\nshutter_pin = 5\ncamera = "mine"', "[wired_release] camera", 'camera = "camera-1"'),
        ("[motion]\npin = 5\nsettle_s = 1\n[trigger]\npin = 5", "line 5, [trigger] pin", "taken by [motion] pin"),
        ("[wired_release]\nshutter_pin = 5\nfocus_pin = 5", "[wired_release] focus_pin", "taken by"),
        ("[motion]\npin = 28\nsettle_s = 1", "line 2, [motion] pin", "(BCM), 2 to 27"),
        ('[dew_heater]\npin = 5\nsensor_file = "/a"\nsilent_s = 30', "[dew_heater] silent_s", "not longer"),
        ("[motion", "", "not TOML"),
        ("a = " + 5000 * "9", "", "not TOML that can be read"),
    ],
)
def test_what_is_wrong_is_said_in_one_line(text, where, says):
    with pytest.raises(BadInput) as refusal:
        read_wiring(text)
    error = refusal.value
    assert error.code == "bad-wiring"
    assert error.where.endswith(where)
    assert says in str(error)
    assert error.remedy
    assert "\n" not in str(error)


def test_the_header_s_pins_are_2_to_27():
    """GPIO 2 to 27 are on the 40-pin header of a Raspberry Pi; 0 and 1 are its ID EEPROM's (its maker's pages, from
    memory)."""
    assert read_wiring("[motion]\npin = 2\nsettle_s = 1\n[trigger]\npin = 27").trigger == Trigger(pin=27)


def test_the_page_lists_every_key_and_every_default():
    sections = {part.split("]")[0]: part.partition("\n## ")[0] for part in DOCS.read_text("utf-8").split("\n## [")[1:]}
    assert set(sections) == set(TABLES)
    for table, model in TABLES.items():
        for name, field in model.model_fields.items():
            row = re.search(rf"^\| `{name}` \|.*\| (.+?) \|$", sections[table], re.M)
            assert row is not None, (table, name)
            told = "needed" if field.is_required() else "none" if field.default is None else f"{field.default}"
            assert row[1].strip("`").strip('"') == told, (table, name)


def test_the_page_s_examples_can_be_read():
    for block in re.findall(r"^```toml\n(.*?)^```", DOCS.read_text("utf-8"), re.S | re.M):
        if "[site]" not in block:
            assert read_wiring(block).wants_pins
