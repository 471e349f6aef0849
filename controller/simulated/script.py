"""The little language in which faults are planned: what happens at each release, in order.

    ok*3 mute(60) ok drop corrupt+twice refuse(device_busy)*2 again

A step is one release. Words joined by `+` happen at the same release, `*n` repeats a step, `again` at the end starts
over; without it every later release is ok.

At the release, before the shutter opens:
  ok              nothing
  refuse(code)    the release is refused with a PTP response: a name such as device_busy, or hexadecimal such as 2019
  deaf(s)         the release is not heard; no answer to anything for s seconds
  full, free      the card becomes full, or has room again
  battery(p)      the battery is at p percent
Once it is open:
  mute(s)         the frame is taken; no answer to this or anything else for s seconds
  late(s)         the frame is taken; the answer comes after s seconds
  cut             the frame is taken; the connection is cut in place of an answer
  drop            the frame is taken and answered; then the connection is cut
  gone(s)         like drop, and nobody listens for s seconds
  busy(s)         captures and settings are answered Device_Busy for s seconds afterwards
  sleep(i,w)      from now on asleep after i idle seconds; the request that wakes it is lost, waking takes w seconds
  doze(i,w)       asleep after i seconds without work, whatever is asked; the request that wakes it is answered w late
  leave(i,w)      the same, but it ends the connection, and greets whoever connects after w seconds
To the frame:
  corrupt         the JPEG's middle is noise
  truncate        the JPEG ends half way
  badthumb        the thumbnail is noise
  nothumb         there is no thumbnail
  noevent, twice  ObjectAdded is not sent, or sent twice
  unwritten       the frame is exposed and never written
  nospace         the card turns out to be full when the frame is to be written (StoreFull event)

Seconds are the wall's, whatever the scene's rate.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

#: Word -> how many numbers or codes it takes.
WORDS = {
    "ok": 0, "refuse": 1, "deaf": 1, "full": 0, "free": 0, "battery": 1, "mute": 1, "late": 1, "cut": 0, "drop": 0,
    "gone": 1, "busy": 1, "sleep": 2, "doze": 2, "leave": 2, "corrupt": 0, "truncate": 0,
    "badthumb": 0, "nothumb": 0, "noevent": 0, "twice": 0, "unwritten": 0, "nospace": 0,
}  # fmt: skip
FLAWS = frozenset({"corrupt", "truncate", "badthumb", "nothumb", "noevent", "twice", "unwritten", "nospace"})
_STEP = re.compile(r"(?P<words>[a-z]+(?:\([^()]*\))?(?:\+[a-z]+(?:\([^()]*\))?)*)(?:\*(?P<times>\d+))?")
_WORD = re.compile(r"([a-z]+)(?:\(([^()]*)\))?")


@dataclass(frozen=True)
class Fault:
    name: str
    args: tuple[str, ...] = ()

    def number(self, index: int = 0) -> float:
        return float(self.args[index])


Step = tuple[Fault, ...]


def fault(text: str) -> Fault:
    """One word with its arguments; raises ValueError that says what is wrong."""
    found = _WORD.fullmatch(text)
    if not found or found[1] not in WORDS:
        raise ValueError(f"'{text}' is no fault: use one of {' '.join(WORDS)}")
    args = tuple(a.strip() for a in found[2].split(",")) if found[2] else ()
    if len(args) != WORDS[found[1]]:
        raise ValueError(f"'{text}': {found[1]} takes {WORDS[found[1]]} value(s)")
    if found[1] != "refuse":
        for arg in args:
            if not re.fullmatch(r"\d+(\.\d+)?", arg):
                raise ValueError(f"'{text}': '{arg}' is no number")
    return Fault(found[1], args)


def parse(text: str) -> tuple[list[Step], bool]:
    """The steps of a script and whether they start over; raises ValueError that names the word."""
    tokens = text.split()
    again = bool(tokens) and tokens[-1] == "again"
    steps: list[Step] = []
    for token in tokens[: -1 if again else None]:
        found = _STEP.fullmatch(token)
        if not found:
            raise ValueError(f"'{token}' is no step: write a word such as mute(60), joined by + and repeated by *n")
        step = tuple(fault(f"{name}({args})" if args else name) for name, args in _WORD.findall(found["words"]))
        steps += [step] * int(found["times"] or 1)
    if again and not steps:
        raise ValueError("'again' has nothing to repeat")
    return steps, again


def play(text: str) -> Iterator[Step]:
    """Steps without end, one for each release; raises ValueError at once for a bad script."""
    steps, again = parse(text)

    def run() -> Iterator[Step]:
        yield from steps
        while again:
            yield from steps
        while True:
            yield ()

    return run()
