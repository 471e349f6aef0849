"""The whole answer to a plan: windows by their light, warnings by what they cost, needs and cautions."""

from __future__ import annotations

from datetime import date

import pytest

from controller.decide.advice.advise import advise
from controller.decide.advice.needs import Known
from controller.decide.advice.phases import light_of
from controller.decide.advice.questions import Question
from controller.decide.plan import Plan, plan_from
from controller.words.advice import Costs, PlanSummary
from controller.words.bodies import BodySeen
from tests.decide import changed, example, utc
from tests.support.bodies import beat, timings

NOON = utc("2026-12-03T10:00:00")
OPTICS = {"focal_mm": 24.0, "sensor_mm": [35.9, 23.9], "pixel_um": 5.9}
QUIET = {"light": {"iso": [100, 102400]}, "pace": {"points": [[2, 20.0], [-14, 22.0]]}}
BODY = BodySeen(
    model="Camera One",
    serial="1",
    seen_utc=NOON - 86400,
    files="JPG+NEF",
    frame_bytes=50e6,
    basis="fetched files",
    frames=20,
    preview_bytes=100e3,
    timings=[timings(1.5)],
    free_bytes=32_000_000_000,
)


STEADY = {"kind": "steady", "interval_s": 30.0}


def asked(plan: Plan, at: float | date = NOON, **known: object) -> PlanSummary:
    return advise(plan, at, now_utc=NOON, known=Known(**known))


def said(plan: Plan, **known: object) -> str:
    return " ".join(w.what for w in asked(plan, **known).warnings)


def costs(found: PlanSummary, words: str) -> Costs:
    return next(w.costs for w in found.warnings if words in w.what)


QUAY = example("quay_at_dusk")


# ---- windows


def test_marks_come_in_the_order_of_time():
    window = asked(QUAY).windows[0]
    assert [m.name for m in window.marks] == ["start", "sunset", "civil_dusk", "nautical_dusk", "end"]
    assert [m.frame for m in window.marks] == sorted(m.frame for m in window.marks)
    assert window.marks[2].sun_altitude_deg == pytest.approx(-6, abs=0.03)
    assert window.marks[2].speed_up == pytest.approx(9 * 25, rel=0.02)  # interval × frames a second
    assert window.marks[-1].frame == pytest.approx(window.frames, abs=1)


def test_phases_of_the_light_fill_the_window():
    """Twilights end at −6°, −12° and −18° as in almanacs; the sun is golden from 6° down, common practice."""
    window = asked(QUAY).windows[0]
    assert [p.light for p in window.phases] == [
        "golden light",
        "civil twilight",
        "nautical twilight",
        "astronomical twilight",
    ]
    assert sum(p.frames for p in window.phases) == pytest.approx(window.frames, abs=1)
    for before, after in zip(window.phases, window.phases[1:], strict=False):
        assert before.to_utc == after.from_utc
        mark = min(window.marks, key=lambda m, at=after.from_utc: abs(m.utc - at))
        assert mark.utc == pytest.approx(after.from_utc, abs=15)
        assert before.speed_up[1] == after.speed_up[0] == pytest.approx(before.interval_s[1] * 25, abs=0.1)
    assert [light_of(h) for h in (6.1, 5.9, -0.8, -0.9, -17.9, -18.1)] == [
        "daylight",
        "golden light",
        "golden light",
        "civil twilight",
        "astronomical twilight",
        "night",
    ]


def test_a_summary_of_months():
    found = asked(example("tower_for_a_winter"))
    assert len(found.windows) == 60
    assert [s.cause for s in found.skipped] == ["skipped by the plan"] * 2
    assert found.frames == sum(w.frames or 0 for w in found.windows)
    assert found.windows[2].phases
    assert found.windows[5].phases == found.windows[5].marks == []
    assert {c.about for c in found.cautions} >= {"privacy", "mains"}


