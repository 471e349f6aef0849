"""Nothing is deleted that is not in as many other places as the rule says, whatever happens in whatever order.

The rule itself is the project's own (common practice, no source: 'two copies elsewhere before the card is formatted').
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from controller.decide.retention import (
    CARD_KEEPS,
    DAY_S,
    FRESH_S,
    RIG,
    Held,
    ReadBack,
    Rule,
    card_may_go,
    needed_for_rig,
    rig_may_go,
)

TAKEN = 1_796_140_800.0
BOTH = Rule(keep_days=30, free_card=True)
HELD = Held(TAKEN, fetched=True, on_rig=True, on_card=True, newer_on_card=CARD_KEEPS)


def back(place: str, whole: bool = True, elsewhere: bool = True, at_mono: float = 0.0) -> ReadBack:
    return ReadBack(place, whole, elsewhere, at_mono)


OWN = back(RIG, elsewhere=False)


def rig(rule: Rule, held: Held, *read: ReadBack, days: float = 31.0, mono: float = 1.0, right: bool = True) -> bool:
    return rig_may_go(rule, held, read, now_utc=TAKEN + days * DAY_S, now_mono=mono, clock_right=right)


def card(rule: Rule, held: Held, *read: ReadBack, mono: float = 1.0) -> bool:
    return card_may_go(rule, held, read, now_mono=mono)


def test_by_default_everything_stays() -> None:
    assert not rig(Rule(), HELD, back("a"), back("b"), back("c"), days=36_500)
    assert not card(Rule(), HELD, OWN, back("a"), back("b"), back("c"))


def test_the_rigs_files_go_after_their_days_once_they_are_elsewhere() -> None:
    rule = Rule(keep_days=30)
    assert rig(rule, HELD, OWN, back("a"))
    assert not rig(rule, HELD, OWN, back("a"), days=29.9)
    assert not rig(rule, HELD, OWN)
    assert not rig(rule, HELD, OWN, back("a", whole=False))
    assert not rig(rule, HELD, OWN, back("a", elsewhere=False))
    assert not rig(rule, HELD, OWN, back("a"), right=False)
    assert not rig(rule, replace(HELD, fetched=False), OWN, back("a"))


@pytest.mark.parametrize(("rule", "held"), [(BOTH, HELD), (Rule(keep_days=30), replace(HELD, on_card=False))])
def test_they_need_two_where_the_card_may_be_freed_or_is(rule: Rule, held: Held) -> None:
    assert needed_for_rig(rule, held) == 2
    assert not rig(rule, held, OWN, back("a"))
    assert not rig(rule, held, OWN, back("a"), back("a"))
    assert rig(rule, held, OWN, back("a"), back("b"))


def test_the_card_is_freed_of_what_is_in_two_places() -> None:
    assert card(BOTH, HELD, OWN, back("a"))
    assert card(BOTH, HELD, back("a"), back("b"))
    assert not card(BOTH, HELD, back("a"))
    assert not card(BOTH, HELD, OWN, OWN)
    assert not card(BOTH, replace(HELD, on_rig=False), OWN, back("a"))
    assert not card(BOTH, HELD, OWN, back("a", elsewhere=False))


def test_the_newest_frames_stay_on_the_card() -> None:
    assert not card(BOTH, replace(HELD, newer_on_card=CARD_KEEPS - 1), OWN, back("a"))


def test_what_was_read_back_long_ago_proves_nothing() -> None:
    assert rig(Rule(keep_days=30), HELD, back("a"), mono=FRESH_S)
    assert not rig(Rule(keep_days=30), HELD, back("a"), mono=FRESH_S + 0.1)
    assert not rig(Rule(keep_days=30), HELD, back("a", at_mono=5.0), mono=4.0)
    assert not card(BOTH, HELD, OWN, back("a"), mono=FRESH_S + 0.1)


places = st.sampled_from(["a", "b", "c", RIG])
reads = st.lists(
    st.builds(ReadBack, places, st.booleans(), st.booleans(), st.floats(-2 * FRESH_S, 2 * FRESH_S)), max_size=8
)
rules = st.builds(Rule, st.none() | st.floats(1, 3650), st.booleans())
helds = st.builds(Held, st.just(TAKEN), st.booleans(), st.booleans(), st.booleans(), st.integers(0, 3 * CARD_KEEPS))


@given(rules, helds, reads, st.floats(0, 4000), st.booleans())
@settings(max_examples=2000)
def test_whatever_may_go_is_in_so_many_other_places_now(
    a_rule: Rule, held: Held, read: list[ReadBack], days: float, right: bool
) -> None:
    """Counted here in another way than there: place by place, by their names."""

    def proven(name: str) -> bool:
        return any(
            each.whole and (each.elsewhere or name == RIG) and -FRESH_S <= each.at_mono <= 0
            for each in read
            if each.place == name
        )

    elsewhere = sum(proven(name) for name in ("a", "b", "c"))
    if rig(a_rule, held, *read, days=days, mono=0.0, right=right):
        assert a_rule.keep_days is not None
        assert days >= a_rule.keep_days > 0
        assert right
        assert held.fetched
        assert elsewhere >= (2 if a_rule.free_card or not held.on_card else 1)
    if card(a_rule, held, *read, mono=0.0):
        assert a_rule.free_card
        assert held.fetched
        assert elsewhere + (held.on_rig and proven(RIG)) >= 2


@dataclass
class Truth:
    """Where one frame's file really is, whole."""

    rig: bool = True
    card: bool = True
    far: dict[str, bool] = field(default_factory=lambda: {"a": False, "b": False})


