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


@pytest.mark.parametrize(
    ("facts", "wanted", "words"),
    [
        ({"free_frames": 12_399}, None, "The card has room for 12,399 frames"),
        ({"free_bytes": 12_700_000_000}, None, "The card has room for 12.7 GB"),
        (
            {"free_frames": 399, "free_bytes": 10**10},
            {},
            "The card has room for 399 frames, 10.0 GB, the plan takes 400",
        ),
        ({"free_frames": 99}, None, "The card has room for 99 frames only"),
        ({"free_bytes": 10**10}, {}, "The card has 10.0 GB free, the plan takes 12.0 GB: 400 frames of 30 MB"),
    ],
)
def test_it_tells_the_room_that_the_body_counts(facts, wanted, words):
    found = card_room(camera(**facts), plan(**wanted) if wanted is not None else None)
    assert found.what == words
