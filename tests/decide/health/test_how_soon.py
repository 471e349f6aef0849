"""How long a sign must stand, whether it is urgent, and its words: held to the table of docs/watching.md."""

from __future__ import annotations

import re
from itertools import permutations
from pathlib import Path

import pytest

from controller.decide.health import CHECKS, signs
from controller.decide.health.facts import CameraSeen, Readings, Sign
from controller.words.documents import ClockState, PlaceNow, RigClock
from tests.decide.health import a_look, camera, of_camera, several

PAGE = Path(__file__).parents[3] / "docs/watching.md"
FINDINGS = PAGE.read_text("utf-8").partition("## Findings")[2].partition("\n## ")[0]
AFTER = dict(re.findall(r"^\| `([^`]+)` \|.*\| ([^|]+) \|$", FINDINGS, re.M))
UNITS_S = {"s": 1.0, "min": 60.0, "hour": 3600.0}
DAY = {"sun_altitude_deg": 20.0}


def after_s(name: str) -> float:
    """The first time in the last column of a finding's line, seconds."""
    if AFTER[name].startswith("at once"):
        return 0.0
    number, unit = re.findall(r"^(\d+) (\w+)", AFTER[name])[0]
    return float(number) * UNITS_S[unit]


def place(**facts: object) -> Readings:
    return Readings(places=(PlaceNow.model_validate({"name": "office", "waiting": 3, **facts}),))


def clock(state: ClockState, **facts: object) -> Readings:
    return Readings(clock=RigClock(utc=0, state=state, why="it says 1970", **facts))


def the_sign(name: str, readings: Readings) -> Sign:
    (found,) = [sign for sign in signs(readings) if sign.check == name]
    return found


BAD = [
    ("shoot", Readings(failed={"s": "no camera"}), True),
    ("camera", of_camera(connected=False), True),
    ("frame log", Readings(unlogged="the disk is full"), True),
    ("log made anew", Readings(made_anew="The frame log was damaged"), True),
    ("supply of the Pi", Readings(is_pi=True, throttled=1), True),
    ("missed slots", of_camera(missed=10, slots=20), False),
    ("missed slots", of_camera(missed=11, slots=20), True),
    ("black frames", of_camera(pictures=several(5, black=1.0, **DAY)), True),
    ("frozen picture", of_camera(pictures=several(6, fingerprint=1)), True),
    ("metering", of_camera(unread=20), False),
    ("card room", of_camera(room_frames=10, wanted_frames=100), False),
    ("card room", of_camera(room_frames=9, wanted_frames=100), True),
    ("card room", of_camera(room_frames=99, card_hours_left=11), False),
    ("card room", of_camera(room_frames=99, card_hours_left=1), True),
    ("rig disk", Readings(free_bytes=600_000_000), False),
    ("rig disk", Readings(free_bytes=400_000_000), True),
    ("rig disk", Readings(free_bytes=20_000_000_000, hours_left=2), False),
    ("battery", of_camera(battery_percent=9), False),
    ("temperature", Readings(temperature_c=85.0), False),
    ("blurred", of_camera(pictures=several(12, sharpness=0.1), usual=1.0), False),
    ("wiring", Readings(wiring=("pin 17 is taken",)), False),
    ("rig clock", clock(ClockState.WRONG), False),
    ("rig clock", clock(ClockState.WRONG, windows_wait=True), True),
    ("films", Readings(film_trouble="the disk is full"), False),
]


@pytest.mark.parametrize(("name", "readings", "urgent"), BAD)
def test_each_is_raised_as_soon_and_as_urgently_as_the_page_says(name: str, readings: Readings, urgent: bool):
    sign = the_sign(name, readings)
    assert (sign.says, sign.raise_s, sign.urgent) == ("raise", after_s(name), urgent)
    assert not urgent or "urgent" in AFTER[name]
    assert urgent or "urgent" not in AFTER[name] or re.search("urgent (below|beyond|while)", AFTER[name])


def test_every_line_of_the_page_is_held():
    assert {name for name, _, _ in BAD} == AFTER.keys() - {"second place"}


def test_a_damaged_log_is_told_at_once():
    sign = the_sign("frame log", Readings(damaged="The frame log was damaged"))
    assert "damage at once" in AFTER["frame log"]
    assert (sign.raise_s, sign.urgent) == (0.0, True)


def test_heat_is_over_below_its_line():
    assert the_sign("temperature", Readings(temperature_c=75.0)).says == "stay"


