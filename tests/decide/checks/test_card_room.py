"""Check card_room. Where it draws lines that is common practice, no source."""

from __future__ import annotations

import pytest

from controller.decide.checks.card_room import card_room
from tests.decide.checks import camera, plan


@pytest.mark.parametrize(
    ("facts", "wanted", "level"),
    [
        ({}, None, "warn"),
        ({"free_frames": 0}, None, "fail"),
        ({"free_bytes": 0}, {}, "fail"),
        ({"free_frames": 99}, None, "warn"),
        ({"free_frames": 100}, None, "pass"),
        ({"free_frames": 399}, {}, "fail"),
        ({"free_frames": 400}, {}, "pass"),
        ({"free_frames": 9999}, {"frames": 20000}, "pass"),
        ({"free_bytes": 11_900_000_000}, {}, "fail"),
        ({"free_bytes": 12_100_000_000}, {}, "warn"),
        ({"free_bytes": 12_700_000_000}, {}, "pass"),
        ({"free_bytes": 11_900_000_000}, {"frame_bytes_assumed": True}, "warn"),
        ({"free_bytes": 10**12}, {"frames": None, "card_bytes": None}, "warn"),
    ],
)
def test_levels(facts, wanted, level):
    found = card_room(camera(**facts), plan(**wanted) if wanted is not None else None)
    assert (None if found is None else found.level) == level
    assert found is None or (found.remedy is None) == (level == "pass")
