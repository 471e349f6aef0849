"""Check interval. Where it draws lines that is common practice, no source."""

from __future__ import annotations

import pytest

from controller.decide.checks.interval import interval
from controller.decide.safe_interval import needs_of
from tests.decide.checks import camera, plan
from tests.support.bodies import beat, body, timings

# The plan's shortest gap is 2 s, and its releases are 10 s apart at least.


@pytest.mark.parametrize(
    ("seen", "wanted", "level", "words"),
    [
        ((), None, None, ""),
        ((), {}, "warn", "not seen yet"),
        ((timings(9.0, count=9),), {}, "warn", "not seen yet"),
        ((timings(2.1),), {}, "fail", "2.1 s"),
        ((timings(1.4, set_s=0.7),), {}, "fail", "gap is 2.0 s"),
        ((timings(1.8),), {}, "warn", "99 % of 40 frames, JPG+NEF"),
        ((timings(1.5),), {}, "pass", "1.5 s"),
        ((timings(0.1),), {"least_gap_s": 0.0}, "fail", "no gap"),
        ((timings(2.1), beat(1.5)), {}, "pass", "a steady beat of 1.5 s"),
        ((beat(2.2, exposure_s=0.1),), {}, "fail", "gap is 2.0 s"),
        ((beat(2.2, exposure_s=0.5),), {}, "warn", "gap is 2.0 s"),
        ((beat(4.0, exposure_s=3.0),), {}, "pass", "1.0 s"),
        ((beat(4.0, exposure_s=3.0),), {"least_step_s": 3.9}, "fail", "shortest interval is 3.9 s"),
        ((beat(4.0, exposure_s=3.0),), {"least_step_s": 4.5}, "warn", "shortest interval is 4.5 s"),
        ((beat(4.0, exposure_s=3.0),), {"least_step_s": 4.9}, "pass", "a steady beat"),
    ],
)
def test_levels(seen, wanted, level, words):
    facts = camera(needs=needs_of(body(*seen)))
    found = interval(facts, plan(**wanted) if wanted is not None else None)
    assert (None if found is None else found.level) == level
    assert found is None or (found.remedy is None) == (level == "pass")
    assert found is None or words in found.what
