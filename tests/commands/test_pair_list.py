"""Who was let in, for people."""

from __future__ import annotations

from controller.commands.pair import _listed


def test_times_say_that_they_are_utc() -> None:
    """The command knows no place: a list of devices is of no shoot."""
    phone = {
        "id": 3,
        "rights": "view",
        "created_utc": "2026-12-01T15:04:05.000Z",
        "seen_utc": None,
        "name": "spare phone",
    }
    head, never, once = _listed([phone, phone | {"seen_utc": "2026-12-01T16:00:00.000Z"}]).splitlines()
    assert never.split() == ["3", "view", "2026-12-01", "15:04Z", "spare", "phone"]
    assert once.split()[4:6] == ["2026-12-01", "16:00Z"]
    assert len({head.index("NAME"), never.index("spare"), once.index("spare")}) == 1, "columns stand"
    assert _listed([]) == "Nobody was let in yet."
