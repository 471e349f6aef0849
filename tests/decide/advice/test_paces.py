"""Intervals that cannot be kept, and phases of the light: by hand."""

from __future__ import annotations

import pytest

from controller.decide.advice.advise import advise
from controller.decide.advice.needs import Known
from controller.decide.plan import Plan
from controller.words.advice import Costs, PlanSummary, Warned
from tests.decide import changed, example, utc
from tests.decide.advice.test_advise import BODY, NOON, asked
from tests.support.bodies import beat, timings

QUAY = example("quay_at_dusk")
START = utc("2026-12-03T17:00:00")  # 18:00 in Sweden


def clocked(duration: str | None = "2h", pace: dict[str, object] | None = None, **light: object) -> Plan:
    """From 18:00 on, with one exposure of 2 s."""
    still = {"kind": "fixed", "shutter_s": 2.0, "aperture": 2.8, "iso": 1600, **light}
    when = {"start": "2026-12-03T18:00", "stop": None, "duration": duration}
    return changed(QUAY, when=when, pace=pace or {"kind": "steady", "interval_s": 10.0}, light=still)


def said(found: PlanSummary, words: str) -> Warned | None:
    return next((w for w in found.warnings if words in w.what), None)


@pytest.mark.parametrize(("over", "fast"), [("24min", True), ("26min", False), (None, False)])
def test_a_pace_that_is_to_change_too_fast(over: str | None, fast: bool):
    """From 4 to 64 s in 1500 s is 0.04 s a second: 4 % of any interval from one frame to the next."""
    plan = clocked(pace={"kind": "timed", "from_s": 4.0, "to_s": 64.0, "over": over})
    assert plan.pace.max_change == 0.04
    told = said(asked(plan), "the interval is to change by")
    assert (told is not None) is fast
    assert told is None or told.what.endswith("change by 4 % a frame, and max_change holds it to 4 %")
    back = clocked(pace={"kind": "timed", "from_s": 64.0, "to_s": 4.0, "over": over})
    assert (said(asked(back), "the interval is to change by") is not None) is fast


def test_a_pace_that_fills_its_window_by_a_stop():
    """60 s more over ten minutes is 10 % a frame; over two hours less than one."""
    pace = {"kind": "timed", "from_s": 4.0, "to_s": 64.0}
    told = said(asked(clocked("10min", pace)), "the interval is to change by")
    assert told is not None
    assert "by 10 % a frame" in told.what
    assert told.costs is Costs.QUALITY
    assert said(asked(clocked("2h", pace)), "the interval is to change by") is None


def test_pulses_decide():
    told = said(asked(clocked(pace={"kind": "pulse", "min_interval_s": 7.5})), "the pulses decide")
    assert told is not None
    assert "at most as many as 7.5 s apart make" in told.what
    assert said(asked(clocked()), "the pulses decide") is None


@pytest.mark.parametrize(("gap_s", "is_short"), [(1.99, False), (2.01, True)])
def test_a_gap_that_does_not_hold_a_move(gap_s: float, is_short: bool):
    """4 s apart at 2 s leave 2 s."""
    known = {"motion_s": gap_s}
    told = said(asked(clocked(pace={"kind": "steady", "interval_s": 4.0}), **known), "the motion rig needs")
    assert (told is not None) is is_short
    if told is None:
        return
    assert "the gap between exposures is 2 s, and the motion rig needs 2.01 s to move and to stand still" in told.what
    assert "intervals will be longer" in told.what
    assert told.costs is Costs.FRAMES
    assert told.utc == START
    follows = said(asked(QUAY, motion_s=5.1), "the motion rig needs")  # by day 5 s apart
    assert follows is not None
    assert "exposures will be shorter than told here" in follows.what
    assert follows.costs is Costs.QUALITY


def test_a_window_that_holds_no_frame():
    summary = advise(clocked("1min"), START + 60 - 1e-6, now_utc=NOON)
    assert summary.frames == 0
    told = said(summary, "the window holds no frame")
    assert told is not None
    assert told.costs is Costs.FRAMES
    assert said(asked(clocked("1min")), "the window holds no frame") is None


@pytest.mark.parametrize(("minutes", "is_short"), [("20min", True), ("21min", False), ("22min", False)])
def test_a_clip_below_five_seconds(minutes: str, is_short: bool):
    """126 frames of 10 s at 25 a second are 5.04 s."""
    told = said(asked(clocked(minutes)), "the clip lasts")
    assert (told is not None) is is_short
    assert told is None or told.what == "the clip lasts 4.8 s only"
    assert said(asked(clocked("2min")), "the clip lasts 0.5 s only")


def test_a_body_that_needs_longer_than_the_gap():
    """3 s to write and a fifth in reserve are 3.6 s; 2 s of exposure make 5.6 s, of which 5 s give 3 s."""
    body = BODY.model_copy(update={"timings": [timings(3.0)]})
    told = said(asked(clocked(pace={"kind": "steady", "interval_s": 5.0}), body=body), "is the shortest that is safe")
    assert told is not None
    assert told.what.startswith("from 18:00 (sun ")
    assert told.utc == START
    assert "releases are 5 s apart at 2 s, and " in told.what
    safe = float(told.what.partition("2 s, and ")[2].partition(" s is")[0])
    assert safe == pytest.approx(5.6, abs=0.3)  # and what setting took
    assert told.remedy == f"Use min_gap_s = {safe - 2:g} and intervals to match, a faster card, or smaller files"
    assert said(asked(clocked(), body=body), "is the shortest that is safe") is None


def test_a_body_that_holds_a_beat_and_no_quicker_one():
    """Held at 4 s: 4.8 s with a fifth in reserve, whatever the exposure; here 4.5 s apart."""
    body = BODY.model_copy(update={"beats": [beat(4.0, exposure_s=2.0)]})
    plan = clocked(pace={"kind": "steady", "interval_s": 4.5}, shutter_s=0.25)
    told = said(asked(plan, body=body), "is the shortest that is safe")
    assert told is not None
    assert "releases are 4.5 s apart at 1/4 s, and 4.8 s is the shortest" in told.what
    assert "Use min_gap_s = 4.6 and" in told.remedy  # 4.8 s less 1/4 s, rounded up
    exact = clocked(pace={"kind": "steady", "interval_s": 4.8}, shutter_s=0.25)
    assert said(asked(exact, body=body), "is the shortest that is safe") is None


def test_phases_cut_the_window_where_the_sun_passes_their_altitudes():
    """From noon to the next noon in spring each phase comes twice but night, which comes once; those altitudes are
    almanacs' (−6°, −12°, −18°), −0.833° at sunset, and 6° (common practice)."""
    when = {"start": "2027-03-10T12:00", "stop": None, "duration": "24h"}
    plan = changed(QUAY, when=when, pace={"kind": "steady", "interval_s": 60.0})
    (window,) = advise(plan, utc("2027-03-10T08:00:00"), now_utc=NOON, known=Known()).windows
    falls = ["daylight", "golden light", "civil twilight", "nautical twilight", "astronomical twilight"]
    assert [p.light for p in window.phases] == [*falls, "night", *reversed(falls)]
    assert sum(p.frames for p in window.phases) == window.frames == 1440
    levels = [6.0, -0.833, -6.0, -12.0, -18.0]
    for phase, level in zip(window.phases, [*levels, *reversed(levels)], strict=False):
        mark = min(window.marks, key=lambda m, at=phase.to_utc: abs(m.utc - at))
        if level != 6.0:
            assert mark.utc == pytest.approx(phase.to_utc, abs=20)
            assert mark.sun_altitude_deg == pytest.approx(level, abs=0.06)
