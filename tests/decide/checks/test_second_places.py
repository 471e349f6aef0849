"""Check second places."""

from __future__ import annotations

import pytest

from controller.decide.checks.second_places import second_places
from controller.words.documents import PlaceNow
from tests.decide.checks import plan, rig

WELL = PlaceNow(name="shed", waiting=0)
AWAY = PlaceNow(name="office", waiting=12, trouble="192.0.2.7 does not answer", remedy="It is tried again by itself")


@pytest.mark.parametrize(
    ("facts", "wanted", "level"),
    [
        ({}, {}, None),
        ({}, {"frees": True}, "warn"),
        ({"places": (WELL,)}, {"frees": True}, "pass"),
        ({"places": (WELL,)}, None, "pass"),
        ({"places": (WELL, AWAY)}, {}, "warn"),
        ({"places_trouble": "places.toml: others may read it. chmod 600 places.toml"}, {}, "warn"),
    ],
)
def test_levels(facts, wanted, level):
    found = second_places(rig(**facts), plan(**wanted) if wanted is not None else None)
    assert (None if found is None else found.level) == level
    assert found is None or (found.remedy is None) == (level == "pass")


def test_what_waits_is_counted_and_the_remedy_is_the_places_own():
    found = second_places(rig(places=(WELL, AWAY)), None)
    assert found is not None
    assert found.what == "office: 192.0.2.7 does not answer, 12 frames wait"
    assert found.remedy == AWAY.remedy
