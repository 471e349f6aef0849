"""Raised and cleared: by two lines, and only after their time."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from controller.decide.health.facts import Sign
from controller.decide.health.watch import Watch


def sign(says: str, **facts: object) -> Sign:
    return Sign(**{"check": "battery", "says": says, "what": f"it says {says}", "remedy": "Charge it", **facts})


def test_a_finding_lives_between_its_lines():
    watch, seen = Watch(), []
    for mono, says in enumerate(["clear", "raise", "stay", "stay", "clear", "stay", "clear", "raise"]):
        watch, changes = watch.look([sign(says)], mono, 1000.0 + mono)
        seen += [(mono, change.over is None, change.finding.since_utc) for change in changes]
    assert seen == [(1, True, 1001.0), (4, False, 1001.0), (7, True, 1007.0)]


def test_what_stands_is_told_in_its_newest_words():
    watch, _ = Watch().look([sign("raise", what="at 14 %")], 0.0, 5.0)
    watch, changes = watch.look([sign("raise", what="at 9 %", urgent=True)], 1.0, 6.0)
    (found,) = watch.raised.values()
    assert (changes, found.what, found.urgent, found.since_utc) == ([], "at 9 %", True, 5.0)


def test_a_check_that_cannot_tell_changes_nothing():
    watch, _ = Watch().look([sign("raise")], 0.0, 0.0)
    later, changes = watch.look([], 10.0, 10.0)
    assert (later.raised, changes) == (watch.raised, [])


def test_cameras_do_not_mix():
    both = [sign("raise", camera="camera-1"), sign("clear", camera="camera-2")]
    watch, _ = Watch().look(both, 0.0, 0.0)
    assert list(watch.raised) == [("battery", "camera-1")]


LOOKS = st.lists(
    st.lists(st.sampled_from(["raise", "stay", "clear", None]), min_size=3, max_size=3), min_size=1, max_size=12
)


@given(LOOKS, st.permutations(range(3)))
def test_what_becomes_of_one_hangs_on_no_other(looks: list[list[str | None]], order: list[int]):
    """Nor on which is told first: three findings together, and each alone."""

    def watched(which: list[int]) -> tuple[Watch, list[tuple[str | None, bool]]]:
        watch, seen = Watch(), []
        for mono, said in enumerate(looks):
            signs = [sign(said[n], camera=str(n), raise_s=1.0) for n in which if said[n] is not None]
            watch, changes = watch.look(signs, mono, 1000.0 + mono)
            seen += [(change.finding.camera, change.over is None) for change in changes]
        return watch, seen

    together, seen = watched(order)
    for n in range(3):
        alone, of_one = watched([n])
        assert {key: found for key, found in together.raised.items() if key[1] == str(n)} == alone.raised
        assert [change for change in seen if change[0] == str(n)] == of_one


@given(
    st.lists(st.tuples(st.sampled_from(["raise", "stay", "clear", None]), st.integers(1, 50)), max_size=60),
    st.sampled_from([0.0, 30.0, 120.0]),
    st.sampled_from([0.0, 60.0]),
)
def test_any_story(story: list[tuple[str | None, int]], raise_s: float, clear_s: float):
    """Whatever the checks say: changes alternate, and none comes before its sign has stood for its time."""
    watch, mono, changed = Watch(), 0.0, []
    said: list[tuple[float, str]] = []
    for says, after_s in story:
        mono += after_s
        given = [] if says is None else [sign(says, raise_s=raise_s, clear_s=clear_s)]
        said += [(mono, says)] if says is not None else []
        watch, changes = watch.look(given, mono, mono)
        for change in changes:
            wanted, needs_s = ("raise", raise_s) if change.over is None else ("clear", clear_s)
            run = [at for at, word in said]
            for at, word in reversed(said):
                if word != wanted:
                    run = [later for later, _ in said if later > at]
                    break
            assert mono - run[0] >= needs_s
            changed.append(change.over is None)
    assert all(a != b for a, b in pairwise(changed))
    assert bool(watch.raised) == bool(changed and changed[-1])
