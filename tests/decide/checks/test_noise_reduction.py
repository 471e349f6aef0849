"""Check noise_reduction: makers' spellings, typed from memory (common practice, no source)."""

from __future__ import annotations

import pytest

from controller.decide.checks.noise_reduction import noise_reduction
from controller.words.settings import Setting
from tests.decide.checks import camera, plan


@pytest.mark.parametrize(
    ("value", "level"),
    [
        ("Off", "pass"),
        ("off", "pass"),
        ("On", "warn"),
        ("Auto", "warn"),
        ("", "warn"),
    ],
)
def test_spellings(value, level):
    found = noise_reduction(camera(Setting.NOISE_REDUCTION, value), None)
    assert found is not None
    assert found.level == level
    assert (found.remedy is None) == (level == "pass")


def test_what_mends_it_is_the_bodys_own_text():
    found = noise_reduction(camera(Setting.NOISE_REDUCTION, "On", *["On", "Off"]), None)
    assert found is not None
    assert found.fix == {Setting.NOISE_REDUCTION: "Off"}
    found = noise_reduction(camera(Setting.NOISE_REDUCTION, "On", *["On", "Off"], writable=False), None)
    assert found is not None
    assert found.fix is None


def test_a_plan_whose_gap_is_too_short_for_the_dark_frame_is_failed():
    on = camera(Setting.NOISE_REDUCTION, "On", "Off")
    failed = noise_reduction(on, plan(longest_exposure_s=8.0, least_gap_s=2.0))
    assert failed.level == "fail"
    assert failed.what.endswith("follows each, 8.0 s, and the gap is 2.0 s")
    assert noise_reduction(on, plan(longest_exposure_s=8.0, least_gap_s=9.0)).level == "warn"
    assert noise_reduction(on, plan(longest_exposure_s=0.5)) is None


def test_it_is_left_out_where_the_plan_stays_below_a_second():
    """As docs/checks.md says."""
    on = camera(Setting.NOISE_REDUCTION, "On", "Off")
    assert noise_reduction(on, plan(longest_exposure_s=1.0, least_gap_s=9.0)) is not None
    assert noise_reduction(on, plan(longest_exposure_s=0.99, least_gap_s=9.0)) is None
