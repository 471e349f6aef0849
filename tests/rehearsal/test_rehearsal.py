"""What a rehearsal comes to, against arithmetic and against what the light rule may know."""

from __future__ import annotations

import itertools
import math

import pytest

from controller.decide.place import place_at
from controller.decide.schedule import windows
from controller.rehearsal import cloudy, flat, from_table, rehearse_now, view_of
from controller.rehearsal import log as log_module
from controller.words.documents import FrameState
from controller.words.errors import BadInput
from tests.decide import frames_of_ramp
from tests.rehearsal import FOLLOW, NOW, plan, played

DUSK = {"start": "sunset-20min", "stop": "nautical_dusk"}


def test_frames_of_a_timed_pace_are_the_integral_of_its_frequency():
    """∫dt/interval of a linear ramp is T·ln(b/a)/(b−a)."""
    ramp = plan(
        when={"start": "now", "duration": "2h"}, pace={"kind": "timed", "from_s": 5.0, "to_s": 20.0, "min_gap_s": 1.0}
    )
    came, frames = played(ramp)
    assert came.summary.frames == len(frames) == pytest.approx(frames_of_ramp(5.0, 20.0, 7200.0), abs=1)
    assert came.summary.interval_s == pytest.approx((5.0, 20.0), rel=0.01)
    assert came.summary.clip_s == len(frames) / 25


def test_a_picture_tells_the_scene_as_it_is():
    """What is metered is model, weather and view; within the width of a code."""
    weather = from_table([0, 600], [0.5, 0.5], NOW)
    dusk = plan(when=DUSK, light=FOLLOW)
    _, frames = played(dusk, weather=weather, view=flat(2.0))
    for frame in frames[10:]:
        mid_utc = frame.due_utc + (frame.shutter_s or 0.0) / 2
        wanted = place_at(dusk.site, mid_utc).model_ev(mid_utc) - 1.0 + 2.0
        assert frame.scene_ev == pytest.approx(wanted, abs=0.02)


def test_the_light_rule_is_not_told_the_weather():
    """A cloud at minute 30 halves the light twice: at that moment the rule still asks for what it asked for under a
    clear sky, and only pictures teach it."""
    dusk = plan(when={"start": "sunset-60min", "duration": "50min"}, light=FOLLOW)
    begin_utc = next(windows(dusk, NOW)).start_utc
    cloud_utc = begin_utc + 1800
    _, fair = played(dusk)
    _, dull = played(dusk, weather=from_table([0, 0.01, 999], [1.0, 0.25, 0.25], cloud_utc))
    first = next(k for k, frame in enumerate(fair) if frame.due_utc > cloud_utc + 5)
    assert [f.target_ev for f in dull[:first]] == [f.target_ev for f in fair[:first]]
    at_once = (fair[first].target_ev or 0.0) - (dull[first].target_ev or 0.0)
    assert abs(at_once) < 0.1
    assert (fair[first].scene_ev or 0.0) - (dull[first].scene_ev or 0.0) == pytest.approx(2.0, abs=0.05)
    in_the_end = (fair[-1].target_ev or 0.0) - (dull[-1].target_ev or 0.0)
    assert in_the_end == pytest.approx(2.0, abs=0.2)


def test_the_same_seed_gives_the_same_rehearsal_and_another_does_not():
    dusk = plan(when=DUSK, light=FOLLOW)
    one, again, other = (played(dusk, weather=cloudy(seed), seed=seed)[1] for seed in (5, 5, 6))
    assert one == again
    assert [f.scene_ev for f in one] != [f.scene_ev for f in other]


def test_as_many_windows_as_are_asked_for():
    daily = plan(when={"every": "day", "start": "sunset", "duration": "10min"})
    starts = [w.start_utc for w in itertools.islice(windows(daily, NOW), 3)]
    for count in (1, 3):
        came, frames = played(daily, windows=count)
        assert came.summary.windows == count
        assert came.summary.frames == len(frames) == 60 * count
        assert [f.due_utc for f in frames[::60]] == pytest.approx(starts[:count], abs=1e-3)
        assert [f.seq for f in frames] == list(range(1, 60 * count + 1))


def test_a_window_without_an_end_is_rehearsed_for_a_day():
    came, frames = played(plan(60.0, when={"start": "now"}))
    assert came.summary.frames == pytest.approx(1440, abs=1)
    assert frames[-1].state is FrameState.WRITTEN


def test_a_plan_that_is_over_has_nothing_to_rehearse():
    with pytest.raises(BadInput):
        played(plan(when={"start": "2026-01-01T10:00", "duration": "1h"}))