@pytest.mark.parametrize(
    ("start", "stop", "at", "by_s"),
    [
        ("2026-10-24T22:00", "2026-10-25T06:00", "2026-10-25T01:00:00", -3600.0),
        ("2026-03-28T22:00", "2026-03-29T06:00", "2026-03-29T01:00:00", 3600.0),
    ],
)
def test_a_window_across_a_change_of_the_clock(start, stop, at, by_s):
    """The European Union changes at 01:00 UTC (Directive 2000/84/EC); 8 hours by the clock are 9 or 7 of the night."""
    found = advise(changed(QUAY, when={"start": start, "stop": stop}), utc(start + ":00") - 9e4, now_utc=0.0)
    change = found.windows[0].clock_change
    assert change is not None
    assert (change.utc, change.by_s) == (utc(at), by_s)
    assert found.windows[0].end_utc - found.windows[0].start_utc == 8 * 3600 - by_s
    assert (change.before[-6:], change.after[-6:]) == (("+02:00", "+01:00") if by_s < 0 else ("+01:00", "+02:00"))
    assert costs(found, "the clocks are put") is Costs.COMFORT
    assert asked(QUAY).windows[0].clock_change is None


def test_a_window_that_is_open_counts_what_is_left_of_it():
    plan = changed(QUAY, when={"stop": "astronomical_dawn"})
    whole = asked(plan).windows[0]
    half_utc = (whole.start_utc + whole.end_utc) / 2
    rest = advise(plan, half_utc, now_utc=half_utc)
    assert rest.windows[0].end_utc == whole.end_utc
    assert rest.windows[0].start_utc == rest.windows[0].marks[0].utc == half_utc
    assert 0 < rest.frames < 0.6 * whole.frames
    assert "what is left of it" in " ".join(w.what for w in rest.warnings)
    assert "what is left of it" not in said(plan)


# ---- warnings


def test_warnings_come_with_the_plan_s_own_cause():
    assert "darker than wanted" in said(QUAY)
    assert "darker than wanted" not in said(changed(QUAY, light={"iso": [100, 102400]}))
    assert "the interval holds the shutter" in said(QUAY)
    assert "holds the shutter" not in said(changed(QUAY, pace={"points": [[2, 20.0], [-14, 22.0]]}))
    assert "too bright" in said(changed(QUAY, light={"shutter_s": [0.125, 18.0]}))
    assert "the sun is highest at 20:17 by Europe/Stockholm" in said(changed(QUAY, site={"longitude": -111.95}))
    assert "not metered" in said(changed(QUAY, files={"fetch": "none"}))
    assert "clip lasts" in said(changed(QUAY, when={"stop": "sunset-40min"}))
    assert "change by" in said(changed(QUAY, pace={"kind": "timed", "from_s": 2, "to_s": 40, "over": "5min"}))
    assert "lies in the past" in " ".join(w.what for w in asked(QUAY, date(2026, 10, 3)).warnings)
    assert said(changed(QUAY, **QUIET)) == ""


def test_the_worst_come_first():
    found = asked(changed(QUAY, files={"fetch": "none"}, when={"stop": "sunset-40min"}), card_bytes=1e9)
    order = [list(Costs).index(w.costs) for w in found.warnings]
    assert order == sorted(order)
    assert len(set(order)) > 2
    assert found.warnings[0].what.startswith("the card is full")


def test_a_minute_that_is_named_is_when_it_begins():
    """The interval of 5 … 22 s holds no 16 s and a gap of 1 s until it has grown to 17 s."""
    found = asked(QUAY)
    early = next(w for w in found.warnings if "holds the shutter" in w.what)
    last = early.what.partition(" to ")[2][:5]
    mark = next(p for p in found.windows[0].phases if p.light == "nautical twilight")
    assert mark.from_utc < early.utc < mark.to_utc
    assert mark.interval_s[1] > 17 > mark.interval_s[0]
    assert mark.from_local[11:16] < last < mark.to_local[11:16]
    dark = next(w for w in found.warnings if "darker" in w.what)
    assert early.utc < dark.utc


# ---- storage


def test_sizes_are_the_body_s_own_or_given_or_assumed():
    known = asked(QUAY, body=BODY).storage
    assert (known.frame_bytes, known.preview_bytes, known.assumed) == (50e6, 100e3, False)
    assert known.basis == "Camera One, JPG+NEF: mean of 20 frames that were fetched"
    assert asked(QUAY, body=BODY, frame_bytes=25e6).storage.frame_bytes == 25e6
    guess = asked(QUAY).storage
    assert (guess.frame_bytes, guess.assumed) == (30e6, True)


