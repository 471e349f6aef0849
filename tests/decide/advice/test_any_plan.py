"""Whatever plan can be read, there is an answer to it, or one line that says why not; and it can be printed."""

from __future__ import annotations

import json

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from controller.commands.plan_text import render
from controller.decide.advice.advise import advise
from controller.decide.advice.needs import Known
from controller.decide.advice.questions import Question
from controller.decide.plan import Plan, plan_from
from controller.decide.sun import SUN_EVENTS
from controller.words.advice import PlanSummary
from controller.words.errors import BadInput
from tests.decide import utc
from tests.support.bodies import beat, body, timings

UNHURRIED = [HealthCheck.filter_too_much, HealthCheck.too_slow]
NOW = utc("2026-03-28T10:00:00")
ZONES = ["UTC", "Europe/Stockholm", "Asia/Kathmandu", "Pacific/Auckland", "Africa/Casablanca", "America/St_Johns"]

intervals = st.floats(0.2, 7200)
anchors = st.one_of(
    st.just("now"),
    st.sampled_from(SUN_EVENTS),
    st.builds(
        lambda event, sign, minutes: f"{event}{sign}{minutes}min",
        st.sampled_from(SUN_EVENTS),
        st.sampled_from("+-"),
        st.integers(1, 600),
    ),
    st.times().map(lambda t: f"{t:%H:%M}"),
)
ends = st.one_of(
    st.builds(lambda text: {"stop": text}, anchors.filter(lambda text: text != "now")),
    st.builds(lambda minutes: {"duration": f"{minutes}min"}, st.integers(1, 3000)),
    st.builds(lambda frames: {"frames": frames}, st.integers(1, 100_000)),
    st.just({}),
)
points = st.lists(st.tuples(st.integers(-18, 20), intervals), min_size=1, max_size=4, unique_by=lambda p: p[0]).map(
    sorted
)
paces = st.one_of(
    st.builds(lambda i: {"kind": "steady", "interval_s": i}, intervals),
    st.builds(lambda a, b: {"kind": "timed", "from_s": a, "to_s": b, "over": "2h"}, intervals, intervals),
    st.builds(lambda a: {"kind": "pulse", "min_interval_s": a}, intervals),
    st.builds(lambda kind, p: {"kind": kind, "points": p}, st.sampled_from(["sun", "light"]), points),
)
lights = st.one_of(
    st.builds(lambda s: {"kind": "fixed", "shutter_s": s, "aperture": 4, "iso": 800}, st.floats(0.001, 60)),
    st.builds(
        lambda s, iso, b: {"kind": "follow", "shutter_s": [0.0005, s], "aperture": 2.8, "iso": [100, iso], **b},
        st.floats(0.001, 60),
        st.sampled_from([100, 6400, 102400]),
        st.sampled_from([{}, {"bracket_ev": [-2, 0, 2]}]),
    ),
)
optics = st.builds(
    lambda f, s, p: {"focal_mm": f, **s, **p},
    st.floats(1, 5000),
    st.sampled_from([{}, {"sensor_mm": [35.9, 23.9]}]),
    st.sampled_from([{}, {"pixel_um": 5.9}]),
)
views = st.builds(lambda a, h: {"azimuth_deg": a, "altitude_deg": h}, st.floats(0, 360), st.floats(-90, 90))
powers = st.builds(
    lambda wh, w, c: {"battery_wh": wh, "draw_w": w, **c},
    st.floats(0.001, 1_000_000),
    st.floats(0.0001, 10_000),
    st.one_of(st.just({}), st.builds(lambda c: {"temperature_c": c}, st.floats(-60, 60))),
)
documents = st.fixed_dictionaries(
    {
        "name": st.just("any"),
        "site": st.fixed_dictionaries(
            {
                "latitude": st.floats(-90, 90),
                "longitude": st.floats(-180, 180),
                "timezone": st.sampled_from(ZONES),
            }
        ),
        "when": st.builds(lambda start, end: {"start": start, **end}, anchors, ends),
        "pace": st.builds(lambda pace, gap: {**pace, "min_gap_s": gap}, paces, st.floats(0.05, 5)),
        "light": lights,
        "files": st.sampled_from([{"fetch": f} for f in ("all", "preview", "none", "every 7")]),
    },
    optional={"optics": optics, "view": views, "power": powers},
)
bodies = st.builds(
    lambda size, seen, free: body(*seen).model_copy(update={"frame_bytes": size, "free_bytes": free}),
    st.one_of(st.none(), st.floats(1e3, 1e9)),
    st.lists(st.one_of(st.builds(timings, st.floats(0, 60)), st.builds(beat, st.floats(0.02, 60))), max_size=2),
    st.one_of(st.none(), st.integers(0, 2**50)),
)
questions = st.one_of(
    st.none(),
    st.builds(lambda s: Question("--clip", clip_s=s), st.floats(0.01, 86400)),
    st.builds(lambda s: Question("--interval", interval_s=s), st.floats(0.01, 86400)),
    st.builds(lambda s: Question("--card", card_bytes=s), st.floats(1, 1e18)),
)


def readable(document: dict[str, object]) -> Plan | None:
    try:
        return plan_from(document)
    except BadInput:
        return None


def answered(plan: Plan, question: Question | None, known: Known) -> PlanSummary | BadInput:
    try:
        return advise(plan, NOW, now_utc=NOW, known=known, question=question)
    except BadInput as error:
        return error


@pytest.mark.timeout(900)  # a plan of many windows takes its time, more so beside other tests
@settings(max_examples=30, phases=[Phase.explicit, Phase.generate], suppress_health_check=UNHURRIED)
@given(documents, st.one_of(st.none(), bodies), questions, st.sampled_from([None, 1e7, 1e12]))
def test_any_plan_has_an_answer(document, body, question, rig_room):
    plan = readable(document)
    if plan is None:
        return
    known = Known(body, rig_room_bytes=rig_room)
    found = answered(plan, question, known)
    if isinstance(found, BadInput):
        assert found.what
        assert found.remedy
        assert "\n" not in str(found)
        return
    text = found.model_dump_json()
    assert PlanSummary.model_validate(json.loads(text, parse_constant=refuse)).model_dump_json() == text
    for columns in (45, 80, 120):
        assert max(map(len, render(found, columns).splitlines())) <= columns
    assert all(w.what and w.remedy and not w.remedy.endswith(".") for w in found.warnings)
    for window in found.windows:
        if window.phases:
            assert window.phases[0].from_utc == window.start_utc
            assert all(p.frames >= 0 for p in window.phases)


def refuse(text: str) -> float:
    raise AssertionError(f"{text} is no JSON")
