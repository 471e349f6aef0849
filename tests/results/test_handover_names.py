"""Patterns of names: what they give, and what they refuse, held against Python's own idea of Windows' names."""

from __future__ import annotations

import ntpath
import posixpath
import re
import sys
from datetime import datetime
from pathlib import PureWindowsPath
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from controller.results.handover.pattern import WORDS, read_pattern
from controller.results.handover.safe import key, refusal, spelt
from controller.results.handover.taken import Lines, Taken, short
from controller.words.errors import BadInput
from tests.results.dusk import PLAN, START, shoot
from tests.results.handover_rig import frame

SHOOT = shoot([])


def stem(pattern: str, **fields: Any) -> str:
    return read_pattern(pattern, SHOOT).stem(frame(7, **fields))


@pytest.mark.parametrize(
    ("pattern", "name"),
    [
        ("{seq}", "7"),
        ("{seq:05}", "00007"),
        ("{shoot}-{date}-{time}-{seq:05}.{suffix}", "2026-12-01-quay-at-dusk-2026-12-01-150042-00007"),
        ("{plan}/{camera}/{seq:03}", "quay-at-dusk/camera-1/007"),
        ("a/b/c/{seq}", "a/b/c/7"),
        ("{seq}.v2", "7.v2"),
        ("{camera_file}", "DSC_0007"),
        ("Kai am Abend {seq}", "Kai am Abend 7"),
        ("{local_date}T{local_time}", "2026-12-01T160042"),  # Stockholm is one hour ahead of UTC in December
    ],
)
def test_a_pattern_gives_these_names(pattern: str, name: str) -> None:
    assert stem(pattern) == name


def test_dates_are_those_of_the_release_and_read_back() -> None:
    late = START + 9 * 3600 - 0.001  # 23:59:59.999
    assert stem("{date}-{time}", due_utc=late - 2, released_utc=late) == "2026-12-01-235959"
    assert datetime.strptime("2026-12-01-235959 +0000", "%Y-%m-%d-%H%M%S %z").timestamp() == int(late)
    assert stem("{date}-{time}", due_utc=late + 1, released_utc=None) == "2026-12-02-000000"


@pytest.mark.parametrize(
    ("pattern", "what"),
    [
        ("", "empty"),
        (".{suffix}", "empty"),
        ("{seq", "character 1: a brace without the other. Words stand between two, such as {seq}. There are {seq}"),
        ("a{seq}}", "character 7: a closing brace"),
        ("{}", "{} is no word"),
        ("{sek}", "Did you mean {seq}?"),
        ("{SEQ}", "is no word"),
        ("{seq:5}", ":5 is no width"),
        ("{seq:00}", ":00 is no width"),
        ("{seq:05d}", ":05d is no width"),
        ("{shoot:05}", "is no number"),
        ("{suffix}-{seq}", "{suffix} stands at the end alone"),
        ("{seq}{suffix}", "{suffix} stands at the end alone"),
        ("a:{seq}", "character 2: ':' may stand in no name"),
        ("a\\{seq}", "may stand in no name"),
        ("a\n{seq}", "may stand in no name"),
        ("a\udcff{seq}", "may stand in no name"),
        ("../{seq}", "leads out of the folder"),
        ("{shoot}/../../{seq}", "leads out of the folder"),
        ("/{seq}", "has no name"),
        ("{seq}/", "has no name"),
        ("a//{seq}", "has no name"),
        ("./{seq}", "leads out of the folder"),
        (".{seq}", "hidden"),
        ("{seq}.", "drops a space or a dot"),
        ("a /{seq}", "drops a space or a dot"),
        (" {seq}", "drops a space or a dot"),
        ("a/b/c/d/{seq}", "it lies 4 folders deep: use 3 at most"),
        ("{seq}.jpg", "character 6: .jpg would stand before the file's own ending. Leave it out"),
        ("{seq}.NEF.{suffix}", "character 6: .NEF would stand before"),
        ("CON/{seq}", "Windows keeps CON"),
        ("x" * 201, "201 characters"),
        ("é" * 130 + "{seq}", "too long a name"),
    ],
)
def test_what_cannot_be_a_pattern_is_told_in_one_line(pattern: str, what: str) -> None:
    with pytest.raises(BadInput) as caught:
        read_pattern(pattern, SHOOT)
    assert what in str(caught.value)
    assert str(caught.value).startswith("--name")
    assert str(caught.value).isprintable()
    assert caught.value.remedy


