"""What waits to be sent: so many messages an hour at most, urgent ones first, and no flood after an outage.

A finding is told when it is raised and when it is cleared. What was cleared before anybody was told of it is not told;
what is raised while it is known already neither. Where several messages wait they go as one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

Kind = Literal["raised", "cleared", "digest"]

HOUR_S = 3600.0
MOST_WAITING = 100
SEVERAL = 3
"""So many that wait go as one message."""

FIRST_AGAIN_S, LAST_AGAIN_S = 30.0, 1800.0
"""Seconds until a message that could not be sent is tried again: the first, doubled each time, and the most."""


@dataclass(frozen=True, slots=True)
class Message:
    """One thing to tell. `key` names the finding; `times` counts how often it was raised before it could be sent."""

    kind: Kind
    key: str
    text: str
    utc: float
    urgent: bool = False
    times: int = 1
    picture: str | None = None  # a file beside it, relative to the rig's directory


@dataclass(frozen=True, slots=True)
class Parcel:
    """What is sent at once."""

    messages: tuple[Message, ...]
    title: str
    body: str

    @property
    def picture(self) -> str | None:
        return next((message.picture for message in self.messages if message.picture), None)


@dataclass(frozen=True, slots=True)
class Outbox:
    """`told` are findings that people were told of and that stand for all they know; times on a clock that never steps.

    `unsaid` counts what was raised and cleared before it could be told; `dropped`, what was too much.
    """

    per_hour: int = 6
    waiting: tuple[Message, ...] = ()
    told: frozenset[str] = frozenset()
    sent_mono: tuple[float, ...] = ()
    failures: int = 0
    not_before_mono: float = float("-inf")
    unsaid: int = 0
    dropped: int = 0
    on_way: tuple[Message, ...] = ()

    def put(self, message: Message) -> Outbox:
        """One more to tell, where that is news."""
        same = [m for m in self.waiting if m.key == message.key]
        match message.kind:
            case "raised":
                if waits := [m for m in same if m.kind == "raised" and m not in self.on_way]:
                    newer = replace(message, times=waits[0].times + 1, utc=waits[0].utc)
                    return replace(self, waiting=tuple(newer if m is waits[0] else m for m in self.waiting))
                if gone := [m for m in same if m.kind == "cleared" and m not in self.on_way]:
                    return replace(self, waiting=tuple(m for m in self.waiting if m not in gone))
                ending = any(m.kind == "cleared" for m in same)  # on its way
                if any(m.kind == "raised" for m in same) or (message.key in self.told and not ending):
                    return self
            case "cleared":
                unsent = [m for m in same if m.kind == "raised" and m not in self.on_way]
                if unsent:
                    kept = tuple(m for m in self.waiting if m not in unsent)
                    return replace(self, waiting=kept, unsaid=self.unsaid + 1)
                if same[-1].kind == "cleared" if same else message.key not in self.told:
                    return self
            case "digest":
                kept = tuple(m for m in self.waiting if m.kind != "digest" or m in self.on_way)
                return replace(self, waiting=(*kept, message))._bounded()
        return replace(self, waiting=(*self.waiting, message))._bounded()

    def _bounded(self) -> Outbox:
        if len(self.waiting) <= MOST_WAITING:
            return self
        away = next((m for m in self.waiting if not m.urgent and m not in self.on_way), self.waiting[0])
        return replace(self, waiting=tuple(m for m in self.waiting if m is not away), dropped=self.dropped + 1)

    def next(self, mono: float, told: Callable[[float], str]) -> Parcel | None:
        """What is to be sent now; None where nothing is. `told` says a time as people there read it.

        Of the messages of an hour some are kept back for what is urgent.
        """
        if not self.waiting or self.on_way or mono < self.not_before_mono:
            return None
        lately = sum(mono - HOUR_S < at <= mono for at in self.sent_mono)
        spare = min(2, self.per_hour // 3)
        news = sorted((m for m in self.waiting if m.kind != "digest"), key=lambda m: not m.urgent)
        if lately >= self.per_hour - (0 if news and news[0].urgent else spare):
            return None
        if len(news) >= SEVERAL:
            return _joined(news, told)
        first = news[0] if news else self.waiting[0]
        return Parcel((first,), _title(first), f"{first.text}{_often(first)}\n{told(first.utc)}")

    def sending(self, parcel: Parcel) -> Outbox:
        """It is on its way."""
        return replace(self, on_way=parcel.messages)

    def sent(self, parcel: Parcel, mono: float) -> Outbox:
        """Somebody has it."""
        told = set(self.told)
        for message in sorted(parcel.messages, key=lambda m: m.utc):
            if message.kind == "raised":
                told.add(message.key)
            elif message.kind == "cleared":
                told.discard(message.key)
        return replace(
            self,
            waiting=tuple(m for m in self.waiting if m not in parcel.messages),
            told=frozenset(told),
            sent_mono=(*(at for at in self.sent_mono if mono - HOUR_S < at <= mono), mono),
            failures=0,
            not_before_mono=float("-inf"),
            on_way=(),
        )

    def failed(self, mono: float) -> Outbox:
        """Nobody has it; what was cleared meanwhile need not be told any more."""
        again_s = min(FIRST_AGAIN_S * 2 ** min(self.failures, 20), LAST_AGAIN_S)
        raised = {m.key for m in self.waiting if m.kind == "raised"}
        over = {m.key for m in self.waiting if m.kind == "cleared"} & raised
        return replace(
            self,
            waiting=tuple(m for m in self.waiting if m.key not in over),
            unsaid=self.unsaid + len(over),
            failures=self.failures + 1,
            not_before_mono=mono + again_s,
            on_way=(),
        )


def _title(message: Message) -> str:
    match message.kind:
        case "digest":
            return "the day"
        case "cleared":
            return f"over: {message.key}"
        case _:
            return f"{'now: ' if message.urgent else ''}{message.key}"


def _often(message: Message) -> str:
    return f" ({message.times} times)" if message.times > 1 else ""


def _joined(news: list[Message], told: Callable[[float], str]) -> Parcel:
    urgent = sum(m.urgent and m.kind == "raised" for m in news)
    lines = [f"{told(m.utc)}: {'over: ' if m.kind == 'cleared' else ''}{m.text}{_often(m)}" for m in news]
    title = f"{len(news)} messages" + (f", {urgent} urgent" if urgent else "")
    return Parcel(tuple(news), title, "\n".join(lines))
