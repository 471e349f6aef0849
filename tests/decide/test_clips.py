"""When films may be made. The lines are common practice, no source."""

from __future__ import annotations

from controller.decide.clips import (
    AGAIN_S,
    LONGEST_AGAIN_S,
    TRIES,
    again_in_s,
    grown,
    room_wanted,
    too_little_room,
    too_quick,
)

RESERVE = 200e6


def test_room_for_the_film_beside_what_fetching_needs() -> None:
    wanted = room_wanted(200, False, RESERVE)
    assert wanted == 1.5 * RESERVE + 200 * 250_000
    assert too_little_room(int(wanted), wanted) is None
    said = too_little_room(int(wanted) - 1, wanted)
    assert said is not None
    assert "350 MB are wanted" in said
    assert "Free some space" in said
    assert room_wanted(200, True, RESERVE) < wanted


def test_shooting_comes_first() -> None:
    assert too_quick(None) is None
    assert too_quick(2.0) is None
    assert "a frame is taken every 1.9 s" in (too_quick(1.9) or "")


def test_a_small_film_is_made_anew_as_it_grows_and_rests_from_it() -> None:
    assert grown(12, 0, 1e9, 0.0)
    assert not grown(11, 0, 1e9, 0.0)
    assert not grown(1049, 1000, 1e9, 0.0)
    assert grown(1050, 1000, 1e9, 0.0)
    assert not grown(1050, 1000, 399.0, 20.0)  # it took 20 s
    assert grown(1050, 1000, 400.0, 20.0)
    assert not grown(50, 0, 29.0, 0.1)
    hours, made_s, shown, count = 9, 0.0, 0, 0
    for second in range(0, hours * 3600, 5):  # a night at 5 s, on a machine that takes 40 ms a frame
        frames = second // 5
        if grown(frames, shown, second - made_s, 0.04 * min(shown, 750)):
            made_s, shown, count = second, frames, count + 1
    assert 20 < count < 70
    assert count * 0.04 * 750 < 0.07 * hours * 3600


def test_what_fails_is_tried_less_and_less_often_and_not_for_ever() -> None:
    waits = [again_in_s(tries) for tries in range(1, TRIES + 1)]
    assert waits[-1] is None
    known = [wait for wait in waits if wait is not None]
    assert known[0] == AGAIN_S
    assert known == sorted(known)
    assert max(known) <= LONGEST_AGAIN_S
    assert sum(known) > 2 * 3600  # long enough for somebody to have freed some space
