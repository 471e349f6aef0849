"""What a clock is believed. Where the lines are drawn is common practice, no source."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.decide.clock_trust import AGREE_S, AHEAD_S, BATTERY_AHEAD_S, MADE_UTC, PATIENCE_S, ClockFacts, judge

NOW, DAY_S = MADE_UTC + 100 * 86_400.0, 86_400.0
YEARS_S = 10 * 365.25 * DAY_S


@pytest.mark.parametrize(
    ("facts", "state", "kept_by"),
    [
        (ClockFacts(NOW), "right", None),  # a machine that tells nothing, and nothing speaks against it
        (ClockFacts(NOW, synchronised=True), "right", "network"),
        (ClockFacts(0.0, NOW, synchronised=True), "right", "network"),  # the network's word is worth more than ours
        (ClockFacts(NOW, synchronised=False), "unsure", None),
        (ClockFacts(NOW, NOW - DAY_S, synchronised=False), "unsure", None),
        (ClockFacts(NOW, NOW, synchronised=False), "unsure", None),
        (ClockFacts(NOW - AGREE_S + 1, NOW, synchronised=False), "unsure", None),  # the same time, as clocks tell it
        (ClockFacts(NOW - AGREE_S + 1, NOW), "right", None),
        (ClockFacts(NOW, synchronised=False, battery_off_s=0.7), "right", "battery clock"),
        (ClockFacts(NOW, synchronised=False, battery_off_s=-NOW), "unsure", None),  # one whose cell is empty
        (ClockFacts(0.0, synchronised=False), "wrong", None),
        (ClockFacts(0.0), "wrong", None),
        (ClockFacts(0.0, synchronised=False, battery_off_s=0.2), "wrong", None),
        (ClockFacts(NOW + AHEAD_S + 1, NOW, synchronised=False), "wrong", None),
        (ClockFacts(NOW + AHEAD_S - 1, NOW, synchronised=False), "unsure", None),
        (ClockFacts(NOW + YEARS_S, NOW, synchronised=False), "wrong", None),
        (ClockFacts(NOW + YEARS_S, NOW), "right", None),  # where nobody tells, a long rest is the likelier reason
        (ClockFacts(NOW + 400 * DAY_S, NOW, synchronised=False, battery_off_s=1.0), "right", "battery clock"),
        (ClockFacts(NOW + BATTERY_AHEAD_S + 1, NOW, battery_off_s=1.0), "wrong", None),
        (ClockFacts(NOW, synchronised=False, set_by_hand=True), "right", "hand"),
        (ClockFacts(0.0, synchronised=False, set_by_hand=True), "wrong", None),
    ],
)
def test_states(facts: ClockFacts, state: str, kept_by: str | None) -> None:
    found = judge(facts)
    assert (found.state, found.kept_by, found.from_utc) == (state, kept_by, None)
    assert (found.why is None) == (state == "right")


@pytest.mark.parametrize("synchronised", [None, False])
@pytest.mark.parametrize("back_s", [AGREE_S + 1, 3600.0, NOW])
@pytest.mark.parametrize("battery_off_s", [None, 0.0])
def test_time_does_not_go_back(synchronised: bool | None, back_s: float, battery_off_s: float | None) -> None:
    found = judge(ClockFacts(NOW - back_s, NOW, synchronised, battery_off_s))
    assert (found.state, found.from_utc) == ("unsure", NOW)


def test_windows_wait_for_as_long_as_the_page_says() -> None:
    page = (Path(__file__).parents[2] / "docs/time.md").read_text("utf-8")
    assert f"planned windows wait, until {PATIENCE_S / 60:g} minutes after the machine's start" in page
