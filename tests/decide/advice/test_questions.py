"""The questions asked the other way round."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.decide.advice.advise import advise
from controller.decide.advice.needs import Known
from controller.decide.advice.questions import Question
from controller.decide.advice.questions import scaled as scaled_by
from controller.decide.advice.storage import parse_size
from controller.decide.first_light import most_before
from controller.decide.plan import Plan, plan_from
from controller.words.advice import PlanSummary
from controller.words.errors import BadInput
from tests.decide import PLANS, changed, example, utc

NOON = utc("2026-12-03T10:00:00")
QUAY = example("quay_at_dusk")


def asked(plan: Plan, known: Known | None = None, **question: float) -> PlanSummary:
    return advise(plan, NOON, now_utc=NOON, known=known, question=Question("--it", **question))


def four_hours(**tables: dict[str, object]) -> Plan:
    pace = {"kind": "steady", "interval_s": 5.0}
    return changed(QUAY, when={"start": "2026-12-03T20:00", "stop": None, "duration": "4h"}, pace=pace, **tables)


def test_an_interval_worked_by_hand():
    """Four hours in a clip of 20 s at 25 frames a second: 14,400 s over 500 frames are 28.8 s."""
    found = asked(four_hours(), clip_s=20.0)
    assert found.answer.pace["interval_s"] == pytest.approx(28.8, abs=0.001)
    assert found.frames == 500
    assert found.plan["pace"]["interval_s"] == found.answer.pace["interval_s"]


@pytest.mark.parametrize("path", [p for p in PLANS if p.stem not in ("stars_over_a_ridge", "until_stopped")])
@pytest.mark.parametrize("clip_s", [12.0, 40.0])
def test_every_kind_of_pace_comes_to_the_clip(path, clip_s):
    plan = example(path.stem)
    clip_s *= 60 if plan.when.every else 1
    found = asked(plan, clip_s=clip_s)
    assert found.frames == pytest.approx(clip_s * plan.clip.fps, abs=max(1, len(found.windows)))
    again = plan_from(found.plan)
    assert advise(again, NOON, now_utc=NOON).frames == found.frames


@settings(max_examples=30)
@given(st.floats(4, 100))
def test_all_points_of_a_pace_are_scaled_alike(clip_s):
    found = asked(QUAY, clip_s=clip_s)
    factors = [new / old for (_, new), (_, old) in zip(found.answer.pace["points"], QUAY.pace.points, strict=True)]
    assert max(factors) / min(factors) == pytest.approx(1, abs=0.002)
    assert [x for x, _ in found.answer.pace["points"]] == [x for x, _ in QUAY.pace.points]
    assert found.clip_s == pytest.approx(clip_s, abs=0.05)


def test_one_interval_throughout():
    """2 h 54 min 54 s at 10 s: 1050 frames, 42 s."""
    found = asked(QUAY, interval_s=10.0)
    length_s = found.windows[0].end_utc - found.windows[0].start_utc
    assert found.frames == pytest.approx(length_s / 10, abs=1)
    assert found.answer.clip_s == pytest.approx(found.frames / 25)
    assert found.answer.pace == {
        **QUAY.pace.model_dump(include={"min_gap_s", "max_change"}),
        "kind": "steady",
        "interval_s": 10.0,
    }
    endless = asked(example("until_stopped"), interval_s=15.0)
    assert endless.frames is None
    assert "240 frames an hour" in endless.answer.text


def test_the_latest_stop_of_a_card():
    """9 GB hold 300 frames of 30 MB; at 5 s each they last 1500 s. 64 GB hold 2133, two hours and 57 minutes."""
    plan = four_hours()
    start = asked(plan, interval_s=5.0).windows[0].start_utc
    small = asked(plan, card_bytes=9e9)
    tests = most_before(plan)  # test frames, which the card has to hold as well
    assert small.answer.frames == 300 - tests
    assert small.answer.stop_utc == pytest.approx(start + (300 - tests) * 5, abs=1)
    assert small.storage.card_full_utc == pytest.approx(small.answer.stop_utc, abs=5)
    assert "before the plan's own end" in small.answer.text
    assert asked(plan, card_bytes=64e9).answer.stop_utc == pytest.approx(start + (2133 - tests) * 5, abs=1)
    large = asked(plan, card_bytes=128e9)
    assert large.answer.stop_utc == pytest.approx(start + (4266 - tests) * 5, abs=1)
    assert "after the plan's own end" in large.answer.text
    assert large.storage.card_full_utc is None
    assert asked(plan, Known(frame_bytes=60e6), card_bytes=9e9).answer.frames == 150 - tests


def test_a_card_for_months():
    tower = example("tower_for_a_winter")
    found = asked(tower, card_bytes=128e9)
    whole = [w for w in found.windows if w.end_utc <= found.answer.stop_utc]
    held = [w.frames + most_before(tower) for w in found.windows[: len(whole) + 1]]
    assert sum(held[:-1]) <= 4266 < sum(held)
    assert f"until = {whole[-1].start_local[:10]}" in found.answer.text
    assert "more." in asked(tower, card_bytes=2e12).answer.text


def test_a_timed_pace_keeps_its_ramp_beyond_the_stop():
    plan = changed(four_hours(), pace={"kind": "timed", "from_s": 10.0, "to_s": 30.0, "over": None})
    found = asked(plan, card_bytes=64e9)
    ramp = asked(plan, clip_s=asked(plan, card_bytes=64e9).clip_s).frames  # 4 h: 791 frames
    start = found.windows[0].start_utc
    assert found.answer.stop_utc == pytest.approx(start + 4 * 3600 + (2133 - most_before(plan) - ramp) * 30, abs=60)


@pytest.mark.parametrize(
    ("plan", "clip_s", "says"),
    [
        (example("stars_over_a_ridge"), 20.0, "counts its frames"),
        (example("until_stopped"), 20.0, "without an end"),
        (QUAY, 3 * 3600.0, "is the longest"),
        (QUAY, 0.02, "less than one frame"),
        (example("tower_for_a_winter"), 0.04, "no plan may have"),
    ],
)
def test_what_has_no_answer(plan, clip_s, says):
    with pytest.raises(BadInput, match=says) as caught:
        asked(plan, clip_s=clip_s)
    assert (caught.value.code, caught.value.where) == ("no-answer", "--it")
    assert caught.value.remedy


def test_an_interval_that_the_plan_cannot_have():
    with pytest.raises(BadInput) as caught:
        asked(QUAY, interval_s=0.5)
    assert (caught.value.code, caught.value.where) == ("bad-plan", "--it")


@pytest.mark.parametrize(
    ("text", "size"), [("64GB", 64e9), ("1.5 TB", 1.5e12), ("500mb", 5e8), ("1GiB", 2.0**30), (" 2 GB ", 2e9)]
)
def test_sizes(text, size):
    """Decimal units as makers of cards count, binary ones by IEC 80000-13."""
    assert parse_size(text, "--card") == size


@pytest.mark.parametrize("text", ["64", "GB", "-1GB", "0GB", "64 apples", "nan", "1e9GB", "", "6" * 40 + "GB"])
def test_what_is_no_size(text):
    with pytest.raises(BadInput) as caught:
        parse_size(text, "--card")
    assert caught.value.code == "bad-size"


@pytest.mark.parametrize(
    ("card_gb", "says"),
    [
        (43.2, "43.2 GB hold 1440 frames of 30 MB: the card holds all of it, and no more"),
        (43.5, "1450 frames of 30 MB: the latest stop is Fri 04 Dec 00:01:40, 100.0 s after the plan's own end"),
        (43.1, "1436 frames of 30 MB: the latest stop is 23:59:20, 40.0 s before the plan's own end"),
        (0.03, "30 MB hold 1 frame of 30 MB: the latest stop is 20:00:10, 4 h 00 min before the plan's own end"),
    ],
)
def test_what_is_said_of_a_card(card_gb, says):
    """10 s apart and without test frames: 360 frames an hour of 30 MB, 10.8 GB."""
    pace, light = {"kind": "steady", "interval_s": 10.0}, {"test_frame": False}
    when = {"start": "2026-12-03T20:00", "stop": None, "duration": "4h"}
    found = asked(changed(QUAY, when=when, pace=pace, light=light), card_bytes=card_gb * 1e9)
    assert says in found.answer.text
    if "latest" in says:
        assert f'stop = "{found.answer.stop_local[:19]}"' in found.answer.text


def test_what_is_said_of_a_card_for_weeks():
    """Two hours at 10 s, 720 frames of 30 MB an evening: 64 GB hold 2133, two evenings and the most of a third."""
    pace, light = {"kind": "steady", "interval_s": 10.0}, {"test_frame": False}
    when = {"start": "20:00", "stop": None, "duration": "2h", "every": "day", "until": "2026-12-20"}
    plan = changed(QUAY, when=when, pace=pace, light=light)
    found = asked(plan, card_bytes=64e9)
    assert found.answer.stop_local == "2026-12-05T21:55:30+01:00"  # 693 frames into it
    assert "the latest stop is Sat 05 Dec 21:55:30, 15 days 0 h before the plan's own end" in found.answer.text
    assert found.answer.text.endswith(": until = 2026-12-04.")
    assert asked(plan, card_bytes=9e9).answer.text.endswith(", in the first window.")
    tests = asked(changed(plan, light={"test_frame": True}), card_bytes=64e9).answer.text
    assert tests.startswith("64.0 GB hold 2133 frames of 30 MB, up to 5 of them test frames before each window: ")
    two = changed(plan, light={"test_frame": True}, when={"until": "2026-12-04"})
    assert "up to 5 of them test frames before each window: " in asked(two, card_bytes=9e9).answer.text
    all_of_it = asked(plan, card_bytes=1e12)
    assert all_of_it.answer.text.endswith(": all of the plan's 12,960, and 20,373 more.")
    with_tests = asked(changed(plan, light={"test_frame": True}), card_bytes=1e12)
    assert with_tests.answer.text.endswith(": all of the plan's 12,960, and 20,283 more.")  # 18 windows of five each


@pytest.mark.parametrize("until", ["2026-12-03", "2026-12-04"])
def test_a_card_that_holds_more_than_the_days_that_are_left(until):
    """Days of a repeated plan have their own ends: there is no later stop to be told."""
    pace, light = {"kind": "steady", "interval_s": 10.0}, {"test_frame": False}
    when = {"start": "20:00", "stop": None, "duration": "2h", "every": "day", "until": until}
    plan = changed(QUAY, when=when, pace=pace, light=light)
    frames = 720 * int(until[-1]) - 1440
    text = asked(plan, card_bytes=(frames + 280) * 30e6).answer.text
    assert text.endswith(f": all of the plan's {frames}, and 280 more.")
    just = asked(plan, card_bytes=frames * 30e6).answer.text
    assert "and no more" in just


def test_a_card_and_a_plan_without_an_end():
    endless = changed(example("until_stopped"), light={"kind": "fixed", "shutter_s": 1, "aperture": 4, "iso": 100})
    text = asked(endless, card_bytes=3e9).answer.text
    assert text.startswith("3.0 GB hold 100 frames of 30 MB: the latest stop is ")
    assert "own end" not in text
    assert asked(endless, card_bytes=1e15).answer.text.endswith(": more than a year of shooting.")


def test_what_is_said_of_a_clip_and_of_an_interval():
    found = asked(four_hours(), clip_s=20.0)
    assert found.answer.text == "An interval of 28.8 s: 500 frames, a clip of 20.0 s."
    assert (found.answer.asked, found.answer.clip_s, found.answer.interval_s) == ("clip", 20.0, (28.8, 28.8))
    quay = asked(QUAY, clip_s=20.0).answer
    first, last = (f"{interval_s:.3g} s" for interval_s in quay.interval_s)
    said = f"Intervals of {first} to {last}: {quay.frames} frames, a clip of 20.0 s."
    assert quay.text == said
    every = asked(four_hours(), interval_s=16.0)
    assert every.answer.text == "An interval of 16 s: 900 frames, a clip of 36.0 s."
    assert every.answer.asked == "interval"
    three = changed(example("until_stopped"), light={"bracket_ev": [-1, 0, 1]})
    assert "makes 720 frames an hour: 9.6 s of clip" in asked(three, interval_s=15.0).answer.text


def test_a_clip_that_whole_frames_of_many_windows_do_not_meet():
    """Ten windows of a minute: 30 frames wanted are three in each; 34 are four in some and three in others, or all."""
    when = {"start": "20:00", "stop": None, "duration": "1min", "every": "day", "until": "2026-12-12"}
    plan = changed(QUAY, when=when, pace={"kind": "steady", "interval_s": 10.0})
    assert len(asked(plan, clip_s=30 / 25).windows) == 10
    assert "cannot be met" not in asked(plan, clip_s=30 / 25).answer.text
    text = asked(plan, clip_s=34.9 / 25).answer.text
    assert "1.4 s cannot be met exactly: each of the 10 windows has whole frames." in text


@pytest.mark.parametrize(
    ("pace", "scaled"),
    [
        ({"kind": "timed", "from_s": 4.0, "to_s": 16.0}, {"from_s": 8.0, "to_s": 32.0}),
        ({"kind": "pulse", "min_interval_s": 5.0}, {"min_interval_s": 10.0}),
        ({"kind": "sun", "points": [[2, 5.0], [-14, 20.0]]}, {"points": [[2, 10.0], [-14, 40.0]]}),
        ({"kind": "light", "points": [[8, 5.0], [-4, 20.0]]}, {"points": [[8, 10.0], [-4, 40.0]]}),
        ({"kind": "steady", "interval_s": 5.0, "stretch_to_s": 10.5}, {"interval_s": 10.0, "stretch_to_s": 10.5}),
        (
            {"kind": "timed", "from_s": 4.0, "to_s": 16.0, "stretch_to_s": 9.0},
            {"from_s": 8.0, "to_s": 32.0, "stretch_to_s": 9.0},
        ),
        ({"kind": "timed", "from_s": 16.0, "to_s": 4.0, "stretch_to_s": 8.0}, {"from_s": 32.0, "to_s": 8.0}),
        (
            {"kind": "sun", "points": [[2, 5.0], [-14, 20.0]], "stretch_to_s": 11.0},
            {"points": [[2, 10.0], [-14, 40.0]], "stretch_to_s": 11.0},
        ),
        ({"kind": "steady", "interval_s": 5.0, "stretch_to_s": 10.0}, {"interval_s": 10.0}),
    ],
)
def test_twice_as_long(pace, scaled):
    """A stretch that would be no longer than the interval goes."""
    found = scaled_by(changed(QUAY, pace=pace), 2.0).pace.model_dump(mode="json", exclude_none=True)
    assert {key: value for key, value in found.items() if key not in ("kind", "min_gap_s", "max_change")} == scaled


def test_intervals_are_whole_milliseconds_and_long_ones_tenths():
    plan = changed(QUAY, pace={"kind": "timed", "from_s": 3.0, "to_s": 3000.0, "over": "9h"})
    found = scaled_by(plan, 1.23456789).pace
    assert (found.from_s, found.to_s) == (3.704, 3703.7)
