"""Where each check draws its two lines: common practice, no source, but for a Pi's, which decide/pi.py has."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from controller.decide.health import CHECKS, signs
from controller.decide.health.battery import battery
from controller.decide.health.black import black_frames
from controller.decide.health.blurred import blurred
from controller.decide.health.camera import camera as away
from controller.decide.health.card_room import card_room
from controller.decide.health.facts import Readings
from controller.decide.health.films import films
from controller.decide.health.frozen import frozen
from controller.decide.health.made_anew import made_anew
from controller.decide.health.metering import metering
from controller.decide.health.missed_slots import missed_slots, usual_cause
from controller.decide.health.rig_clock import rig_clock
from controller.decide.health.rig_disk import rig_disk
from controller.decide.health.shoot import frame_log, shoot
from controller.decide.health.temperature import temperature
from controller.decide.health.under_voltage import under_voltage
from controller.decide.health.wiring import wiring
from controller.words.documents import ClockState, RigClock
from tests.decide.health import a_look, camera, of_camera, several

PAGE = Path(__file__).parents[3] / "docs/watching.md"
DAY = {"sun_altitude_deg": 20.0}


def clock(state: ClockState, **facts: object) -> Readings:
    return Readings(clock=RigClock(utc=0, state=state, why="it says 1970", **facts))


@pytest.mark.parametrize(
    ("check", "readings", "said"),
    [
        (rig_disk, Readings(), None),
        (rig_disk, Readings(free_bytes=900_000_000), "raise"),
        (rig_disk, Readings(free_bytes=1_200_000_000), "stay"),
        (rig_disk, Readings(free_bytes=2_000_000_000), "clear"),
        (rig_disk, Readings(free_bytes=20_000_000_000, hours_left=11), "raise"),
        (rig_disk, Readings(free_bytes=20_000_000_000, hours_left=15), "stay"),
        (rig_disk, Readings(free_bytes=20_000_000_000, hours_left=19), "clear"),
        (temperature, Readings(), None),
        (temperature, Readings(temperature_c=79.9), "stay"),
        (temperature, Readings(temperature_c=80.0), "raise"),
        (temperature, Readings(temperature_c=74.9), "clear"),
        (temperature, Readings(temperature_c=60.0, throttled=0x4), "raise"),  # throttled now, says the documentation
        (temperature, Readings(temperature_c=60.0, throttled=0x8), "raise"),  # at the soft limit
        (temperature, Readings(temperature_c=60.0, throttled=0xC0001), "clear"),  # only in the past
        (under_voltage, Readings(throttled=1), None),  # no Pi
        (under_voltage, Readings(is_pi=True), None),
        (under_voltage, Readings(is_pi=True, throttled=0x10001), "raise"),
        (under_voltage, Readings(is_pi=True, throttled=0x10000), "clear"),
        (under_voltage, Readings(is_pi=True, throttled=0x10000, dipped=True), "raise"),
        (rig_clock, Readings(), None),
        (rig_clock, clock(ClockState.RIGHT), "clear"),
        (rig_clock, clock(ClockState.UNSURE), "raise"),
        (rig_clock, clock(ClockState.WRONG), "raise"),
        (battery, of_camera(), None),
        (battery, of_camera(battery_percent=15), "raise"),
        (battery, of_camera(battery_percent=20), "stay"),
        (battery, of_camera(battery_percent=25), "clear"),
        (battery, of_camera(battery_percent=5, connected=False), None),
        (card_room, of_camera(room_frames=99), None),
        (card_room, of_camera(room_frames=99, card_hours_left=11), "raise"),
        (card_room, of_camera(room_frames=99, card_hours_left=17), "stay"),
        (card_room, of_camera(room_frames=99, card_hours_left=19), "clear"),
        (card_room, of_camera(room_frames=99, wanted_frames=100), "raise"),
        (card_room, of_camera(room_frames=100, wanted_frames=100), "stay"),  # just enough
        (card_room, of_camera(room_frames=105, wanted_frames=100), "clear"),
        (card_room, of_camera(room_frames=9, wanted_frames=100, connected=False), None),  # as it was told before
        (away, of_camera(connected=False), "raise"),
        (away, of_camera(connected=False, shooting=False), "clear"),
        (away, of_camera(), "clear"),
        (shoot, Readings(failed={"s": "no camera"}), "raise"),
        (shoot, Readings(), "clear"),
        (frame_log, Readings(unlogged="the disk is full"), "raise"),
        (frame_log, Readings(), "clear"),
        (frame_log, Readings(damaged="The frame log was damaged"), "raise"),
        (made_anew, Readings(made_anew="The frame log was damaged and is made anew"), "raise"),
        (made_anew, Readings(unlogged="the disk is full"), "clear"),
        (missed_slots, of_camera(missed=5, slots=19), None),
        (missed_slots, of_camera(missed=2, slots=20), "raise"),
        (missed_slots, of_camera(missed=1, slots=20), "stay"),
        (missed_slots, of_camera(missed=0, slots=20), "clear"),
        (missed_slots, of_camera(missed=20, slots=20, connected=False), None),  # the camera's absence says it
        (missed_slots, of_camera(shooting=False), "clear"),
        (metering, of_camera(), None),  # a plan without pictures
        (metering, of_camera(unread=20, blind="the camera gave no small picture"), "raise"),
        (metering, of_camera(unread=19), "stay"),
        (metering, of_camera(unread=1), "clear"),  # is on its way
        (metering, of_camera(unread=90, connected=False), None),
        (metering, of_camera(unread=90, shooting=False), "clear"),
        (wiring, Readings(), None),
        (wiring, Readings(wiring=("pin 17 is taken",)), "raise"),
        (wiring, Readings(wiring=()), "clear"),
        (films, Readings(), "clear"),
        (films, Readings(film_trouble="the disk is full", film_remedy="Free some space"), "raise"),
        (black_frames, of_camera(pictures=several(4, black=1.0, **DAY)), None),
        (black_frames, of_camera(pictures=several(5, black=1.0, **DAY)), "raise"),
        (black_frames, of_camera(pictures=several(5, black=1.0, sun_altitude_deg=-8.0)), "stay"),  # a night
        (black_frames, of_camera(pictures=several(5, black=1.0, expected_ev=-5.0)), "stay"),  # meant to be so dark
        (black_frames, of_camera(pictures=several(5, found_ev=-7.1, **DAY)), "raise"),  # light leaks through a cap
        (black_frames, of_camera(pictures=several(5, found_ev=-6.0, **DAY)), "stay"),
        (black_frames, of_camera(pictures=several(5, found_ev=-4.0, **DAY)), "clear"),  # a thunderstorm
        (black_frames, of_camera(pictures=several(5, found_ev=-1.0, sun_altitude_deg=-8.0)), "clear"),
        (frozen, of_camera(pictures=several(5, fingerprint=1)), None),
        (frozen, of_camera(pictures=several(6, fingerprint=1)), "raise"),
        (frozen, of_camera(pictures=several(6, fingerprint=1, black=0.99)), "stay"),  # nothing to tell apart
        (frozen, of_camera(pictures=(*several(6, fingerprint=1), a_look(fingerprint=2))), "clear"),
        (blurred, of_camera(pictures=several(12, sharpness=0.39)), None),  # nothing to compare with
        (blurred, of_camera(pictures=several(11, sharpness=0.39), usual=1.0), None),
        (blurred, of_camera(pictures=several(12, sharpness=0.39), usual=1.0), "raise"),
        (blurred, of_camera(pictures=several(12, sharpness=0.5), usual=1.0), "stay"),
        (blurred, of_camera(pictures=several(12, sharpness=0.71), usual=1.0), "clear"),
    ],
)
def test_lines(check, readings, said):
    (found,) = check(readings) or [None]
    assert (None if found is None else found.says) == said
    if said == "raise":
        assert found.what
        assert found.remedy
        assert not found.what.endswith(".")


def test_one_bad_picture_among_good_ones_says_nothing():
    dark = several(5, black=1.0, **DAY)
    assert black_frames(of_camera(pictures=(*dark[:4], a_look(**DAY))))[0].says == "clear"
    blur = [replace(look, sharpness=0.1) for look in several(5)]
    assert blurred(of_camera(pictures=(*several(7), *blur), usual=1.0))[0].says == "clear"


def test_each_camera_has_its_own():
    readings = Readings(cameras=(camera(battery_percent=9), camera(id="camera-2", battery_percent=90)))
    assert {(s.key, s.says) for s in battery(readings)} == {
        (("battery", "camera-1"), "raise"),
        (("battery", "camera-2"), "clear"),
    }


def test_after_a_shoot_its_findings_are_over():
    """They are about its pictures and slots, of which no more come."""
    over = {sign.check for sign in signs(of_camera(shooting=False)) if sign.says == "clear" and sign.clear_s == 0}
    assert {"missed slots", "black frames", "frozen picture", "metering", "blurred", "camera"} <= over


def test_every_check_has_its_line_on_the_page():
    section = PAGE.read_text("utf-8").partition("## Findings")[2].partition("\n## ")[0]
    listed = re.findall(r"^\| `([^`]+)`", section, re.M)
    found = of_camera(
        battery_percent=9, room_frames=1, wanted_frames=9, slots=20, pictures=several(12), usual=1.0, unread=0
    )
    everything = replace(
        found, wiring=(), free_bytes=1, throttled=0, is_pi=True, clock=RigClock(utc=0, state=ClockState.RIGHT)
    )
    assert listed == [sign.check for sign in signs(everything)]
    assert len(listed) == len(CHECKS)


def test_the_most_frequent_cause_is_named() -> None:
    """Not the last one."""
    assert usual_cause(["away", "busy", "away", None, None, None, "busy", "away", "busy late"]) == "away"
    assert usual_cause([]) is usual_cause([None]) is None


def test_numbers_of_missed_slots_are_written_one_way() -> None:
    (sign,) = missed_slots(of_camera(missed=12_345, slots=20_000, cause="busy"))
    assert sign.what == "12,345 of the last 20,000 slots missed: busy"
