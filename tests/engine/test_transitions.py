"""The whole table, since a state that cannot be left is a dusk that cannot be saved."""

import pytest

from controller.engine.transitions import TRANSITIONS, require
from controller.words.documents import ENDED, ShootState
from controller.words.errors import Conflict


def test_every_state_has_its_row():
    assert set(TRANSITIONS) == set(ShootState)


def test_ended_shoots_go_nowhere():
    assert all(not TRANSITIONS[state] for state in ENDED)


@pytest.mark.parametrize("state", [s for s in ShootState if s not in ENDED])
def test_whatever_runs_can_be_stopped_can_fail_and_can_end(state):
    assert TRANSITIONS[state] >= ENDED


@pytest.mark.parametrize("state", [s for s in ShootState if s not in ENDED])
def test_shooting_can_be_reached_from_every_state_that_has_not_ended(state):
    reached, edge = {state}, {state}
    while edge:
        edge = {to for s in edge for to in TRANSITIONS[s]} - reached
        reached |= edge
    assert ShootState.SHOOTING in reached


@pytest.mark.parametrize("now", list(ShootState))
@pytest.mark.parametrize("to", list(ShootState))
def test_require_follows_the_table(now, to):
    if to is now or to in TRANSITIONS[now]:
        require("x", now, to)
    else:
        with pytest.raises(Conflict) as caught:
            require("x", now, to)
        assert caught.value.code == "wrong-state"
        assert caught.value.remedy