def test_a_local_time_needs_a_zone() -> None:
    nowhere = shoot([], plan={**PLAN, "site": {}})
    with pytest.raises(BadInput, match=r"Use \{time\}, which is UTC"):
        read_pattern("{local_time}", nowhere)


@pytest.mark.parametrize(
    ("fields", "name"),
    [
        ({"camera_file": "/DCIM/a:b*c?.JPG"}, "a_b_c_"),
        ({"camera_file": "/DCIM/..\\..\\x.JPG"}, ".._.._x"),
        ({"camera_file": "/DCIM/Cafe\u0301.JPG"}, "Caf\u00e9"),  # composed (NFC)
    ],
)
def test_what_the_camera_says_is_made_safe(fields: dict[str, Any], name: str) -> None:
    assert read_pattern("x{camera_file}", SHOOT).stem(frame(7, **fields)) == f"x{name}"


@pytest.mark.parametrize("given_name", ["NUL", "com1", "Lpt9.old", "AUX.JPG"])
def test_a_name_that_windows_keeps_is_refused_with_its_frame(given_name: str) -> None:
    with pytest.raises(BadInput, match="frame 7 of camera-1 would be called") as caught:
        stem("{camera_file}", camera_file=f"/DCIM/{given_name}.JPG")
    assert "for a device" in str(caught.value)


def reserved(part: str) -> bool:
    """As Python tells it, under the name that it has for that since 3.13."""
    if sys.version_info >= (3, 13):
        return ntpath.isreserved(part)
    return PureWindowsPath(part).is_reserved()


# what Windows refuses by Microsoft's page, from memory of it; and a few that it takes
@example("NUL.tar.gz")
@example("con")
@example("COM\u00b9")
@example("a.")
@example("a ")
@example("NULL")
@example("console.JPG")
@given(st.text(st.characters(), min_size=1, max_size=12))
def test_what_is_taken_is_a_name_on_windows_too_and_stays_below(name: str) -> None:
    if refusal(name) is not None:
        return
    for part in name.split("/"):
        assert not reserved(part)
        assert not re.search(r'[\x00-\x1f"*:<>?\\|]', part)
        assert part == part.rstrip(" .")
        part.encode()
    assert ntpath.normpath(name).replace("\\", "/") == posixpath.normpath(name) == name
    assert not posixpath.normpath(posixpath.join("/folder", name)).startswith("/..")


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=12))
def test_facts_are_spelt_once_and_for_all(value: str) -> None:
    assert spelt(spelt(value)) == spelt(value)
    assert refusal(f"x{spelt(value)}x") is None


def test_no_two_names_that_case_or_composition_alone_tells_apart() -> None:
    assert key("Caf\u00e9") == key("CAFE\u0301")
    taken = Taken()
    for name in ("a/1", "a/2", "A/1"):
        taken.add(name)
    assert taken.twice() == {short(key("a/1"))}
    assert not Taken().twice()


def test_lines_are_known_again() -> None:
    from array import array

    texts = [f"line {number}" for number in range(1000)]
    lines = Lines(array("Q", map(short, texts)))
    assert all(text in lines for text in texts)
    assert not any(f"line {number}" in lines for number in range(1000, 2000))
    assert "x" not in Lines(array("Q"))


def test_the_words_are_those_of_the_page() -> None:
    from pathlib import Path

    page = (Path(__file__).parents[2] / "docs/hand-over.md").read_text("utf-8")
    told = {
        w
        for line in page.splitlines()
        if line.startswith("| `{")
        for w in re.findall(r"`\{([a-z_]+)\}`", line.split("|")[1])
    }
    assert told == set(WORDS)
