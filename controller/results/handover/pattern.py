"""How pictures are named when they are handed over: text, and words in braces that stand for facts of the frame.

    pattern = part *("/" part) [".{suffix}"]        each part but the last is a folder
    part    = 1*(text / "{" word [":0" width] "}")  the width, 1 to 9, for numbers alone: at least so many digits

The file's own ending follows by itself, so that both files of a RAW+JPEG pair have one stem.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from pathlib import PurePosixPath
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from controller.results.clip.raw import SUFFIXES
from controller.results.handover.safe import FORBIDDEN, refusal, spelt
from controller.words.documents import Frame, Shoot
from controller.words.errors import BadInput
from controller.words.layout import JPEG

SUFFIX = ".{suffix}"
DEFAULTS = ("{shoot}-{seq:06}", "{shoot}-{camera}-{seq:06}")
"""Where none is given: the first that gives each frame a name of its own."""

_ENDINGS = SUFFIXES | JPEG | {".heic", ".heif", ".hif", ".tif", ".tiff"}
_LONGEST = 200
_WORD = re.compile(r"\{([^{}]*)\}")
_INSIDE = re.compile(r"([a-z_]+)(?::0([1-9]))?")


@dataclass(frozen=True, slots=True)
class _Place:
    """What the words need to know beside the frame."""

    plan: str
    zone: tzinfo | None


def _at(frame: Frame, zone: tzinfo | None, form: str) -> str:
    return datetime.fromtimestamp(frame.at_utc, zone or UTC).strftime(form)


_DATE, _TIME = "%Y-%m-%d", "%H%M%S"  # ISO 8601; the time in its basic form, since ':' may stand in no name
_TEXTS: dict[str, Callable[[Frame, _Place], str]] = {
    "shoot": lambda frame, place: frame.shoot,
    "plan": lambda frame, place: place.plan,
    "camera": lambda frame, place: frame.camera,
    "date": lambda frame, place: _at(frame, UTC, _DATE),
    "time": lambda frame, place: _at(frame, UTC, _TIME),
    "local_date": lambda frame, place: _at(frame, place.zone, _DATE),
    "local_time": lambda frame, place: _at(frame, place.zone, _TIME),
    "camera_file": lambda frame, place: PurePosixPath(frame.camera_file or "none").stem,
}
_NUMBERS: dict[str, Callable[[Frame], int]] = {"seq": lambda frame: frame.seq}
WORDS = (*_NUMBERS, *_TEXTS)


@dataclass(frozen=True, slots=True)
class Pattern:
    """One that can be used; `text` as it was given, without the suffix."""

    text: str
    _pieces: tuple[str | tuple[str, int], ...]
    _place: _Place

    def stem(self, frame: Frame) -> str:
        """A frame's relative path without its ending. Raises BadInput where it would be no name everywhere."""
        made = "".join(piece if isinstance(piece, str) else self._word(*piece, frame) for piece in self._pieces)
        why = refusal(made)
        if why is not None:
            what = f"frame {frame.seq} of {frame.camera} would be called {made!r}: {why}"
            raise bad(what, "Put more text around the word in braces, or use another word")
        return made

    def _word(self, word: str, width: int, frame: Frame) -> str:
        if word in _NUMBERS:
            return f"{_NUMBERS[word](frame):0{width}d}"
        return spelt(_TEXTS[word](frame, self._place))


def read_pattern(text: str, shoot: Shoot) -> Pattern:
    """Raises BadInput (bad-name), which names the first thing that is wrong and where."""
    stem = text.removesuffix(SUFFIX)
    if not stem:
        raise bad("the pattern is empty", f"Write one such as {DEFAULTS[0]}")
    if len(text) > _LONGEST:
        raise bad(f"the pattern has {len(text)} characters", f"Use {_LONGEST} at most")
    if (ending := PurePosixPath(stem).suffix).lower() in _ENDINGS:
        remedy = "Leave it out: each file keeps its own ending"
        raise bad(f"{ending} would stand before the file's own ending", remedy, len(stem) - len(ending))
    pieces: list[str | tuple[str, int]] = []
    zone = _zone(shoot)
    begin = 0
    for found in _WORD.finditer(stem):
        pieces += _text(stem, begin, found.start())
        pieces.append(_word(found[1], found.start(), zone))
        begin = found.end()
    pieces += _text(stem, begin, len(stem))
    why = refusal("".join(piece if isinstance(piece, str) else "0" for piece in pieces))
    if why is not None:
        raise bad(why, f"Write one such as {DEFAULTS[0]}")
    return Pattern(stem, tuple(pieces), _Place(shoot.plan_name, zone))


def bad(what: str, remedy: str, at: int | None = None) -> BadInput:
    """`at`: the place in the pattern, from 0."""
    return BadInput("bad-name", what, "--name" if at is None else f"--name, character {at + 1}", remedy)


def _text(stem: str, begin: int, end: int) -> list[str]:
    text = stem[begin:end]
    if (brace := re.search("[{}]", text)) is not None:
        what = "a brace without the other" if brace[0] == "{" else "a closing brace without an opening one"
        raise bad(what, f"Words stand between two, such as {{seq}}. {_known()}", begin + brace.start())
    if (found := FORBIDDEN.search(text)) is not None:
        what = f"{found[0]!r} may stand in no name on FAT, exFAT or NTFS"
        raise bad(what, "Leave it out", begin + found.start())
    return [text] if text else []


def _word(inside: str, at: int, zone: tzinfo | None) -> tuple[str, int]:
    if inside == "suffix":
        raise bad("{suffix} stands at the end alone, after a dot", "Leave it out: each file keeps its own ending", at)
    word, _, width = inside.partition(":")
    if word not in WORDS:
        near = difflib.get_close_matches(word, WORDS, 1)
        raise bad(f"{{{word}}} is no word", f"Did you mean {{{near[0]}}}?" if near else _known(), at)
    read = _INSIDE.fullmatch(inside)
    if read is None:
        raise bad(f":{width} is no width", "Write :0 and the number of digits, 1 to 9, such as {seq:05}", at)
    if read[2] is not None and word not in _NUMBERS:
        raise bad(f"{{{word}}} is no number and has no width", f"Write {{{word}}}", at)
    if word.startswith("local_") and zone is None:
        remedy = f"Use {{{word.removeprefix('local_')}}}, which is UTC"
        raise bad(f"{{{word}}} needs a time zone, and the plan has none", remedy, at)
    return word, int(read[2] or 1)


def _known() -> str:
    return "There are " + " ".join(f"{{{word}}}" for word in WORDS)


def _zone(shoot: Shoot) -> tzinfo | None:
    name = shoot.plan.get("site", {}).get("timezone")
    try:
        return None if name is None else ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        return None
