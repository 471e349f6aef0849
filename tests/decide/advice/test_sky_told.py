"""Sun, moon and stars in the picture, and dangers: when they are named, by the thresholds of planning.md."""

from __future__ import annotations

import math

import pytest

from controller.decide.advice.advise import advise
from controller.decide.moon import illuminated
from controller.decide.plan import Plan
from controller.decide.schedule import windows
from controller.words.advice import Costs, PlanSummary, Warned
from tests.decide import changed, example, utc
from tests.decide.advice.test_advise import NOON, OPTICS, asked

QUAY = example("quay_at_dusk")


def still(shutter_s: float, iso: float = 100, **tables: object) -> Plan:
    """A fixed exposure, with its picture towards sunset; see test_advise."""
    light = {"kind": "fixed", "shutter_s": shutter_s, "aperture": 22, "iso": iso}
    view = {"azimuth_deg": 224.0, "altitude_deg": 5.0}
    base = changed(QUAY, light=light, pace={"kind": "steady", "interval_s": 60.0}, optics=OPTICS, view=view)
    return changed(base, **tables)


def said(found: PlanSummary, words: str) -> Warned | None:
    return next((w for w in found.warnings if words in w.what), None)


@pytest.mark.parametrize(("shutter_s", "costs"), [(0.4, Costs.COMFORT), (0.5, Costs.NIGHT)])
def test_the_sun_burns_in_from_half_a_second_on(shutter_s: float, costs: Costs):
    told = said(asked(still(shutter_s)), "the sun stands in the picture")
    assert told is not None
    assert told.costs is costs
    assert ("its disc burns into them" in told.what) is (costs is Costs.NIGHT)


# ---- the moon


def moonlit(day: str, shutter_s: float, azimuth_deg: float, altitude_deg: float) -> Plan:
    """Two hours of an evening with the picture towards a place in the sky."""
    when = {"start": f"{day}T18:00", "stop": None, "duration": "2h"}
    view = {"azimuth_deg": azimuth_deg, "altitude_deg": altitude_deg}
    return still(shutter_s, when=when, view=view)


@pytest.mark.parametrize(
    ("day", "shutter_s", "burns"),
    [("2026-12-23", 1.0, True), ("2026-12-23", 0.8, False), ("2026-12-13", 8.0, False), ("2026-12-15", 8.0, True)],
)
def test_the_moon_burns_out_when_it_is_lit_and_exposed_for_long(day: str, shutter_s: float, burns: bool):
    """From a second and a quarter of the disc on. New moon is on 9 December 2026, first quarter on the 17th, full moon
    on the 24th (Meeus, chapter 49, from memory); four days after new about a seventh is lit, two days later a third."""
    found = []
    for azimuth in range(0, 360, 60):
        plan = moonlit(day, shutter_s, float(azimuth), 20.0)
        summary = advise(plan, utc(f"{day}T10:00:00"), now_utc=NOON)
        inside = any(stay.body == "moon" for stay in summary.windows[0].in_picture)
        told = said(summary, "lit, stands in the picture")
        assert inside or told is None
        found += [told] if inside else []
    assert found
    assert [told is not None for told in found] == [burns] * len(found)
    for told in filter(None, found):
        begins = utc(f"{day}T17:00:00")
        assert f"the moon, {100 * illuminated(begins):.0f} % lit" in told.what or told.utc > begins
        assert told.costs is Costs.QUALITY


@pytest.mark.parametrize(
    ("start", "duration", "is_told"),
    [("20:00", "29min", False), ("20:00", "31min", True), ("13:00", "1h", False)],
)
def test_moonlight_in_the_dark_is_told_from_half_an_hour_on(start: str, duration: str, is_told: bool):
    """Two days before the full moon of 24 December, high in the evening; by day it lights nothing."""
    plan = changed(QUAY, when={"start": f"2026-12-22T{start}", "stop": None, "duration": duration})
    told = said(advise(plan, utc("2026-12-22T10:00:00"), now_utc=NOON), "is up in the dark")
    assert (told is not None) is is_told
    if told is not None:
        assert told.worst_ev is not None
        assert f"lifts the light by up to {told.worst_ev:.1f} EV" in told.what
        assert "from 20:00 to 20:31" in told.what


def test_a_thin_moon_and_one_that_is_down_light_nothing():
    """On the 11th, two days after new moon, it is up for a while after dusk, a twentieth lit."""
    for when in (
        {"start": "2026-12-11T16:00", "stop": None, "duration": "8h"},
        {"start": "2026-12-17T02:00", "stop": None, "duration": "3h"},  # first quarter sets at midnight or so
    ):
        plan = changed(QUAY, when=when)
        assert said(advise(plan, utc("2026-12-10T10:00:00"), now_utc=NOON), "is up in the dark") is None


# ---- stars


def starry(iso: list[float], aperture: list[float], shutter_s: float = 15.0) -> Plan:
    """The dark hours of an evening at 24 mm; 15 s (truly 16) at f/2.8 need ISO 12800 and more."""
    light = {
        "iso": iso,
        "aperture": aperture,
        "shutter_s": [0.0005, shutter_s],
        "order": ["shutter", "aperture", "iso"],
    }
    when = {"start": "2026-12-08T19:00", "stop": None, "duration": "1h"}
    optics = {"focal_mm": 24.0, "sensor_mm": [36.0, 24.0], "pixel_um": 5.9}
    return changed(QUAY, when=when, light=light, optics=optics, pace={"kind": "steady", "interval_s": 30.0})


