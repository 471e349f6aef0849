"""Where a change made while shooting begins to be refused: at the bounds that the refusal itself names."""

from __future__ import annotations

import pytest

from controller.decide.pace import PaceChange
from controller.decide.plan import Plan
from controller.decide.step import Adjust, check_adjust
from controller.words.errors import BadInput
from tests.decide import changed, example

QUAY = example("quay_at_dusk")
PULSES = changed(QUAY, pace={"kind": "pulse", "min_interval_s": 5.0})
SHORTEST_S = 1 / 2048 + 1.0  # the shortest exposure, the true time behind 1/2000, and the plan's gap


def pace(to_s: float = 9.0, over_s: float = 60.0) -> Adjust:
    return Adjust(pace=PaceChange(5.0, to_s, 0.0, over_s))


def where(plan: Plan, adjust: Adjust) -> str | None:
    """What is refused of it."""
    try:
        check_adjust(plan, adjust)
    except BadInput as refusal:
        return refusal.where
    return None


@pytest.mark.parametrize(
    ("taken", "refused", "what"),
    [
        (Adjust(bias_ev=10.0), Adjust(bias_ev=10.01), "bias_ev"),
        (Adjust(bias_ev=-10.0), Adjust(bias_ev=-10.01), "bias_ev"),
        (Adjust(iso=(400.0, 400.0)), Adjust(iso=(401.0, 400.0)), "iso"),
        (pace(to_s=86_400.0), pace(to_s=86_401.0), "to_s"),
        (pace(to_s=SHORTEST_S), pace(to_s=SHORTEST_S - 1e-6), "to_s"),
        (pace(over_s=86_400.0), pace(over_s=86_401.0), "over_s"),
        (pace(over_s=0.0), pace(over_s=-0.001), "over_s"),
        (
            Adjust(shutter_s=(4.0, 18.0)),
            Adjust(shutter_s=(4.1, 18.0)),
            "shutter_s",
        ),  # 5 s, the shortest interval, less 1 s
    ],
)
def test_the_bound_itself_is_taken_and_what_is_beyond_is_not(taken: Adjust, refused: Adjust, what: str) -> None:
    assert (where(QUAY, taken), where(QUAY, refused)) == (None, what)


def test_who_gives_pulses_gives_the_pace() -> None:
    with pytest.raises(BadInput, match="the pulses give the pace") as refusal:
        check_adjust(PULSES, pace())
    assert refusal.value.where == "to_s"
    assert where(PULSES, Adjust(bias_ev=1.0)) is None
