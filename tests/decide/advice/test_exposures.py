"""Where exposures miss the light, and how stretches of a window are said: against the page's own figures, by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest

from controller.decide.advice.ahead import Ahead, at_site, look_ahead
from controller.decide.advice.stretches import span
from controller.decide.forecast import Point
from controller.decide.plan import Plan
from controller.words.advice import Costs, PlanSummary, Warned
from tests.decide import changed, example
from tests.decide.advice.test_advise import NOON, asked

QUAY = example("quay_at_dusk")
CURVE = ((5.0, 0.0), (-3.0, -0.7), (-10.0, -1.7))
"""How bright pictures are against mid grey, by the scene's EV: linear between, constant beyond (plan.md)."""


def fixed(shutter_s: float, iso: float = 100, **light: object) -> Plan:
    still = {"kind": "fixed", "shutter_s": shutter_s, "aperture": 2.8, "iso": iso, **light}
    return changed(QUAY, light=still, pace={"kind": "steady", "interval_s": 30.0})


def wanted_ev(scene_ev: float) -> float:
    """What the exposure would be, EV, if it followed."""
    (high, above), *rest = CURVE
    for low, below in rest:
        if scene_ev >= low:
            share = min(1.0, (high - scene_ev) / (high - low))
            return scene_ev - (above + max(0.0, share) * (below - above))
        high, above = low, below
    return scene_ev - above


def ahead_of(plan: Plan) -> Ahead:
    (found,), _ = look_ahead(plan, NOON, None)
    return found


def said(found: PlanSummary, words: str) -> Warned | None:
    return next((w for w in found.warnings if words in w.what), None)


def clock(plan: Plan, utc: float) -> str:
    return f"{at_site(plan, utc):%H:%M}"


@pytest.mark.parametrize("shutter_s", [1 / 128, 1 / 16, 0.5, 4.0])
@pytest.mark.parametrize("offsets", [None, [-2, 0, 2]])
def test_one_exposure_for_all_is_held_against_what_would_follow(shutter_s: float, offsets: list[float] | None):
    """Too bright and too dark from half a stop on; the night is spoiled from 1 EV too bright and 2 EV too dark on
    (planning.md). From the sun at −12° down 2.474 EV less count as too dark. A bracket helps by its ends."""
    held_against_the_light(fixed(shutter_s, **({} if offsets is None else {"bracket_ev": offsets})))


@pytest.mark.parametrize("iso", [50, 100, 400, 800, 1600, 3200])
def test_one_exposure_for_the_stars_is_spared_for_the_sky_s_sake(iso: float):
    """From the sun at −12° down, where nothing but that tells how dark is too dark."""
    held_against_the_light(
        changed(fixed(4.0, iso), when={"start": "nautical_dusk+5min", "stop": "astronomical_dusk+1h"})
    )


def held_against_the_light(plan: Plan) -> None:
    low, high = min(plan.light.offsets), max(plan.light.offsets)
    ahead, found = ahead_of(plan), asked(plan)
    points = [p for p in ahead.points if p.utc <= ahead.end_utc]
    over = {p.utc: wanted_ev(p.scene_ev) - p.exposure.ev for p in points}
    spared = {p.utc: 2.474 if p.sun_altitude_deg <= -12 else 0.0 for p in points}
    for way, spoils_ev, off in (
        ("bright", 1.0, {utc: ev + low for utc, ev in over.items()}),
        ("dark", 2.0, {utc: -ev - high - spared[utc] for utc, ev in over.items()}),
    ):
        there = [utc for utc, ev in off.items() if ev > 0.5]
        told = said(found, f"one exposure for all is too {way}")
        assert (told is None) is (not there)
        if told is None:
            continue
        worst = max(off.values())
        assert told.what.endswith(f"by up to {worst:.1f} EV")
        assert told.costs is (Costs.NIGHT if worst >= spoils_ev else Costs.QUALITY)
        assert told.utc == there[0]
        assert clock(plan, there[0]) in told.what
        assert clock(plan, there[-1]) in told.what


@pytest.mark.parametrize(
    ("shutter_s", "way", "remedy"),
    [
        (1 / 16, "bright", "Start later, shorten it, or follow the light"),
        (1 / 16, "dark", "Stop earlier, lengthen it, or follow the light"),
        (1 / 2000, "dark", "Lengthen it, or follow the light"),
        (20.0, "bright", "Shorten it, or follow the light"),
    ],
)
def test_what_helps_where_one_exposure_suits_a_part_of_a_dusk(shutter_s: float, way: str, remedy: str):
    """A dusk is brightest at its start; where all of it is off, neither a later start nor an earlier stop helps."""
    plan = changed(fixed(shutter_s), light={"aperture": 16 if shutter_s < 0.001 else 1.4 if shutter_s > 1 else 2.8})
    told = said(asked(changed(plan, when={"stop": "civil_dusk+20min"})), f"one exposure for all is too {way}")
    assert told is not None
    assert told.remedy == remedy


def test_a_dawn_stops_where_a_dusk_starts():
    dawn = changed(fixed(1 / 16), when={"start": "civil_dawn-20min", "stop": "sunrise+45min"})
    told = said(asked(dawn), "one exposure for all is too bright")
    assert told is not None
    assert told.remedy == "Stop earlier, shorten it, or follow the light"
    told = said(asked(dawn), "one exposure for all is too dark")
    assert told is not None
    assert told.remedy == "Start later, lengthen it, or follow the light"