def test_memory_holds_a_few_hundred_rows_however_many_there_are(monkeypatch: pytest.MonkeyPatch):
    most = 0
    real = log_module.MemoryLog._add

    def watched(self, frame):
        nonlocal most
        number = real(self, frame)
        most = max(most, len(self._rows))
        return number

    monkeypatch.setattr(log_module.MemoryLog, "_add", watched)
    _, frames = played(plan(2.0, 0.5, when={"start": "now", "frames": 1000}))
    assert [frame.seq for frame in frames] == list(range(1, 1001))
    assert most <= log_module.KEPT + 1


def test_a_listener_that_breaks_ends_it():
    def breaks(frame):
        raise ZeroDivisionError("planted")

    with pytest.raises(ZeroDivisionError):
        rehearse_now(plan(1.0, 0.1, when={"start": "now", "frames": 1000}), now_utc=NOW, on_frame=breaks)


# ---- what binds


def kinds(came):
    return {bind.kind: bind for bind in came.summary.binds}


def test_a_night_that_outgrows_its_limits():
    """Shutter first, then ISO, then nothing is left: EV of f/2.8, 8 s (true), ISO 1600 is 3 − 3 − 4 = −4."""
    light = {**FOLLOW, "shutter_s": [0.0005, 8.0], "order": ["shutter", "iso"]}
    came, frames = played(plan(10.0, when={"start": "sunset-20min", "stop": "astronomical_dusk"}, light=light))
    found = kinds(came)
    assert set(found) == {"shutter", "iso", "light"}
    assert found["shutter"].from_utc < found["iso"].from_utc < found["light"].from_utc
    assert found["shutter"].from_sun_altitude_deg > found["iso"].from_sun_altitude_deg
    darkest = max(f.exposure_ev - f.target_ev for f in frames)
    assert found["light"].worst_ev == pytest.approx(-darkest, abs=0.01)
    assert min(f.exposure_ev for f in frames) == pytest.approx(-4.0, abs=0.01)
    assert found["light"].until_utc == pytest.approx(frames[-1].due_utc + 10.0, abs=1e-3)
    assert all(bind.remedy and bind.text for bind in came.summary.binds)
    assert came.summary.within_third is not None
    assert came.summary.within_third < 1


def test_an_interval_that_has_no_room_for_the_exposure():
    came, frames = played(plan(6.0, when={"start": "sunset-20min", "stop": "nautical_dusk"}, light=FOLLOW))
    bind = kinds(came)["interval"]
    held = [f for f in frames if f.due_utc >= bind.from_utc and f.due_utc < bind.until_utc]
    assert {round(f.shutter_s, 3) for f in held} == {5.04}  # the longest third that fits 6 s with a gap of 0.5 s
    assert bind.frames == len([f for f in held if f.iso > 101])  # from the first third of a stop that ISO gives


def test_light_that_is_too_much():
    light = {**FOLLOW, "shutter_s": [0.01, 8.0]}  # 1/100 s, f/2.8, ISO 100: EV 9.6, on a day of EV 13
    came, _ = played(plan(10.0, when={"start": "now", "duration": "10min"}, light=light))
    bind = kinds(came)["light"]
    assert bind.worst_ev is not None
    assert bind.worst_ev > 2
    assert "too bright" in bind.text


def test_a_pace_that_changes_faster_than_it_may():
    """From 5 to 60 s within 0.1° of sun, at 4 % a frame: ln 12 / ln 1.04 is 63.4 frames."""
    pace = {"kind": "sun", "points": [[0, 5.0], [-0.1, 60.0]], "min_gap_s": 1.0}
    came, _ = played(plan(when={"start": "sunset-30min", "stop": "civil_dusk+60min"}, pace=pace))
    assert kinds(came)["change"].frames == pytest.approx(math.log(12) / math.log(1.04), abs=3)


# ---- the view of an earlier shoot


def test_the_view_is_learned_from_an_earlier_shoot():
    dusk = plan(60.0, when=DUSK, light=FOLLOW)
    _, frames = played(dusk, view=flat(1.5))
    view = view_of(dusk, frames)
    place = place_at(dusk.site, frames[30].due_utc)
    assert view.ev(place) == pytest.approx(1.5, abs=0.03)
    assert view.rising == view.setting
    assert view_of(dusk, []) == flat(0.0)


def test_a_long_rehearsal_knows_each_file_of_its_card():
    """More frames than the log keeps rows of, and than the model camera keeps files of: none is of no slot."""
    night = plan(when={"start": "now", "duration": "4h"}, pace={"kind": "steady", "interval_s": 22.0, "min_gap_s": 1.0})
    came, frames = played(night)
    assert len(frames) > log_module.KEPT + 100
    assert [note.kind for note in came.notes if note.kind == "unknown-files"] == []