@pytest.mark.parametrize(("fetch", "whole"), [("all", 1.0), ("every 10", 0.1), ("preview", 0.0), ("none", 0.0)])
def test_card_and_rig(fetch, whole):
    found = asked(changed(QUAY, files={"fetch": fetch}), body=BODY)
    frames = found.frames
    assert found.storage.card_bytes == (frames + found.storage.test_frames) * 50e6
    assert found.storage.test_frames == (0 if fetch == "none" else 5)  # at most, before the one window
    previews = 0 if fetch == "none" else frames * 100e3
    assert found.storage.rig_bytes == pytest.approx(frames * whole * 50e6 + previews + frames * 400, abs=50e6)


def test_when_card_and_disk_are_full():
    """640 frames of 50 MB fit into 32 GB."""
    found = asked(QUAY, body=BODY)
    window = found.windows[0]
    assert costs(found, "the card is full") is Costs.FRAMES
    assert "has room for 640 of" in said(QUAY, body=BODY)
    marks = {m.name: m for m in window.marks}
    assert marks["sunset"].frame < 640 < marks["civil_dusk"].frame
    assert marks["sunset"].utc < found.storage.card_full_utc < marks["civil_dusk"].utc
    assert asked(QUAY, body=BODY, card_bytes=64e9).storage.card_full_utc is None
    both = asked(changed(QUAY, files={"fetch": "all"}), body=BODY, card_bytes=64e9, rig_room_bytes=32e9)
    assert both.storage.rig_full_utc == pytest.approx(found.storage.card_full_utc, abs=30)
    assert costs(both, "the rig's disk is full") is Costs.COMFORT


def test_a_card_from_which_frames_go():
    """Nobody knows whether copies keep up: the card's 640 frames are told, and that it goes on after them. Of 50 MB
    each, with every tenth fetched, the newest 100 stay and of the others 9 of 10: after 101 + (640 − 5 tests − 101)
    / 0.9 = 694 frames the card is full at the latest."""
    never = asked(changed(QUAY, files={"fetch": "all"}), body=BODY).storage
    assert (never.card_kept_bytes, never.card_full_at_last_utc) == (None, None)
    freed = {"fetch": "all", "free_card": "after two copies"}
    found = asked(changed(QUAY, files=freed), body=BODY)
    assert found.storage.card_full_utc == never.card_full_utc
    assert found.storage.card_full_at_last_utc is None
    assert found.storage.card_kept_bytes == (100 + 5) * 50e6
    (told,) = [w for w in found.warnings if w.what.startswith("the card ")]
    assert told.costs is Costs.FRAMES
    assert "is full" not in told.what
    assert "verified in two places" in told.what
    shot_s = found.windows[0].end_utc - found.windows[0].start_utc
    assert f"{found.frames * 50e6 / shot_s * 3600 / 1e9:.1f} GB an hour" in told.remedy
    tenth = asked(changed(QUAY, files=freed | {"fetch": "every 10"}), body=BODY)
    (told,) = [w for w in tenth.warnings if w.what.startswith("the card ")]
    assert "it is full all the same" in told.what
    marks = {m.name: m for m in found.windows[0].marks}
    assert marks["sunset"].utc < tenth.storage.card_full_at_last_utc < marks["civil_dusk"].utc
    small = asked(changed(QUAY, files=freed), body=BODY, card_bytes=60 * 50e6).storage
    assert small.card_full_at_last_utc is not None  # the newest 100 stay
    assert asked(changed(QUAY, files=freed), body=BODY, card_bytes=1e12).storage.card_full_utc is None


def test_a_body_that_writes_longer_than_the_gap():
    assert "safe with this body" not in said(changed(QUAY, **QUIET), body=BODY)
    found = asked(QUAY, body=BODY.model_copy(update={"timings": [timings(30.0)]}))
    assert costs(found, "safe with this body (to write 30.0 s") is Costs.FRAMES


