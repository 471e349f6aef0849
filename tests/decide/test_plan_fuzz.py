"""Ten thousand documents that nobody wrote: each is refused in one line, or is a plan that makes sense."""

from __future__ import annotations

import json
import math
import re
from itertools import islice, pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from controller.decide.plan import BySun, Plan, plan_from, read_plan
from controller.decide.schedule import windows
from controller.words.errors import BadInput
from controller.words.stops import meant_shutter
from tests.decide import PLANS, utc
from tests.decide.documents import ODD, broken, document

FOREIGN = re.compile(
    "Input should|should have|valid (dictionary|tuple|instance)|Value error|Traceback|<class|Errno", re.I
)
"""Words of the libraries that validate, which say nothing to whoever writes a plan."""

NOW = utc("2026-11-25T12:00:00")
TEN_YEARS_S = 3660 * 86_400
TYPED = {"no-such-event", "window-past", "window-too-long", "stop-before-start", "windows-overlap", "no-window"}
TEXTS = [path.read_text("utf-8") for path in PLANS]


def said_well(error: BadInput) -> None:
    line = str(error)
    assert error.code
    assert error.what
    assert len(line.splitlines()) == 1
    assert line.isprintable()
    assert len(line) <= 700
    assert not FOREIGN.search(line)


def judged(read) -> bool:
    """Refused with BadInput in one line, or a plan that makes sense."""
    refusal = None
    try:
        makes_sense(read())
    except BadInput as error:
        refusal = error
    if refusal is not None:
        assert refusal.code == "bad-plan"
        assert refusal.remedy
        assert not refusal.remedy.endswith(".")
        said_well(refusal)
    return refusal is None


def makes_sense(plan: Plan) -> None:
    """What holds of every plan, however odd, checked by arithmetic of this test's own."""
    written = json.loads(json.dumps(plan.document(), allow_nan=False))
    assert plan_from(written) == plan
    assert plan_from(written).document() == written

    light, pace = written["light"], written["pace"]
    shortest = light["shutter_s"] if light["kind"] == "fixed" else light["shutter_s"][0]
    offsets = light.get("bracket_ev") or [0.0]
    lengths = [2**offset for offset in offsets] if light["kind"] == "fixed" else [1.0] * len(offsets)
    needed_s = meant_shutter(shortest) * sum(lengths) + pace["min_gap_s"] * len(offsets)
    points = pace.get("points", [])
    keys = ("interval_s", "from_s", "to_s", "min_interval_s")
    intervals = [pace[key] for key in keys if key in pace] + [s for _, s in points]
    assert min(intervals) >= needed_s - 1e-9
    assert all(0 < interval <= 86_400 for interval in intervals)
    steps = [b - a for (a, _), (b, _) in pairwise(points)]
    assert all(step > 0 for step in steps) or all(step < 0 for step in steps)
    assert not isinstance(plan.pace, BySun) or all(-90 <= altitude <= 90 for altitude, _ in points)

    assert abs(plan.site.latitude) <= 90
    assert abs(plan.site.longitude) <= 180
    assert plan.site.zone.key == written["site"]["timezone"]
    windows_make_sense(plan, min(intervals))


def windows_make_sense(plan: Plan, least_s: float) -> None:
    refusal = None
    try:
        found = list(islice(windows(plan, NOW), 3))
    except BadInput as error:  # the sun does not do it, or the days are over
        found = []
        refusal = error
    if not found:
        assert refusal is not None
        assert refusal.code in TYPED
        said_well(refusal)
    for window in found:
        assert math.isfinite(window.start_utc)
        assert window.stop_utc is None or 0 < window.stop_utc - window.start_utc <= TEN_YEARS_S + 3600
        assert window.frames is None or (window.stop_utc is None and window.frames >= 1)
        if plan.when.every is not None and window.stop_utc is not None:
            assert window.stop_utc - window.start_utc < 8 * 86_400
        if plan.when.every is not None and window.frames is not None:
            assert window.frames * least_s <= 9 * (7 * 86_400 + 3600)


@settings(max_examples=4000)
@given(document())
def test_likely_documents(written):
    judged(lambda: plan_from(written))


@settings(max_examples=3500)
@given(broken())
def test_documents_with_something_wrong(written):
    judged(lambda: plan_from(written))


_TABLES = ["name", "site", "when", "pace", "light", "files", "clip", "optics", "view", "power"]


@settings(max_examples=1000)
@given(st.dictionaries(st.one_of(st.sampled_from(_TABLES), st.text(max_size=6)), ODD, max_size=6))
def test_nonsense_documents(written):
    assert not judged(lambda: plan_from(written))


@settings(max_examples=500)
@given(st.one_of(ODD, st.binary(max_size=8)))
def test_what_is_no_document_at_all(written):
    assert not judged(lambda: plan_from(written))


@settings(max_examples=500)
@given(st.text(max_size=120))
def test_nonsense_texts(text):
    assert not judged(lambda: read_plan(text))


@settings(max_examples=1000)
@given(st.sampled_from(TEXTS), st.integers(0, 10_000), st.text(max_size=3), st.integers(0, 6))
def test_good_texts_with_a_slip_of_the_finger(text, at, put, cut):
    at %= len(text)
    judged(lambda: read_plan(text[:at] + put + text[at + cut :]))


def test_both_sides_are_seen():
    """The likely documents are worth their time: neither nearly all refused nor nearly all taken."""
    taken: list[bool] = []

    @settings(max_examples=300, database=None)
    @given(document())
    def run(written):
        taken.append(judged(lambda: plan_from(written)))

    run()
    assert 0.15 < sum(taken) / len(taken) < 0.85
