"""What is told of slots that a film does not show."""

from __future__ import annotations

from pathlib import Path

from controller.words.documents import FrameState
from tests.results.nights import row
from tests.results.test_clip import clip, fetched


def test_gaps_of_a_film_of_days_have_their_date(tmp_path: Path) -> None:
    """By the place's clock: the second day begins there at 23:00 in UTC."""
    slots = fetched(tmp_path, [1, 3, 4])
    slots.insert(1, row(2, state=FrameState.MISSED, cause="held"))
    for slot, utc in zip(slots, (0, 7 * 3600, 8 * 3600, 9 * 3600), strict=True):
        slot.due_utc += utc
    (gap,) = clip(tmp_path, slots).gaps
    assert gap.text == "1 frame missing between 2026-12-01 16:00:05 and 2026-12-02 00:00:15 (missed, held)"
