"""How far limits reach, and when an interval keeps the shutter from using them: by hand."""

from __future__ import annotations

import pytest

from controller.decide.exposure import triple
from controller.decide.plan import Plan
from controller.decide.reach import Reach, reach_of
from controller.decide.step import Adjust
from tests.decide import changed, example

LIMITS = {"shutter_s": [0.001, 15.0], "aperture": [2.8, 8.0], "iso": [100, 3200]}
F8, F4, F28 = 8.0, 4.0, 2.0**1.5  # true f-numbers


def plan(*order: str, **light: object) -> Plan:
    return changed(example("quay_at_dusk"), light={**LIMITS, "order": list(order), **light})


def reach(*order: str, **light: object) -> Reach:
    return reach_of(plan(*order, **light), Adjust(), None)


def test_both_ends_of_the_limits():
    """15 s on a dial are 16 s, a thousandth 1/1024 s."""
    found = reach("shutter", "iso", "aperture")
    assert (found.darkest.shutter_s, found.darkest.aperture, found.darkest.iso) == pytest.approx((16.0, F28, 3200))
    assert (found.brightest.shutter_s, found.brightest.aperture, found.brightest.iso) == pytest.approx(
        (1 / 1024, F8, 100)
    )


@pytest.mark.parametrize(("offsets", "seconds"), [(None, 17.0), ([0, 1], 34.0), ([-1, 0, 1], 51.0), ([-6, 0], 26.0)])
def test_an_interval_that_holds_the_longest_exposures(offsets: list[float] | None, seconds: float):
    """Each with a gap of 1 s. Of six stops less five are ISO's, and one the shutter's: 8 s."""
    light = {"aperture": [2.8, 2.8], **({} if offsets is None else {"bracket_ev": offsets})}
    assert reach("shutter", "iso", **light).holds_s == pytest.approx(seconds)


@pytest.mark.parametrize(
    ("shutter_s", "exposed_s", "room_s", "is_outgrown"),
    [
        (8.0, 8.0, 9.0, True),  # the next third, 10.1 s, has no room
        (8.0, 8.0, 10.2, False),
        (16.0, 16.0, 17.0, False),  # it is at its longest
        (4.0, 12.0, 14.0, True),  # three of them
        (4.0, 12.0, 15.2, False),
    ],
)
def test_a_shutter_that_its_interval_holds(shutter_s: float, exposed_s: float, room_s: float, is_outgrown: bool):
    found = reach("shutter", "iso", "aperture")
    assert found.outgrown(triple(shutter_s, F8, 100.0), exposed_s, room_s) is is_outgrown


@pytest.mark.parametrize(
    ("order", "used", "gives"),
    [
        (("shutter", "iso", "aperture"), (F8, 100.0), False),
        (("shutter", "iso", "aperture"), (F8, 125.0), True),
        (("shutter", "iso", "aperture"), (F4, 100.0), True),
        (("aperture", "shutter", "iso"), (F4, 100.0), False),  # it had its turn
        (("aperture", "shutter", "iso"), (F28, 200.0), True),
        (("iso", "shutter", "aperture"), (F8, 3200.0), False),
        (("iso", "shutter", "aperture"), (F4, 3200.0), True),
    ],
)
def test_what_gives_way_before_its_turn(order: tuple[str, ...], used: tuple[float, float], gives: bool):
    """What stands behind the shutter in the order, and is beyond what the brightest scene has."""
    assert reach(*order).gives_way(triple(8.0, *used)) is gives


def test_what_is_said_of_it():
    found = reach("shutter", "aperture", "iso")
    told = found.held((5.0, 4.0), (20.0, 13.0))
    assert told.startswith(
        "the interval holds the shutter, at 4 s of 5 s first and 13 s of 20 s at the end; 15 s are allowed"
    )
    assert told.endswith("and the aperture opens early")
    assert reach("shutter", "iso", "aperture").held((5.0, 4.0), (20.0, 13.0)).endswith("and ISO rises early")
    assert (
        reach("shutter", "aperture", "iso", aperture=[4.0, 4.0])
        .held((5.0, 4.0), (5.0, 4.0))
        .endswith("ISO rises early")
    )