@pytest.mark.parametrize(("iso", "costs"), [(6400, Costs.QUALITY), (1600, Costs.NIGHT)])
def test_limits_that_leave_pictures_dark(iso: float, costs: Costs):
    """2 EV too dark spoils the night (planning.md)."""
    plan = changed(QUAY, light={"iso": [100, iso]}, pace={"kind": "steady", "interval_s": 30.0})
    ahead = ahead_of(plan)
    points = [p for p in ahead.points if p.utc <= ahead.end_utc]
    lacking = {p.utc: p.exposure.ev - wanted_ev(p.scene_ev) for p in points}
    told = said(asked(plan), "come out darker than wanted")
    assert told is not None
    assert f"by up to {max(lacking.values()):.1f} EV" in told.what
    assert told.utc == next(utc for utc, ev in lacking.items() if ev > 0.5)
    assert told.costs is costs
    assert (max(lacking.values()) >= 2) is (costs is Costs.NIGHT)
    assert f"15 s, f/2.8, ISO {iso} is the most" in told.what


@pytest.mark.parametrize(("shutter_s", "costs"), [(1 / 80, Costs.QUALITY), (1 / 32, Costs.NIGHT)])
def test_limits_that_leave_pictures_bright(shutter_s: float, costs: Costs):
    """1 EV too bright spoils the night (planning.md)."""
    plan = changed(QUAY, light={"shutter_s": [shutter_s, 15.0]})
    points = ahead_of(plan).points
    over = {p.utc: wanted_ev(p.scene_ev) - p.exposure.ev for p in points}
    told = said(asked(plan), "come out too bright")
    assert told is not None
    assert f"by up to {max(over.values()):.1f} EV" in told.what
    assert told.utc == points[0].utc
    assert told.costs is costs
    assert (max(over.values()) >= 1) is (costs is Costs.NIGHT)


def test_an_interval_that_may_grow_is_not_offered_to_grow():
    held = changed(QUAY, pace={"stretch_to_s": 12.0, "points": [[2, 5.0], [-14, 8.0]]})
    told = said(asked(held), "the interval holds the shutter")
    assert told is not None
    assert "stretch_to_s" not in told.remedy
    told = said(asked(QUAY), "the interval holds the shutter")
    assert told is not None
    assert "or let them grow with the exposure (stretch_to_s)" in told.remedy


# ---- stretches


@cache
def of_quay() -> Ahead:
    return ahead_of(QUAY)


def during(*minutes: tuple[int, int]) -> Callable[[Point], bool]:
    """So from the first to the last of these minutes after the window's start, each time."""
    begin = of_quay().points[0].utc
    return lambda point: any(60 * a - 1 <= point.utc - begin <= 60 * b + 1 for a, b in minutes)


def shifted(minutes: int) -> Ahead:
    """The same window, its points a whole minute apart, so that minutes are minutes."""
    ahead = of_quay()
    first = ahead.points[0]
    points = tuple(replace(first, utc=first.utc + 60 * k, sun_altitude_deg=3 - k / 10) for k in range(minutes))
    return replace(ahead, coming=replace(ahead.coming, points=points, end_utc=points[-1].utc))


@pytest.mark.parametrize(
    ("minutes", "says"),
    [
        (((10, 20),), "from {10} (sun +2.0°) to {20}"),
        (((10, 10),), "at {10} (sun +2.0°)"),
        (((100, 119),), "from {100} (sun −7.0°) on"),
        (((10, 20), (35, 40)), "from {10} (sun +2.0°) to {40}"),  # a quarter of an hour apart is one
        (((10, 20), (36, 40)), "from {10} (sun +2.0°) to {20} and again from {36} (sun −0.6°) to {40}"),
        (
            ((1, 2), (30, 32), (60, 61)),
            "from {1} (sun +2.9°) to {2} and again from {30} (sun +0.0°) to {32}, and 1 time more",
        ),
        (
            ((1, 2), (30, 32), (60, 61), (90, 91)),
            "from {1} (sun +2.9°) to {2} and again from {30} (sun +0.0°) to {32}, and 2 times more",
        ),
    ],
)
def test_stretches_are_said(minutes: tuple[tuple[int, int], ...], says: str):
    ahead = shifted(120)
    begin = ahead.points[0].utc
    for minute in range(120):
        says = says.replace(f"{{{minute}}}", clock(QUAY, begin + 60 * minute))
    found = span(QUAY, ahead, during(*minutes))
    assert found is not None
    points, when = found
    assert when == says
    assert points == [p for p in ahead.points if during(*minutes)(p)]


def test_a_stretch_to_the_end_may_have_an_end():
    ahead = shifted(120)
    begin = ahead.points[0].utc
    found = span(QUAY, ahead, during((100, 119)), open_end=False)
    assert found is not None
    assert found[1] == f"from {clock(QUAY, begin + 6000)} (sun −7.0°) to {clock(QUAY, begin + 119 * 60)}"
    assert span(QUAY, ahead, lambda point: False) is None


def test_what_lies_behind_the_end_is_not_told():
    ahead = shifted(120)
    shorter = replace(ahead, coming=replace(ahead.coming, end_utc=ahead.points[50].utc))
    assert span(QUAY, shorter, during((51, 119))) is None
    found = span(QUAY, shorter, during((40, 119)))
    assert found is not None
    assert len(found[0]) == 11
    assert found[1].endswith(" on")
