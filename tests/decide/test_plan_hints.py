"""What was probably meant, and on which line: every hint is text that a plan takes as it stands."""

from __future__ import annotations

import tomllib
from zoneinfo import available_timezones

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.decide import plan_hints
from controller.decide.anchors import parse_anchor, parse_length
from controller.decide.plan import DAYS, MODELS
from controller.decide.plan_lines import line_of
from controller.decide.sun import SUN_EVENTS
from tests.decide import PLANS
from tests.decide.documents import places

FIGURES = st.from_regex(
    r"[0-9]{1,3}([.,:][0-9]{1,2})? ?([a-zA-Z]{0,7}|[a-z]{1,4} ?[0-9]{1,2} ?[a-z]{0,3})", fullmatch=True
)
TEXTS = st.one_of(FIGURES, st.text(max_size=20))


@given(TEXTS)
def test_lengths_can_be_read(wrong: str):
    hint = plan_hints.length(wrong)
    assert hint is None or parse_length(hint) > 0


@given(TEXTS, st.sampled_from(["latitude", "longitude", "aperture"]))
def test_numbers_are_numbers(wrong: str, key: str):
    hint = plan_hints.number(wrong, key)
    assert hint is None or isinstance(tomllib.loads(f"x = {hint}")["x"], int | float)


@given(TEXTS)
def test_zones_are_of_the_database(wrong: str):
    assert plan_hints.zone(wrong) in {None, *available_timezones()}


@given(TEXTS)
def test_times_that_are_offered_can_be_read(wrong: str):
    try:
        parse_anchor(wrong)
    except ValueError as error:
        what, _, remedy = str(error).partition("; did you mean ")
        for offered in remedy.rstrip("?").split(" or ") if remedy else ():
            assert offered in SUN_EVENTS or parse_anchor(offered), what


KNOWN = sorted({name for model in MODELS.values() for name in model.model_fields} | set(SUN_EVENTS) | set(DAYS))


@given(st.sampled_from(KNOWN), st.integers(0, 30), st.sampled_from(["", "x", "e"]))
def test_one_letter_too_few_or_wrong_leads_to_the_word_itself(word: str, at: int, put: str):
    """A name of five letters or more gets a hint, though another name may be as near; the word itself gets itself."""
    at %= len(word)
    wrong = word[:at] + put + word[at + 1 :]
    hint = plan_hints.nearest(wrong, KNOWN)
    if len(word) >= 5:
        assert hint is not None
    assert plan_hints.nearest(word, KNOWN) == word
    assert plan_hints.nearest(word.upper(), KNOWN) == word


@pytest.mark.parametrize(
    ("wrong", "meant"),
    [
        ("2 hours", "2h"),
        ("1 hour and 30 minutes", "1h30min"),
        ("1,5 h", "1.5h"),
        ("1:30", "1h30min"),
        ("0:45", "45min"),
        ("PT2H", "2h"),
        ("P1D", "1d"),
        ("45", "45min"),
        ("three hours", None),
    ],
)
def test_lengths_in_other_ways_of_writing(wrong: str, meant: str | None):
    """ISO 8601, section 4.4.3, for those with P; the others are common practice, no source."""
    assert plan_hints.length(wrong) == meant


@pytest.mark.parametrize(
    ("wrong", "meant"),
    [("23:59 next day", "23:59"), ("0:00 tomorrow", "00:00"), ("24:00 next day", None), ("05:60 next day", None)],
)
def test_a_time_of_the_next_day_is_a_time(wrong: str, meant: str | None):
    assert plan_hints.next_day(wrong) == meant


TEXT = """name = "x"
points = [
  [2, 5.0],
  [-6,
   9.0],
]

[site]
latitude = 1

[when]
every = "day"
[[when.windows]]
start = "06:30"
[[when.windows]]
note = \"\"\"
start
\"\"\"
start = "18:00"
[light]
regions = [{rect = [0, 0, 1, 1]},
           {rect = [0, 0, 1, 2]}]
"""


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
@pytest.mark.parametrize(
    ("place", "line"),
    [
        (("name",), 1),
        (("points",), 2),
        (("points", 0), 3),
        (("points", 1, 0), 4),
        (("points", 1, 1), 5),
        (("site",), 8),
        (("site", "latitude"), 9),
        (("site", "longitude"), 8),
        (("when", "windows", 0, "start"), 14),
        (("when", "windows", 1), 15),
        (("when", "windows", 1, "note"), 16),
        (("when", "windows", 1, "start"), 19),
        (("light", "regions", 1, "rect", 3), 22),
        (("pace",), None),
        ((), None),
    ],
)
def test_lines(place: tuple[str | int, ...], line: int | None, newline: str):
    """Counted by hand."""
    assert line_of(TEXT.replace("\n", newline), place) == line


@given(st.sampled_from(PLANS), st.integers(0, 10_000))
def test_the_line_of_a_key_begins_with_the_key_or_holds_it(path, which: int):
    text = path.read_text("utf-8")
    there = [place for place in places(tomllib.loads(text)) if isinstance(place[-1], str)]
    place = there[which % len(there)]
    line = line_of(text, place)
    assert line is not None
    assert str(place[-1]) in text.split("\n")[line - 1]


def test_a_text_that_no_person_wrote_has_no_lines():
    text = "a = [\n" + "'''\n" * 20_001 + "]\nb = 1\n"
    assert line_of("b = 1\n" + "#\n" * 50_000, ("b",)) in (1, None)
    with pytest.raises(tomllib.TOMLDecodeError):
        line_of(text, ("b",))
