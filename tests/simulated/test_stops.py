"""The dials: true powers of two behind the labels (common practice, no source)."""

import itertools
import math

import pytest

from controller.simulated.stops import APERTURE, ISO, SHUTTER_S


def test_every_setting_is_a_third_of_a_stop_from_its_neighbour() -> None:
    for values, full in ((list(ISO.values()), 1.0), (list(APERTURE.values()), 0.5)):
        for a, b in itertools.pairwise(values):
            assert math.log2(b / a) == pytest.approx(full / 3)
    shutters = sorted(SHUTTER_S.values())
    assert (shutters[0], shutters[-1]) == (1 / 8192, 32)
    steps = [math.log2(b / a) * 3 for a, b in itertools.pairwise(shutters)]
    assert all(s == pytest.approx(round(s)) for s in steps)
    # Only 1/6400 and 1/4000 cannot be told from their neighbours in PTP's unit of 0.1 ms.
    assert sorted(round(s) for s in steps) == [1] * (len(steps) - 2) + [2, 2]


@pytest.mark.parametrize(
    ("label_s", "true_s"), [(30, 32), (15, 16), (1 / 60, 1 / 64), (1 / 125, 1 / 128), (1 / 1000, 1 / 1024), (1, 1)]
)
def test_labels_mean_powers_of_two(label_s: float, true_s: float) -> None:
    assert SHUTTER_S[round(label_s * 10_000)] == pytest.approx(true_s)


def test_labels_are_within_0_14_ev_of_the_truth() -> None:
    for code, aperture in APERTURE.items():
        assert abs(2 * math.log2(code / 100 / aperture)) < 0.14
    for label, iso in ISO.items():
        assert abs(math.log2(label / iso)) < 0.14
    for code, seconds in SHUTTER_S.items():
        if code >= 100:  # below, PTP's unit rounds more than the label
            assert abs(math.log2(code * 1e-4 / seconds)) < 0.14
