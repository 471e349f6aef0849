"""Which slot a file on the card belongs to, where only its time tells: held against every way there is."""

from __future__ import annotations

from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from controller.camera.messages import CardFile
from controller.engine.passed import NEAR_S, nearest
from controller.engine.reconcile import Shot
from controller.words.documents import Frame, FrameState

SHUTTER_S = 0.25


def slots(ends: list[float]) -> list[Frame]:
    return [
        Frame(shoot="s", seq=seq, camera="c", due_utc=end - SHUTTER_S, interval_s=2.0, shutter_s=SHUTTER_S,
              state=FrameState.MISSED)
        for seq, end in enumerate(ends, 1)
    ]  # fmt: skip


def shot(number: int, utc: float | None) -> Shot:
    return Shot((CardFile(f"/DCIM/100DUSKH/DUSK{number:04d}.JPG", 1000, utc),))


def given_to(ends: list[float], times: list[float], offset_s: float | None = 0.0) -> dict[int, float | None]:
    return {
        seq: one.mtime_utc
        for seq, one in nearest(slots(ends), [shot(n, utc) for n, utc in enumerate(times)], offset_s).items()
    }


def test_slots_that_are_a_second_off_leave_no_file_without_one() -> None:
    """Each file lies a little nearer to the slot after its own; so the last would have none."""
    ends = [100.0, 102.0, 104.0, 106.0]
    assert given_to(ends, [end + 1.01 for end in ends]) == dict(enumerate((end + 1.01 for end in ends), 1))


def test_of_several_ways_it_is_the_nearest() -> None:
    assert given_to([100.0, 102.0, 104.0], [101.9]) == {2: 101.9}
    assert given_to([100.0, 102.0, 104.0], [99.9, 104.2]) == {1: 99.9, 3: 104.2}


def test_a_file_by_somebody_s_hand_is_no_slot_s() -> None:
    assert given_to([100.0, 110.0, 120.0], [100.0, 105.0, 110.5, 118.4]) == {1: 100.0, 2: 110.5}
    assert given_to([100.0], [100.0], None) == {}


MOMENTS = st.lists(st.integers(0, 60).map(lambda n: n / 4), max_size=5)


@given(MOMENTS.map(lambda values: sorted(set(values))), MOMENTS.map(sorted), st.integers(-8, 8).map(lambda n: n / 4))
def test_no_way_gives_more_or_is_nearer(ends: list[float], times: list[float], offset_s: float) -> None:
    found = given_to(ends, [at + offset_s for at in times], offset_s)
    off_s = [abs(ends[seq - 1] - (at or 0.0) + offset_s) for seq, at in found.items()]
    assert list(found) == sorted(found)
    assert list(found.values()) == sorted(found.values(), key=lambda at: at or 0.0)
    assert all(off <= NEAR_S + 1e-9 for off in off_s)
    ways = [
        (count, -sum(abs(end - at) for end, at in zip(some, others, strict=True)))
        for count in range(min(len(ends), len(times)) + 1)
        for some in combinations(ends, count)
        for others in combinations(times, count)
        if all(abs(end - at) <= NEAR_S for end, at in zip(some, others, strict=True))
    ]
    best = max(ways)
    assert len(found) == best[0]
    assert abs(sum(off_s) + best[1]) < 1e-6
