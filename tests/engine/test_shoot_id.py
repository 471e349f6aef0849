"""What a shoot is called."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from controller.engine.starting import shoot_id

MIDNIGHT_UTC = 1_796_083_200.0  # 2026-12-01T00:00:00Z


@pytest.mark.parametrize(
    ("zone", "day"),
    [
        ("America/Los_Angeles", "2026-11-30"),  # it is four in the afternoon there, and the evening of the 30th
        ("UTC", "2026-12-01"),
        ("Pacific/Auckland", "2026-12-01"),
    ],
)
def test_a_shoot_begins_with_the_day_of_its_place(zone: str, day: str) -> None:
    assert shoot_id("Quay at dusk!", MIDNIGHT_UTC, ZoneInfo(zone), ()) == f"{day}-quay-at-dusk"


def test_each_shoot_has_its_own_name() -> None:
    taken = ("2026-12-01-quay", "2026-12-01-quay-2")
    assert shoot_id("quay", MIDNIGHT_UTC, ZoneInfo("UTC"), taken) == "2026-12-01-quay-3"
    assert shoot_id("…", MIDNIGHT_UTC, ZoneInfo("UTC"), ()) == "2026-12-01-shoot"
