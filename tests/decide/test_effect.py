"""What a change would come to, against sums by hand. Against the engine: tests/rehearsal/test_effect.py.

The sky's coefficients are those of the Explanatory Supplement to the Astronomical Almanac (Seidelmann 1992, section
9.3), EV at ISO 100 is log2(E / 2.5 lx) (ISO 2720, C = 250).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from controller.decide.changes import paced
from controller.decide.effect import Change, Standing, effect
from controller.decide.exposure import Body
from controller.decide.follow import Light
from controller.decide.pace import PaceChange
from controller.decide.plan import Plan
from controller.decide.safe_interval import Needs
from controller.decide.schedule import Window, windows
from controller.decide.step import Adjust, Moment, Progress
from controller.words.effect import Course, Limit, LimitMet
from tests.decide import changed, example, frames_of_ramp, utc

NOON = utc("2026-12-03T10:00:00")
STEADY = {"kind": "steady", "interval_s": 10.0}
FIXED = {"kind": "fixed", "shutter_s": 1.0, "aperture": 5.6, "iso": 200}
BODY = Body(
    shutter_s=tuple(2.0 ** (k / 3) for k in range(-36, 16)),  # 1/4000 … 30 s
    aperture=tuple(2.0 ** (k / 6) for k in range(6, 28)),  # f/2 … f/22
    iso=tuple(100 * 2.0 ** (k / 3) for k in range(19)),  # 100 … 6400
)


def steady(**when: Any) -> Plan:
    nothing: dict[str, Any] = {"start": None, "stop": None}
    return changed(example("quay_at_dusk"), when=nothing | when, pace=STEADY, light=FIXED)


def under_way(
    plan: Plan, window: Window, *, done: int = 0, interval_s: float = 10.0, at_utc: float | None = None, **more: Any
) -> Standing:
    """A shoot whose next slot is due now, at a monotonic time of 500 s."""
    now = Moment(window.start_utc if at_utc is None else at_utc, 500.0)
    light = Light(offset_ev=more.pop("offset_ev", 0.0))
    progress = Progress(window, done + 1, 500.0, now.utc, interval_s, None, done, light)
    return Standing(plan, Adjust(), window, progress, more.pop("body", None), now, done, NOON, **more)


def then(at: Standing, adjust: Adjust | None = None, **change: Any) -> Course:
    return effect(at, Change(adjust or at.adjust, **change)).then


def met(course: Course, limit: Limit) -> LimitMet:
    (found,) = [each for each in course.limits if each.limit is limit]
    return found


def test_a_change_of_pace_by_the_closed_form() -> None:
    """From 10 to 5 s over 1200 of 3600 s: 1200·ln 2/5 = 166.4 frames, then 2400/5 = 480; with 40 done 686.4 at 25/s."""
    at = under_way(steady(), Window(NOON, NOON + 3600), done=40)
    change = paced(at.progress, 5.0, 1200.0, NOON)
    seen = effect(at, Change(replace(at.adjust, pace=change)))
    assert frames_of_ramp(10, 5, 1200) == pytest.approx(166.355, abs=1e-3)
    assert seen.then.frames_to_come == pytest.approx(646.4, abs=1.01)
    assert seen.then.frames == seen.then.frames_to_come + 40
    assert seen.then.clip_s == pytest.approx(686.4 / 25, abs=0.05)
    assert (seen.then.interval_s, seen.then.end_utc) == (5.0, NOON + 3600)
    assert (seen.stands.frames, seen.stands.interval_s, seen.stands.limits) == (400, 10.0, [])


def test_from_the_interval_in_force_no_faster_than_max_change() -> None:
    """10 to 5 s at once, 4 % a frame at most: 18 frames (ln 2/ln 1.04 = 17.7), which take 127 s in place of 90 s."""
    at = under_way(steady(), Window(NOON, NOON + 3600))
    there = then(at, Adjust(pace=paced(at.progress, 5.0, 0.0, NOON)))
    exact = 17.7 + (3600 - 5 / 0.04 * 1.02) / 5
    assert there.frames == pytest.approx(exact, abs=4)


def test_a_hold_takes_frames_from_a_window_and_time_from_a_count() -> None:
    """600 s are 60 slots of 10 s; 200 frames, of which 50 are done, last 1500 s from now."""
    window = Window(NOON, NOON + 3600)
    assert then(under_way(steady(), window), hold_s=600).frames == 300
    held = then(under_way(steady(), window), hold_s=3700)
    assert (held.frames, held.end_utc, held.limits) == (0, NOON + 3600, [])
    counted = under_way(steady(frames=200), Window(NOON, None, 200), done=50)
    assert then(counted).end_utc == pytest.approx(NOON + 1500, abs=1)
    later = then(counted, hold_s=600)
    assert (later.frames, later.frames_to_come, later.end_utc) == (200, 150, pytest.approx(NOON + 2100, abs=1))
    faster = then(counted, Adjust(pace=PaceChange(10.0, 5.0, NOON, 0.0)))
    assert faster.frames == 200
    assert faster.end_utc == pytest.approx(NOON + 750, abs=60)


def test_what_is_held_goes_on_from_now() -> None:
    """Held for 1000 s of 3600 s: 260 of 10 s are left."""
    at = under_way(steady(), Window(NOON, NOON + 3600))
    held = replace(at, now=Moment(NOON + 1000, 1500.0))
    assert effect(held, Change(Adjust())).stands.frames_to_come == 260


def test_stopped_is_what_is_done() -> None:
    at = under_way(steady(), Window(NOON, NOON + 3600), done=250)
    over = then(at, stop=True)
    assert (over.frames, over.frames_to_come, over.clip_s, over.end_utc) == (250, 0, 10.0, NOON)
    stopping = replace(at, stopping=True)
    seen = effect(stopping, Change(Adjust()))
    assert seen.stands == seen.then == over


def test_windows_that_remain_are_counted() -> None:
    """Three days of two hours at 10 s, the first half over: 360 + 2·720; the change lasts for all of them."""
    plan = changed(
        steady(start="12:00", duration="2h"),
        when={"every": "day", "from": "2026-12-03", "until": "2026-12-05"},
    )
    window = next(windows(plan, NOON))
    at = under_way(plan, window, done=360, at_utc=window.start_utc + 3600)
    whole = then(at)
    assert (whole.frames, whole.frames_to_come, whole.windows) == (2160, 1800, 3)
    assert (whole.window_frames_to_come, whole.window_end_utc) == (360, window.start_utc + 7200)
    assert whole.end_utc == window.start_utc + 2 * 86400 + 7200
    slower = then(at, Adjust(pace=PaceChange(20.0, 20.0, at.now.utc, 0.0)))
    assert slower.frames_to_come == pytest.approx(180 + 2 * 360, abs=10)
    waiting = replace(at, progress=None, now=Moment(NOON - 3600, 0.0), done=0)
    assert (then(waiting).frames, then(waiting).windows) == (2160, 3)
    endless = changed(plan, when={"until": None})
    open_end = then(replace(at, plan=endless))
    assert (open_end.frames, open_end.end_utc, open_end.window_frames_to_come) == (None, None, 360)


def test_the_windows_of_one_day_are_shot_once() -> None:
    morning = {"start": "09:00", "duration": "1h"}
    plan = changed(steady(), when={"start": None, "windows": [morning, {"start": "15:00", "duration": "1h"}]})
    first, second = windows(plan, utc("2026-12-03T06:00:00"))
    at = replace(under_way(plan, second, done=360), created_utc=utc("2026-12-03T06:00:00"))
    assert (then(at).frames, then(at).windows) == (720, 1)
    assert then(replace(at, window=first, progress=None, now=Moment(NOON - 86400, 0.0), done=0)).frames == 720


DUSK = {
    "kind": "follow",
    "shutter_s": [0.0005, 1.0],
    "iso": [100, 100],
    "aperture": [2.8, 2.8],
    "brightness": [[0, 0], [1, 0]],
}


def test_the_longest_shutter_by_hand() -> None:
    """1 s at f/2.8 and ISO 100 is EV 3, chosen from EV 3.17 down: 2.5·2^3.17 = 22.4 lx, log10 1.351.

    2.88 + 21.81x − 258.11x² − 858.36x³ is that at x = −0.0475: the sun at −4.28°.
    """
    plan = changed(example("quay_at_dusk"), pace=STEADY, light=DUSK)
    window = next(windows(plan, NOON))
    course = then(under_way(plan, window))
    found = met(course, Limit.LONGEST_SHUTTER)
    assert found.from_sun_altitude_deg == pytest.approx(-4.28, abs=0.03)
    assert (found.until_utc, len(course.limits)) == (window.stop_utc, 1)
    assert found.darker_ev > 3
    brighter = met(then(under_way(plan, window), Adjust(bias_ev=1.0)), Limit.LONGEST_SHUTTER)
    assert brighter.from_utc < found.from_utc
    dark = met(then(under_way(plan, window, offset_ev=-1.0)), Limit.LONGEST_SHUTTER)
    assert dark.from_utc == pytest.approx(brighter.from_utc, abs=1)


def test_a_short_interval_leaves_no_room() -> None:
    """With 2 s between releases and a gap of 1 s the longest is 1 s where 4 s are allowed.

    1.26 s is wanted from EV 2.83 down: 17.8 lx, log10 1.251, x = −0.05, −4.50°.
    """
    long = {**DUSK, "shutter_s": [0.0005, 4.0]}
    plan = changed(example("quay_at_dusk"), pace=STEADY, light=long)
    window = next(windows(plan, NOON))
    at = under_way(plan, window, interval_s=2.0)
    course = then(at, Adjust(pace=PaceChange(2.0, 2.0, window.start_utc, 0.0)))
    found = met(course, Limit.GAP)
    assert found.from_sun_altitude_deg == pytest.approx(-4.5, abs=0.03)
    assert [each.limit for each in course.limits] == [Limit.GAP]


def test_too_bright_is_told_by_what_gave_way_last() -> None:
    """At noon f/2.8 and 1/60 s are far too long at ISO 100."""
    light = {**DUSK, "shutter_s": [1 / 60, 1.0], "iso": [100, 800]}
    plan = changed(example("quay_at_dusk"), pace=STEADY, light=light)
    window = Window(NOON, NOON + 3600)
    course = then(under_way(plan, window))
    assert [(each.limit, each.from_utc, each.until_utc) for each in course.limits] == [
        (Limit.SHORTEST_SHUTTER, NOON, NOON + 3600)
    ]
    assert course.limits[0].darker_ev < -3


def test_a_fixed_exposure_fills_its_interval() -> None:
    """1 s and a gap of 1 s need 2 s: nothing is left over."""
    plan = changed(steady(), pace={**STEADY, "interval_s": 2.0})
    at = under_way(plan, Window(NOON, NOON + 3600), interval_s=2.0)
    assert [each.limit for each in then(at).limits] == [Limit.GAP]
    assert then(at, Adjust(pace=PaceChange(2.0, 4.0, NOON, 0.0))).interval_s == 4.0


def test_without_an_end_limits_are_told_and_not_when_they_end() -> None:
    plan = changed(example("quay_at_dusk"), pace=STEADY, light=DUSK, when={"stop": None})
    window = next(windows(plan, NOON))
    course = then(under_way(plan, window))
    found = met(course, Limit.LONGEST_SHUTTER)
    assert (course.frames, course.end_utc, course.interval_s) == (None, None, None)
    assert (found.until_utc, found.until_sun_altitude_deg) == (None, None)


def words(adjust: Adjust, body: Body | None = BODY, needs: Needs | None = None) -> list[str]:
    plan = changed(example("quay_at_dusk"), pace=STEADY, light={"kind": "follow", "aperture": [2.8, 8]})
    at = under_way(plan, next(windows(plan, NOON)), body=body)
    return effect(at, Change(adjust), needs).words


def test_what_the_body_does_not_offer_is_said() -> None:
    assert words(Adjust(iso=(100, 6400), shutter_s=(0.001, 30.0))) == []
    assert words(Adjust(iso=(100, 12800))) == ["ISO 12800 is beyond this camera: its dial ends at ISO 6400."]
    assert words(Adjust(iso=(50, 50)))[0].startswith("This camera has nothing from ISO 50 to ISO 50")
    assert words(Adjust(aperture=(1.4, 8))) == ["f/1.4 is beyond this camera: its dial begins at f/2."]
    assert words(Adjust(iso=(100, 12800)), body=None) == []
    ring = replace(BODY, aperture=())
    assert words(Adjust(aperture=(4, 8)), ring) == ["This camera does not set the aperture: set it on the lens."]


def test_intervals_that_the_body_may_not_keep_up_with() -> None:
    """A gap of 3 s, a fifth in reserve: 3.6 s after any exposure, of which 2 s are the longest that fit 3 s."""
    needs = Needs(step_s=0.0, gap_s=3.0, basis="measured for this test")
    fast = Adjust(pace=PaceChange(10.0, 3.0, NOON, 0.0))
    (text,) = words(fast, needs=needs)
    assert text.startswith("Intervals go down to 3 s at 2 s, and 5.6 s is the shortest that is safe")
    assert words(Adjust(bias_ev=-0.3), needs=Needs(0.0, 0.1, "measured")) == []
