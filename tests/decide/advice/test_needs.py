"""Card, disk and battery, and the sums behind them: by hand."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.decide.advice import storage
from controller.decide.advice.ahead import at_site
from controller.decide.advice.needs import moment_of, total
from controller.decide.plan import Plan
from controller.decide.retention import Held, Rule, card_due
from controller.words.advice import Costs, PlanSummary, Warned
from tests.decide import changed, example, utc
from tests.decide.advice.test_advise import BODY, asked
from tests.decide.advice.test_exposures import ahead_of

QUAY = example("quay_at_dusk")
START = utc("2026-12-03T17:00:00")  # 18:00 in Sweden


def hours(count: float, interval_s: float = 10.0, **tables: object) -> Plan:
    """From 18:00 on, so long; without test frames, so that frames are frames."""
    when = {"start": "2026-12-03T18:00", "stop": None, "duration": f"{count:g}h"}
    pace = {"kind": "steady", "interval_s": interval_s}
    return changed(QUAY, when=when, pace=pace, light={"test_frame": False}, **tables)


def said(found: PlanSummary, words: str) -> Warned | None:
    return next((w for w in found.warnings if words in w.what), None)


# ---- storage


@pytest.mark.parametrize(
    ("fetch", "whole"),
    [("all", 1000), ("every 1", 1000), ("every 7", 142), ("every 10", 100), ("preview", 0), ("none", 0)],
)
def test_what_is_fetched_whole(fetch: str, whole: int):
    """Every seventh of 1000: 7, 14 … 994."""
    assert storage.whole_frames(fetch, 1000) == whole
    previews = 0 if fetch == "none" else 1000 * 50e3
    assert storage.rig_bytes(fetch, 1000, 30e6, 50e3) == whole * 30e6 + previews + 1000 * 400.0


@given(st.sampled_from(["all", "every 3", "every 10", "every 250", "preview", "none"]), st.floats(1e8, 1e12))
def test_the_rig_s_disk_is_full_when_its_room_is_taken(fetch: str, room: float):
    """To within one round of what `fetch` counts."""
    frames = storage.frames_in_rig(fetch, room, 30e6, 50e3)
    step = int(fetch.split()[1]) if " " in fetch else 1
    assert storage.rig_bytes(fetch, math.floor(frames), 30e6, 50e3) <= room * (1 + 1e-9)
    assert storage.rig_bytes(fetch, math.floor(frames) + step + 1, 30e6, 50e3) > room


@pytest.mark.parametrize("every", [1, 2, 3, 10, 150])
@pytest.mark.parametrize("room", [0, 60, 100, 101, 102, 113, 250, 635])
def test_a_card_from_which_frames_go_is_full_when_those_that_stay_fill_it(every: int, room: int):
    """Frame by frame by the rule of what may go (retention.py, held to storage.md by its own tests), where copies are
    there at once."""
    rule, card, shot = Rule(free_card=True), list[int](), 0
    while len(card) < room and shot < 1500:
        shot += 1
        card.append(shot)
        held = [Held(0.0, n % every == 0, True, True, newer_on_card=len(card) - k - 1) for k, n in enumerate(card)]
        card = [n for n, each in zip(card, held, strict=True) if not card_due(rule, each)]
        assert storage.stays_on_card(every, shot) == len(card)
    assert storage.frames_through_card(every, room) == (math.inf if shot == 1500 else shot)


def test_sizes_of_all_units():
    """Decimal ones as makers of cards count, binary ones by IEC 80000-13."""
    units = {"MB": 1e6, "GB": 1e9, "TB": 1e12, "MiB": 2**20, "GiB": 2**30, "TiB": 2**40}
    for unit, bytes_ in units.items():
        assert storage.parse_size(f"1.5 {unit}", "--card") == 1.5 * bytes_
    assert storage.frames_in_card(64e9, 30e6) == 2133


def test_a_disk_that_fills():
    """All of 10 h at 10 s, 50 MB and previews of 100 kB a frame: 32 GB are 638 frames, 1 h 46 min."""
    plan = hours(10, files={"fetch": "all"})
    found = asked(plan, body=BODY, card_bytes=1e12, rig_room_bytes=32e9)
    assert found.frames == 3600
    assert found.storage.rig_full_utc == pytest.approx(START + 32e9 / (50e6 + 100e3 + 400) * 10, abs=10)
    told = said(found, "the rig's disk is full")
    assert told is not None
    assert (told.costs, told.utc) == (Costs.COMFORT, found.storage.rig_full_utc)
    assert "is full at 19:46 at 50 MB a frame and fetch = all (32.0 GB free)" in told.what
    enough = asked(plan, body=BODY, card_bytes=1e12, rig_room_bytes=181e9)
    assert enough.storage.rig_full_utc is None


def test_a_disk_and_a_card_of_a_plan_without_an_end():
    plan = changed(hours(1), when={"duration": None}, files={"fetch": "all"})
    found = asked(plan, frame_bytes=50e6, card_bytes=10e9, rig_room_bytes=20e9)
    assert (found.frames, found.storage.card_bytes, found.storage.rig_bytes) == (None, None, None)
    assert found.storage.card_full_utc == pytest.approx(START + 200 * 10, abs=10)
    assert found.storage.rig_full_utc == pytest.approx(START + 20e9 / 50.0504e6 * 10, abs=10)
    told = said(found, "the card is full")
    assert told is not None
    assert "it has room for 200 frames at 50 MB a frame (10.0 GB free)" in told.what
    assert told.remedy == "Take a larger or an empty card, or smaller files"


def test_a_card_that_is_too_small_and_how_large_it_should_be():
    """3600 frames of 50 MB are 180 GB; a twentieth more is 189 GB. 100 GB hold 2000: 5 h 33 min 20 s."""
    found = asked(hours(10), body=BODY, card_bytes=100e9)
    told = said(found, "the card is full")
    assert told is not None
    assert (
        told.what == "the card is full at 23:33: it has room for 2000 of 3600 frames at 50 MB a frame (100.0 GB free)"
    )
    assert told.remedy == "Take a card with 189.0 GB free or more, or smaller files"
    seen = said(asked(hours(10), body=BODY), "the card is full")  # 32 GB were free a day ago
    assert seen is not None
    assert "(32.0 GB free, as last seen on 02 Dec)" in seen.what
    guessed = said(asked(hours(10), card_bytes=100e9), "the card is full")
    assert guessed is not None
    assert "at 30 MB a frame, which is assumed" in guessed.what


def test_a_card_that_is_full_on_another_day_says_so():
    """100 GB of 50 MB at 20 s: 11 h 6 min, past midnight."""
    told = said(asked(hours(20, 20.0), body=BODY, card_bytes=100e9), "the card is full")
    assert told is not None
    assert "the card is full at Fri 04 Dec 05:06" in told.what


def test_what_a_second_place_has_to_take():
    """360 frames an hour of 50 MB are 18 GB; of every third 6 GB."""
    freed = {"fetch": "all", "free_card": "after two copies"}
    told = said(asked(hours(10, files=freed), body=BODY, card_bytes=100e9), "the card has room for")
    assert told is not None
    assert told.remedy.startswith("See that a second place takes 18.0 GB an hour")
    assert "from 23:33 on only where earlier ones are verified in two places" in told.what
    third = asked(hours(10, files=freed | {"fetch": "every 3"}), body=BODY, card_bytes=150e9)
    told = said(third, "the card has room for")
    assert told is not None
    assert told.remedy.startswith("See that a second place takes 6.0 GB an hour")
    # 2400 of 3600 stay for good, and of those fetched the 34 that are among the newest 100: they fit 3000
    assert third.storage.card_kept_bytes == 2434 * 50e6
    assert third.storage.card_full_at_last_utc is None
    endless = changed(hours(1, files=freed | {"fetch": "every 3"}), when={"duration": None})
    full = asked(endless, body=BODY, card_bytes=50e9).storage
    assert full.card_kept_bytes is None
    assert full.card_full_at_last_utc == pytest.approx(START + (101 + 899 * 1.5) * 10, abs=20)
    assert full.card_full_at_last_utc > full.card_full_utc


def test_test_frames_take_room_too():
    plan = changed(hours(10), light={"test_frame": True})
    found = asked(plan, body=BODY, card_bytes=100e9)
    told = said(found, "the card is full")
    assert told is not None
    assert "has room for 2000 of 3605 frames, up to 5 test frames included" in told.what
    assert found.storage.card_full_utc == pytest.approx(START + 1995 * 10, abs=10)


def test_what_may_be_deleted_is_said():
    kept = {"fetch": "all", "keep": "1 day", "free_card": "after two copies"}
    rig, card = asked(hours(1, files=kept)).storage.deleted
    assert rig.startswith("from the rig: whole files older than 1 day, each once it is verified in two second places;")
    assert card.startswith("from the camera's card: each fetched frame")
    assert card.endswith("the newest 100 stay")
    (rig,) = asked(hours(1, files={"fetch": "every 2", "keep": "30 days"})).storage.deleted
    assert "older than 30 days, each once it is verified in a second place (two, once it is off the card)" in rig
    assert asked(hours(1, files={"fetch": "preview", "keep": "30 days"})).storage.deleted == []


def test_windows_are_summed():
    """Three evenings of two hours at 10 s: 720 frames each; the 800th is the 80th of the second evening."""
    when = {"start": "18:00", "stop": None, "duration": "2h", "every": "day", "until": "2026-12-05"}
    plan = changed(hours(2), when=when)
    first, second, third = asked(plan).windows
    assert [w.frames for w in (first, second, third)] == [720, 720, 720]
    found = asked(plan, frame_bytes=1e6, card_bytes=800e6)
    assert found.storage.card_full_utc == pytest.approx(second.start_utc + 80 * 10, abs=10)
    with_tests = changed(plan, light={"test_frame": True})
    found = asked(with_tests, frame_bytes=1e6, card_bytes=800e6)
    assert found.storage.test_frames == 15
    assert found.storage.card_full_utc == pytest.approx(second.start_utc + 70 * 10, abs=10)
    between = asked(with_tests, frame_bytes=1e6, card_bytes=727e6)  # 5 + 720 + 2 test frames of the second evening
    assert between.storage.card_full_utc == second.start_utc


def test_a_moment_of_none_to_come():
    ahead = [ahead_of(hours(1))]
    assert total(ahead) == 360
    assert moment_of(ahead, 0) == START
    assert moment_of(ahead, 180) == pytest.approx(START + 1800, abs=1)
    assert moment_of(ahead, 361) is None
    assert total([*ahead, ahead_of(changed(hours(1), when={"duration": None}))]) is None


# ---- power


def powered(count: float, battery_wh: float, celsius: float | None = None, **tables: object) -> PlanSummary:
    power = {"battery_wh": battery_wh, "draw_w": 10.0} | ({} if celsius is None else {"temperature_c": celsius})
    return asked(hours(count, power=power, **tables))


def test_a_battery_that_is_empty_before_the_end():
    """10 W from 17:00 on, an hour ahead: 110 Wh until 4:00; 50 Wh are gone at 22:00, six hours before. With a fifth in
    reserve 137.5 Wh are wanted."""
    told = said(powered(10, 50.0), "the battery is empty")
    assert told is not None
    assert told.what == (
        "the battery is empty at 22:00, 6 h 00 min before the end: it gives 50 of its 50 Wh, and 110 Wh are needed"
    )
    assert told.remedy == "Take 138 Wh, which leaves a fifth in reserve; keep it warm, or draw less"
    assert told.utc == START + 4 * 3600


def test_a_battery_in_the_cold_that_would_just_last():
    """At −18 °C half of 205 Wh; 102.5 Wh last 10 h 15 min before 4:00, from 17:45 on."""
    told = said(powered(10, 205.0, -18.0), "the battery is empty")
    assert told is not None
    assert "it gives 102 of its 205 Wh at −18 °C, and 110 Wh are needed" in told.what
    assert told.remedy == (
        "Take 275 Wh, which leaves a fifth in reserve; keep it warm, or draw less; "
        "switched on at 17:45 it would just last"
    )


@pytest.mark.parametrize(("battery_wh", "tight"), [(111.0, True), (137.0, True), (138.0, False)])
def test_a_battery_that_leaves_less_than_a_fifth(battery_wh: float, tight: bool):
    """110 Wh are four fifths of 137.5 Wh."""
    told = said(powered(10, battery_wh), "leaves less than a fifth")
    assert (told is not None) is tight
    if told is not None:
        assert f"the plan takes 110 of the {battery_wh:.0f} Wh that the battery gives, which" in told.what
        assert told.costs is Costs.COMFORT


@pytest.mark.parametrize(("celsius", "cold"), [(-20.0, False), (-21.0, True)])
def test_colder_than_cells_are_made_for(celsius: float, cold: bool):
    told = said(powered(1, 1000.0, celsius), "colder than most lithium-ion cells")
    assert (told is not None) is cold
    assert told is None or told.what == "−21 °C is colder than most lithium-ion cells are made for (−20 °C)"


def test_a_battery_for_several_windows_is_charged_between():
    """50 Wh at 10 W last 5 h, four of them with a fifth in reserve."""
    when = {"start": "18:00", "stop": None, "duration": "2h", "every": "day", "until": "2026-12-05"}
    plan = changed(hours(2, power={"battery_wh": 50.0, "draw_w": 10.0}), when=when)
    told = said(asked(plan), "the battery is empty")
    assert told is not None
    assert told.remedy == "Charge or change it every 4 h 00 min, keep it warm, or draw less"
    assert at_site(plan, told.utc).isoformat()[:16] == "2026-12-03T22:00"


def test_a_battery_that_lasts_for_years_is_never_empty():
    """1000 kWh at 10 W: 11 years."""
    found = powered(10, 1_000_000.0)
    assert (found.power.empty_utc, found.power.earliest_on_utc) == (None, None)
    assert found.power.lasts_s == 1e5 * 3600
    two = powered(10, 260_000.0)  # less than three years
    assert two.power.empty_utc == pytest.approx(START - 3600 + 26_000 * 3600, abs=1)


def test_a_plan_without_an_end_needs_what_nobody_knows():
    found = asked(changed(hours(1, power={"battery_wh": 50.0, "draw_w": 10.0}), when={"duration": None}))
    assert found.power.needed_wh is None
    assert found.power.empty_utc == START + 4 * 3600
    assert said(found, "battery") is None


def test_what_is_known_of_nothing():
    assert asked(hours(1)).power is None
    assert said(asked(hours(1)), "battery") is None