class Winter(RuleBasedStateMachine):
    """One frame through a winter: copies are made, rot and get lost; the rules are asked, and what they allow is done.

    Before each deletion the places are read, as the engine does; nothing rots between reading and deleting, which no
    rule could know.
    """

    @initialize(a_rule=rules)
    def begin(self, a_rule: Rule) -> None:
        self.rule, self.truth, self.days = a_rule, Truth(), 0.0
        self.freed = {"rig": False, "card": False}

    def _held(self) -> Held:
        return replace(HELD, on_rig=not self.freed["rig"], on_card=not self.freed["card"])

    def _read(self) -> list[ReadBack]:
        found = [ReadBack(name, whole, True, 0.0) for name, whole in self.truth.far.items()]
        return [*found, ReadBack(RIG, self.truth.rig, False, 0.0)]

    @rule(days=st.floats(0, 400))
    def time_passes(self, days: float) -> None:
        self.days += days

    @rule(name=st.sampled_from(["a", "b"]))
    def a_copy_is_made(self, name: str) -> None:
        self.truth.far[name] = self.truth.far[name] or self.truth.rig

    @precondition(lambda self: not any(self.freed.values()))
    @rule(name=st.sampled_from(["a", "b"]))
    def a_copy_rots(self, name: str) -> None:
        self.truth.far[name] = False

    @precondition(lambda self: not any(self.freed.values()))
    @rule()
    def the_rigs_file_rots(self) -> None:
        self.truth.rig = False

    @rule()
    def the_rig_is_freed_where_it_may(self) -> None:
        if rig(self.rule, self._held(), *self._read(), days=self.days, mono=0.0):
            self.freed["rig"], self.truth.rig = True, False

    @rule()
    def the_card_is_freed_where_it_may(self) -> None:
        if card(self.rule, self._held(), *self._read(), mono=0.0):
            self.freed["card"], self.truth.card = True, False

    @invariant()
    def never_in_fewer_places_than_promised(self) -> None:
        if not hasattr(self, "truth"):
            return
        there = self.truth.card + self.truth.rig + sum(self.truth.far.values())
        if any(self.freed.values()):
            assert there >= 2
        if all(self.freed.values()):
            assert sum(self.truth.far.values()) == 2
        if self.freed["rig"]:
            assert self.rule.keep_days is not None
        if self.freed["card"]:
            assert self.rule.free_card


TestWinter = Winter.TestCase
TestWinter.settings = settings(max_examples=200, stateful_step_count=30, deadline=None)