@pytest.mark.parametrize(("gap_s", "is_safe"), [(2.3, False), (2.4, True)])
def test_frames_of_a_bracket_against_a_steady_beat(gap_s: float, is_safe: bool):
    """Held at 4 s with 2 s: a gap of 2 s and a fifth more, and with shorter exposures 4 s and a fifth more."""
    body = BODY.model_copy(update={"beats": [beat(4.0, exposure_s=2.0)]})
    light = {"kind": "fixed", "shutter_s": 2.56, "aperture": 4.0, "iso": 100, "bracket_ev": [0, 1]}
    bracket = Plan.model_validate(QUAY.document() | {"light": light, "pace": STEADY | {"min_gap_s": gap_s}})
    assert ("safe with this body" not in said(bracket, body=body)) is is_safe
    shorter = Plan.model_validate(bracket.document() | {"light": light | {"bracket_ev": [0, -1]}})
    assert "safe with this body" in said(shorter, body=body)


# ---- power


def powered(plan: Plan = QUAY, **power: float) -> Plan:
    return changed(plan, power={"battery_wh": 150.0, "draw_w": 6.5, "temperature_c": -18.0, **power})


def test_a_battery_that_lasts():
    """6.5 W over an hour of waiting and the window, of 75 Wh that half a battery gives (Battery University, BU-502)."""
    found = asked(powered())
    window = found.windows[0]
    hours = (window.end_utc - window.start_utc) / 3600 + 1
    assert found.power.needed_wh == pytest.approx(6.5 * hours, abs=0.1)
    assert found.power.usable_wh == pytest.approx(75.0)
    assert found.power.earliest_on_utc == pytest.approx(window.end_utc - 75 / 6.5 * 3600, abs=1)
    assert "battery" not in said(powered())
    assert {c.about for c in found.cautions} >= {"frost"}
    assert "frost" not in {c.about for c in asked(powered(temperature_c=20.0)).cautions}


def test_a_battery_that_does_not_last():
    found = asked(powered(battery_wh=40.0))
    warning = next(w for w in found.warnings if "the battery is empty" in w.what)
    assert warning.costs is Costs.FRAMES
    assert warning.utc == pytest.approx(found.power.from_utc + 20 / 6.5 * 3600, abs=1)
    assert "leaves less than a fifth" in said(powered(battery_wh=55.0))
    assert "colder than most lithium-ion cells" in said(powered(temperature_c=-30.0))


def test_waiting_counts_from_when_the_rig_is_on():
    early = asked(powered(), on_utc=NOON - 3600)
    assert early.power.needed_wh == pytest.approx(6.5 * (early.windows[0].end_utc - NOON + 3600) / 3600, abs=0.1)


# ---- the picture


def seeing(azimuth_deg: float, altitude_deg: float, plan: Plan = QUAY, **optics: object) -> Plan:
    return changed(plan, optics={**OPTICS, **optics}, view={"azimuth_deg": azimuth_deg, "altitude_deg": altitude_deg})


def test_the_sun_in_the_picture_of_a_sunset():
    """Sunset at 57.7° N on 3 December is at azimuth 224° or so (held against DE421 in test_view)."""
    found = asked(seeing(224.0, 5.0))
    stay = found.windows[0].in_picture[0]
    sunset = next(m for m in found.windows[0].marks if m.name == "sunset")
    assert (stay.body, stay.enters_utc) == ("sun", found.windows[0].start_utc)
    assert stay.leaves_utc == pytest.approx(sunset.utc, abs=90)
    assert found.field.horizontal_deg == pytest.approx(73.6, abs=0.1)
    assert "the sun stands in the picture" in " ".join(w.what for w in found.warnings)
    assert "sun" in {c.about for c in found.cautions}
    away = asked(seeing(40.0, 5.0))
    assert away.windows[0].in_picture == []
    assert "sun" not in {c.about for c in away.cautions}


