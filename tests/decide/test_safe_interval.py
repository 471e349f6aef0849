"""The shortest interval that is safe with a body. The reserve of a fifth is common practice, no source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.decide.safe_interval import needs_of
from tests.support.bodies import beat, body, timings


def test_what_is_known_least_of_goes_last():
    held, written, other = beat(1.5), timings(2.0), beat(1.2, files="JPG")
    assert needs_of(body()) is None
    assert needs_of(body(timings(2.0, count=9))) is None
    assert needs_of(body(timings(2.0, count=10))) is not None
    assert needs_of(body(beat(None))) is None
    assert needs_of(body(other)) is None  # with other files than it writes now
    for seen in (body(written, held), body(held), body(other, held)):
        found = needs_of(seen)
        assert found is not None
        assert (found.step_s, found.gap_s) == (1.5, 1.5 - 1 / 64)
    for seen in (body(written, beat(None)), body(written, other)):
        found = needs_of(seen)
        assert found is not None
        assert (found.step_s, found.gap_s) == (0.0, 2.0)
    shot_never = needs_of(body(other, files=None))
    assert shot_never is not None
    assert shot_never.step_s == 1.2


def test_figures_on_paper():
    """1.0 s to write and 0.1 s to set, a fifth in reserve; then 2 s held with 1/64 s."""
    found = needs_of(body(timings(1.0, set_s=0.1)))
    assert found is not None
    assert found.interval_s(8.0) == pytest.approx(9.1)
    assert found.safe_interval_s(8.0) == pytest.approx(8.0 + 1.32)
    held = needs_of(body(beat(2.0)))
    assert held is not None
    assert held.safe_interval_s(1 / 64) == pytest.approx(2.4)
    assert held.safe_interval_s(1 / 1024) == pytest.approx(2.4)  # it may need its 2 s however short the exposure
    assert held.safe_interval_s(8.0) == pytest.approx(8.0 + 1.2 * (2.0 - 1 / 64))


@given(
    readout_s=st.floats(0.01, 3),
    write_s=st.floats(0.01, 10),
    beat_exposure_s=st.floats(0.001, 30),
    exposure_s=st.floats(0.001, 30),
    spare_s=st.floats(0, 1),
)
def test_a_beat_with_one_exposure_holds_for_every_other(
    readout_s: float, write_s: float, beat_exposure_s: float, exposure_s: float, spare_s: float
):
    """With a body that reads out, then writes behind a buffer: it holds max(exposure + readout, write), on paper."""

    def holds_s(exposure: float) -> float:
        return max(exposure + readout_s, write_s)

    found = needs_of(body(beat(holds_s(beat_exposure_s) + spare_s, beat_exposure_s)))
    assert found is not None
    assert found.interval_s(exposure_s) >= holds_s(exposure_s) - 1e-9
    assert found.safe_interval_s(exposure_s) > found.interval_s(exposure_s)