DARK, STUCK, WELL = (several(5, black=1.0, **DAY), several(6, fingerprint=1), several(6))
WORDS = [
    ("supply of the Pi", Readings(is_pi=True, throttled=1), "is too weak"),
    ("supply of the Pi", Readings(is_pi=True, throttled=0), "holds again"),
    ("shoot", Readings(failed={"s": "no card"}), "has failed: s: no card"),
    ("shoot", Readings(), "No shoot has failed"),
    ("camera", of_camera(connected=False, trouble="USB is gone"), "not there: USB is gone"),
    ("camera", of_camera(), "is there"),
    ("frame log", Readings(unlogged="disk full"), "cannot be written: disk full"),
    ("frame log", Readings(), "is written"),
    ("missed slots", of_camera(missed=3, slots=20, cause="busy"), "3 of the last 20 slots missed: busy"),
    ("missed slots", of_camera(slots=20, cause="busy"), "0 of the last 20 slots missed"),
    ("black frames", of_camera(pictures=DARK), "are black by day, the lens may be covered"),
    ("black frames", of_camera(pictures=WELL), "show light again"),
    ("frozen picture", of_camera(pictures=STUCK), "are the same to the last pixel"),
    ("frozen picture", of_camera(pictures=WELL), "differ again"),
    ("metering", of_camera(unread=20, blind="no JPEG"), "could be read, the light is not metered: no JPEG"),
    ("metering", of_camera(unread=0), "can be read again"),
    ("card room", of_camera(room_frames=9, wanted_frames=99), "has room for 9 of 99 frames"),
    ("card room", of_camera(room_frames=9, card_hours_left=3), "lasts for 3 h 00 min at this pace"),
    ("rig disk", Readings(free_bytes=400_000_000, hours_left=3), "400 MB free, enough for 3 h 00 min at this pace"),
    ("rig disk", Readings(free_bytes=2_000_000_000), "2.0 GB free"),
    ("temperature", Readings(temperature_c=85.2, throttled=4), "machine is at 85 °C and is slowed down by heat"),
    ("temperature", Readings(throttled=4), "machine is slowed down by heat"),
    ("temperature", Readings(temperature_c=60.0), "machine is at 60 °C"),
    ("blurred", of_camera(pictures=several(12, sharpness=0.2), usual=0.8), "have 25 % of the sharpness"),
    ("wiring", Readings(wiring=("a is taken", "b is gone")), "a is taken; b is gone"),
    ("wiring", Readings(wiring=()), "All that is wired works"),
    ("rig clock", clock(ClockState.WRONG), "clock is wrong: it says 1970"),
    ("rig clock", clock(ClockState.RIGHT), "clock is right"),
    ("second place office", place(trouble="h is away"), "3 frames wait for office: h is away"),
    ("second place office", place(), "Copies go to office"),
    ("films", Readings(film_trouble="disk full"), "could not be made: disk full"),
    ("films", Readings(), "are made again"),
]


@pytest.mark.parametrize(("name", "readings", "words"), WORDS)
def test_words_tell_the_trouble_or_that_it_is_over(name: str, readings: Readings, words: str):
    """At their end, so that nothing more is said."""
    told = the_sign(name, readings).what
    assert words in told if name == "blurred" else told.endswith(words)


def test_each_is_cleared_at_once_but_where_the_page_says_after_how_many_minutes():
    """Of the supply it says for how long none may have been seen."""
    good = [(name, the_sign(name, readings)) for name, readings, _ in WORDS]
    good.append(("blurred", the_sign("blurred", of_camera(pictures=WELL * 2, usual=1.0))))
    good.append(("second place", the_sign("second place office", place())))
    cleared = {name: sign.clear_s for name, sign in good if sign.says == "clear"}
    assert "none for an hour" in FINDINGS
    for name, clear_s in cleared.items():
        minutes = re.findall(r"cleared after (\d+)", AFTER.get(name, ""))
        assert clear_s == (3600.0 if name == "supply of the Pi" else 60.0 * float(*minutes)), name
    assert len(cleared) > 12


CAMERAS: list[CameraSeen] = [
    camera(id="new"),
    camera(id="idle", shooting=False),
    camera(id="away", connected=False, room_frames=1, battery_percent=5),
    camera(id="bad", battery_percent=5, room_frames=1, wanted_frames=9, missed=9, slots=20, unread=30, usual=1.0,
           pictures=several(12, black=1.0, fingerprint=1, sharpness=0.1, **DAY)),
    camera(id="good", battery_percent=90, room_frames=99, wanted_frames=9, slots=20, unread=0, usual=1.0,
           pictures=several(12)),
    camera(id="endless", room_frames=9, card_hours_left=3.0, pictures=(a_look(),)),
]  # fmt: skip


def test_what_is_said_of_a_camera_hangs_on_no_other():
    """Nor on which comes first: a camera of which nothing can be told keeps none behind it from being looked at."""
    for check in CHECKS:
        alone = {one.id: [s for s in check(Readings(cameras=(one,))) if s.camera] for one in CAMERAS}
        for some in permutations(CAMERAS, 3):
            together = [sign for sign in check(Readings(cameras=some)) if sign.camera]
            assert together == [sign for one in some for sign in alone[one.id]]