def test_a_sun_that_burns_into_long_exposures():
    still = {"kind": "fixed", "shutter_s": 4.0, "aperture": 22, "iso": 100}
    found = asked(seeing(224.0, 5.0, changed(QUAY, light=still, pace={"points": [[2, 10.0], [-14, 22.0]]})))
    assert costs(found, "its disc burns into them") is Costs.NIGHT
    assert costs(asked(seeing(224.0, 5.0)), "expect flare") is Costs.COMFORT


def test_a_view_from_above_is_tethered():
    assert "height" in {c.about for c in asked(seeing(180.0, -20.0)).cautions}
    assert "height" not in {c.about for c in asked(seeing(180.0, 5.0)).cautions}


def test_stars_trail():
    """16 s at 24 mm on 5.9 µm: 15.041″ · 16 s is 1.167 mrad, 4.75 pixels at the equator (by hand)."""
    found = asked(changed(QUAY, optics=OPTICS))
    assert found.stars.declination_deg == 0.0
    assert found.stars.exposure_s == pytest.approx(16.0)
    assert found.stars.trail_px == pytest.approx(4.75, abs=0.01)
    assert found.stars.rule_500_s == pytest.approx(20.8, abs=0.1)
    assert found.stars.npf_s == pytest.approx((16.856 * 2.8 + 0.0997 * 24 + 13.713 * 5.9) / 24, rel=0.02)
    assert costs(found, "stars trail by 4.8 pixels in exposures of 15 s") is Costs.QUALITY
    north = asked(seeing(0.0, 60.0, focal_mm=200.0))
    assert north.stars.declination_deg > 75  # around the pole
    assert asked(changed(QUAY, when={"stop": "sunset+10min"}, optics=OPTICS)).stars is None  # it does not get dark


def test_the_moon_up_in_the_dark():
    """Full moon on 24 December 2026 at 01:28 UTC (Meeus, chapter 49; held against DE421 in test_ephemeris)."""
    stars = changed(example("stars_over_a_ridge"), when={"date": "2026-12-23"})
    full = advise(stars, utc("2026-12-23T12:00:00"), now_utc=NOON)
    assert costs(full, "is up in the dark") is Costs.QUALITY
    new = changed(example("stars_over_a_ridge"), when={"date": "2026-12-09"})
    assert "is up in the dark" not in " ".join(w.what for w in advise(new, NOON, now_utc=NOON).warnings)


def test_an_interval_that_grows_with_the_exposure():
    found = asked(changed(QUAY, pace={"stretch_to_s": 30.0, "points": [[2, 5.0], [-14, 8.0]]}))
    assert costs(found, "which grows with it to") is Costs.COMFORT
    assert "which grows" not in said(QUAY)


def test_several_windows_a_day():
    spans = [{"start": "06:30", "stop": "09:00"}, {"start": "sunset-45min", "duration": "2h"}]
    found = asked(changed(QUAY, when={"start": None, "stop": None, "windows": spans}))
    assert [w.start_local[11:16] for w in found.windows] == ["14:45", "06:30"]  # it is 11 o'clock: the next morning's
    assert found.frames == sum(w.frames for w in found.windows)
    assert plan_from(found.plan).when.windows == plan_from(plan_from(found.plan).document()).when.windows
    shorter = advise(plan_from(found.plan), NOON, now_utc=NOON, question=Question("--clip", clip_s=20.0))
    assert shorter.frames == pytest.approx(500, abs=1)
    skipped = changed(QUAY, when={"start": None, "stop": None, "windows": [{"start": "02:30", "duration": "1h"}]})
    put_forward = advise(
        skipped, date(2027, 3, 28), now_utc=NOON
    )  # Central Europe goes from 02:00 to 03:00 on that day
    assert "start = 02:30 does not exist" in " ".join(w.what for w in put_forward.warnings)


def test_a_window_of_weeks_is_told_for_four_days():
    found = asked(changed(QUAY, when={"stop": None, "duration": "30d"}))
    window = found.windows[0]
    assert window.phases[-1].to_utc - window.start_utc == pytest.approx(4 * 86400, abs=1)
    assert len([m for m in window.marks if m.name == "sunset"]) == 4
    assert window.marks[-1].name == "end"
    assert window.marks[-1].utc == window.end_utc
