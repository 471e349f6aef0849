"""The states of a shoot and the ways between them: one table."""

from __future__ import annotations

from controller.words.documents import ShootState as S
from controller.words.errors import Conflict

TRANSITIONS: dict[S, frozenset[S]] = {
    S.WAITING: frozenset({S.CHECKING, S.HELD, S.DONE, S.STOPPED, S.FAILED}),
    S.CHECKING: frozenset({S.SHOOTING, S.RECOVERING, S.HELD, S.WAITING, S.DONE, S.STOPPED, S.FAILED}),
    S.SHOOTING: frozenset({S.HELD, S.RECOVERING, S.CHECKING, S.WAITING, S.DONE, S.STOPPED, S.FAILED}),
    S.HELD: frozenset({S.SHOOTING, S.RECOVERING, S.CHECKING, S.WAITING, S.DONE, S.STOPPED, S.FAILED}),
    S.RECOVERING: frozenset({S.SHOOTING, S.CHECKING, S.HELD, S.WAITING, S.DONE, S.STOPPED, S.FAILED}),
    S.DONE: frozenset(),
    S.STOPPED: frozenset(),
    S.FAILED: frozenset(),
}


def require(shoot: str, now: S, to: S) -> None:
    """Conflict unless a shoot may go from `now` to `to`; staying is always allowed."""
    if to is not now and to not in TRANSITIONS[now]:
        raise Conflict(
            "wrong-state",
            f"a shoot that is {now} cannot become {to}",
            where=f"shoot {shoot}",
            remedy="Look at the shoot's state first; start the plan again for a new shoot",
        )
