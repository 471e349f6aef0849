"""From signs to findings: each is raised when its sign has stood long enough, and cleared in the same way."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from controller.decide.health.facts import Sign
from controller.words.documents import Raised

Key = tuple[str, str | None]


@dataclass(frozen=True, slots=True)
class Change:
    """A finding that was raised, or cleared: then `over` says what is so instead."""

    finding: Raised
    over: str | None = None


@dataclass(frozen=True, slots=True)
class Watch:
    """`raised` are the findings that stand; `since_mono` is when a sign began to say what is not so yet."""

    raised: dict[Key, Raised] = field(default_factory=dict)
    since_mono: dict[Key, float] = field(default_factory=dict)

    def look(self, signs: Iterable[Sign], mono: float, utc: float) -> tuple[Watch, list[Change]]:
        """Take in what the checks say at `mono`, wall seconds that never step; what became of it.

        A finding that stands is told in its newest words; it keeps the time at which it was raised.
        """
        raised, since, changes = dict(self.raised), dict(self.since_mono), []
        for sign in signs:
            key, held = sign.key, raised.get(sign.key)
            turning = sign.says == ("raise" if held is None else "clear")
            if not turning:
                since.pop(key, None)
                if held is not None:
                    raised[key] = held.model_copy(update={"what": sign.what, "urgent": sign.urgent})
                continue
            began = since.setdefault(key, mono)
            if mono - began < (sign.raise_s if held is None else sign.clear_s):
                continue
            del since[key]
            if held is None:
                raised[key] = Raised(
                    check=sign.check,
                    camera=sign.camera,
                    what=sign.what,
                    remedy=sign.remedy,
                    urgent=sign.urgent,
                    since_utc=utc,
                )
                changes.append(Change(raised[key]))
            else:
                changes.append(Change(raised.pop(key), sign.what))
        return replace(self, raised=raised, since_mono=since), changes