def remedy(plan: Plan) -> str:
    told = said(advise(plan, utc("2026-12-08T10:00:00"), now_utc=NOON), "stars trail")
    assert told is not None
    return told.remedy


def test_what_makes_up_for_shorter_exposures():
    """16 s for points of 5.5 s lack log2(16 / 5.46) = 1.55 EV (NPF: 16.856·2.83 + 0.0997·24 + 13.713·5.9 over 24)."""
    at_limit = remedy(starry([100, 3200], [2.8, 2.8]))
    stars = advise(starry([100, 3200], [2.8, 2.8]), utc("2026-12-08T10:00:00"), now_utc=NOON).stars
    assert stars.one_pixel_s == pytest.approx(5.9e-3 / 24 / math.radians(15.041 / 3600), abs=0.01)
    assert (stars.npf_s, stars.rule_500_s) == pytest.approx((5.46, 20.83), abs=0.01)
    assert "5.5 s by the NPF formula, 21 s by the 500 rule" in at_limit
    assert "that lacks 1.6 EV, and ISO and aperture are at their limits" in at_limit
    assert "allow a higher ISO, or take a faster lens" in at_limit


def test_iso_that_is_left_makes_up_for_it():
    """Where a part of the range is used and at least as much is left, nothing is lacking."""
    bright = changed(starry([100, 102400], [2.8, 2.8]), site={"floor_lx": 0.05})
    assert remedy(bright).endswith("; a higher ISO makes up for it")


def test_an_aperture_that_is_left_is_counted_in_stops():
    """At f/4 and the highest ISO an aperture of f/2.8 is a stop more (ISO 2720: light goes as 1 / N²)."""
    light = {"order": ["shutter", "iso", "aperture"]}
    some = changed(starry([100, 3200], [2.8, 4.0]), light=light, site={"floor_lx": 0.039})
    found = advise(some, utc("2026-12-08T10:00:00"), now_utc=NOON).stars
    assert (found.aperture, found.iso) == pytest.approx((4.0, 3200))
    assert ", and only 1.0 EV of a wider aperture are left" in remedy(some)


def test_a_fixed_exposure_is_made_up_for_by_hand():
    light = {"kind": "fixed", "shutter_s": 15.0, "aperture": 2.8, "iso": 6400}
    assert remedy(changed(starry([100, 6400], [2.8, 2.8]), light=light)).endswith(
        "1.6 EV of ISO or aperture make up for it"
    )


def test_stars_without_pixels_go_by_the_500_rule_alone():
    optics = {"focal_mm": 50.0, "sensor_mm": [36.0, 24.0], "pixel_um": None}
    told = said(advise(changed(starry([100, 6400], [2.8, 2.8]), optics=optics), NOON, now_utc=NOON), "stars trail")
    assert told is not None
    assert told.what == "stars trail in exposures of 15 s"
    assert told.remedy.startswith("For points expose for less: 10 s by the 500 rule; ")
    short = changed(starry([100, 6400], [2.8, 2.8], 4.0), optics=optics)
    assert said(advise(short, NOON, now_utc=NOON), "stars trail") is None


# ---- dangers


def about(plan: Plan, at: float = NOON) -> set[str]:
    return {caution.about for caution in advise(plan, at, now_utc=NOON).cautions}


@pytest.mark.parametrize(("celsius", "named"), [(2.9, True), (3.0, True), (3.1, False)])
def test_frost_from_3_degrees_down(celsius: float, named: bool):
    plan = changed(QUAY, power={"battery_wh": 500.0, "draw_w": 5.0, "temperature_c": celsius})
    assert ("frost" in about(plan)) is named


@pytest.mark.parametrize(("altitude_deg", "named"), [(-10.0, True), (-9.9, False)])
def test_height_from_10_degrees_downwards(altitude_deg: float, named: bool):
    assert ("height" in about(changed(QUAY, view={"azimuth_deg": 0.0, "altitude_deg": altitude_deg}))) is named


@pytest.mark.parametrize(("stop", "named"), [("civil_dusk-5min", False), ("civil_dusk+5min", True)])
def test_night_from_the_end_of_civil_twilight_on(stop: str, named: bool):
    assert ("night" in about(changed(QUAY, when={"stop": stop}))) is named


@pytest.mark.parametrize(
    ("when", "named"),
    [
        ({"stop": None, "duration": "12h"}, False),
        ({"stop": None, "duration": "12h1min"}, True),
        ({"stop": None}, True),
        ({"stop": None, "duration": "1h", "every": "day", "until": "2026-12-05"}, True),
    ],
)
def test_who_is_filmed_for_long_has_a_privacy(when: dict[str, object], named: bool):
    plan = changed(QUAY, when={"start": "sunset", **when}, pace={"kind": "steady", "interval_s": 30.0})
    assert ("privacy" in about(plan)) is named
    assert ("mains" in about(plan)) is ("every" in when)


def test_the_sun_where_nobody_knows_whether_it_is_in_the_picture():
    assert "sun" in about(QUAY)
    away = changed(QUAY, optics=OPTICS, view={"azimuth_deg": 40.0, "altitude_deg": 5.0})
    assert "sun" not in about(away)
    assert "sun" not in about(changed(QUAY, when={"start": "sunset+10min"}))
    assert next(windows(QUAY, NOON)).start_utc > NOON
