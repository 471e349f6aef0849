"""What is wrong with a plan, as one line: where, what, remedy."""

from __future__ import annotations

import itertools
import re
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, NoReturn

from pydantic import BaseModel, ValidationError

from controller.decide import plan_figures, plan_hints, plan_meant
from controller.decide.plan_lines import line_of
from controller.words.errors import BadInput
from controller.words.phrases import grouped, with_remedy

Models = Mapping[tuple[str, ...], type[BaseModel]]

_PATTERN_REMEDY = {
    "name": "Use letters, digits, '.', '_' and '-', starting with a letter or digit, 64 at most",
    "fetch": 'Use "all", "preview", "none" or "every 10"',
    "keep": 'Use "all", or days such as "30 days"',
    "use": 'Write names such as "camera-1", as the cameras are listed',
    "lead": 'Write a name such as "camera-1", as the cameras are listed',
}
_PAIRS = "Write pairs such as [-6, 9.0]"
_SHAPES = {
    "use": 'Write names such as ["camera-1", "camera-2"]',
    "rect": "Write [left, top, right, bottom], as fractions",
    "aperture": "Write the f-number alone, such as 2.8, or a range such as [2.8, 8]",
    "shutter_s": "Write seconds, such as [0.0005, 15]",
    "iso": "Write a number such as 100, or a range such as [100, 3200]",
    "every": 'Write every = "day", or days such as ["fri", "sat"]',
    "skip": "Write days such as [2026-12-24, 2026-12-31]",
    "order": 'Write an order such as ["shutter", "iso"]',
    "bracket_ev": "Write two to nine offsets in EV, such as [-2, 0, 2]",
    "regions": "Write [[light.regions]], 32 times at most",
    "windows": "Write [[when.windows]], 1 to 24 times",
    "sensor_mm": "Write width and height in mm, such as [35.9, 23.9]",
}
_RANGES = ("iso", "aperture", "shutter_s")
_BOUNDS = {"greater_than_equal": "ge", "greater_than": "gt", "less_than_equal": "le", "less_than": "lt"}
_BOUND_WORDS = {"ge": "at least", "gt": "more than", "le": "at most", "lt": "less than"}


class Sense(ValueError):
    """A value of the right type that makes no sense; `key` is its name below the table that was checked."""

    def __init__(self, key: str, what: str, remedy: str) -> None:
        super().__init__(what)
        self.key, self.what, self.remedy = key, what, remedy


def refuse(key: str, what: str, remedy: str) -> NoReturn:
    """Refuse a value from inside a validator."""
    raise Sense(key, what, remedy)


def parsed(name: str, parse: Any, text: str) -> Any:
    """What `parse` makes of the text of a key; its ValueError, "what; remedy", becomes a refusal."""
    try:
        return parse(text)
    except ValueError as error:
        what, _, remedy = str(error).partition("; ")
        raise Sense(name, what, remedy and remedy[0].upper() + remedy[1:]) from None


def in_order(points: tuple[tuple[float, float], ...], what: str, name: str = "points") -> None:
    """Refuse pairs whose first values neither rise nor fall throughout."""
    steps = [b[0] - a[0] for a, b in itertools.pairwise(points)]
    if steps and not (all(s > 0 for s in steps) or all(s < 0 for s in steps)):
        refuse(name, f"are not in order of {what}", "Sort them, and keep each value once")


def quoted(text: str) -> str:
    """A text as TOML quotes it."""
    return f'"{text}"'


def bad_plan(error: ValidationError, models: Models, text: str | None = None) -> BadInput:
    """The first of pydantic's errors as BadInput. `models` has each table's model by its place, kinds included.

    With the TOML `text` from which the plan was read, the line is named.
    """
    errors = error.errors(include_url=False)
    first = next((e for e in errors if errors[0]["type"] == "missing" and _misspelt(e, errors[0])), errors[0])
    place: tuple[int | str, ...] = tuple(first["loc"])
    cause = first.get("ctx", {}).get("error")
    if isinstance(cause, Sense):
        what, remedy = cause.what, cause.remedy
        place = (*place, *(int(part) if part.isdecimal() else part for part in cause.key.split(".")))
    else:
        what, remedy = _words(str(first["type"]), place, first, models)
    place = _as_written(place, models)
    if first["type"] == "union_tag_invalid":
        place = (*place, "kind")
    line = None if text is None else line_of(text, place)
    where = _where(place, models)
    return BadInput("bad-plan", what, f"line {line}, {where}" if line is not None else where, remedy)


def _words(kind: str, place: tuple[int | str, ...], error: Any, models: Models) -> tuple[str, str]:
    ctx: dict[str, Any] = error.get("ctx", {})
    value = error.get("input")
    given = shown(value)
    name = str(place[-1]) if place else ""
    if kind == "extra_forbidden":
        table = next((str(part) for part in place[:-1]), "")
        return "unknown key", plan_meant.for_key(name, value, table) or _other_key(name, place, models)
    if kind in ("union_tag_invalid", "union_tag_not_found"):
        kinds = [path[-1] for path in models if len(path) == 2 and path[0] == name and name in ("pace", "light")]
        tag = str(ctx.get("tag", ""))
        near = plan_hints.nearest(tag, kinds)
        what = f"{shown(tag)} is no kind of {name}" if tag else "has no kind"
        return what, f"Did you mean {near}?" if near else f'Write kind = "{kinds[0]}"; kinds are {", ".join(kinds)}'
    for listed, table in (("regions", "light"), ("windows", "when")):
        if (kind == "tuple_type" and name == listed) or (kind == "model_type" and listed in place):
            return f"{given} is no table", f"Write [[{table}.{listed}]]"
    if kind in ("tuple_type", "too_short", "too_long") or (kind == "missing" and isinstance(place[-1], int)):
        key = next((part for part in reversed(place) if isinstance(part, str)), "")
        what = "is empty" if value in ([], ()) else f"{given} is no list of the right length"
        return what if kind != "tuple_type" else f"{given} cannot be used", _shape(key, value)
    if kind in ("model_type", "model_attributes_type"):
        return f"{given} is no table", f"Write [{name}], and its keys below it"
    if kind == "missing":
        return "is missing", "Add it; docs/plan.md lists every key"
    if kind == "string_pattern_mismatch":
        near = _pattern_hint(name, str(value))
        return f"{given} cannot be used", f"Did you mean {near}?" if near else _PATTERN_REMEDY.get(name, "")
    what, remedy = plain(error)
    if kind == "float_type" and (meant := plan_meant.for_value(name, value)):
        return what, meant
    if name in ("latitude", "longitude") and kind in _BOUNDS and isinstance(value, int | float) and abs(value) <= 180:
        remedy = with_remedy(remedy, "Latitude goes from -90 to 90; it may have been swapped with longitude")
    list_of_numbers = kind == "float_type" and name.isdigit()
    if list_of_numbers and isinstance(value, str) and remedy == _TYPES["float"][1]:
        remedy = _shape(str(place[-2]), value)
    return what, remedy


def _shape(key: str, value: object) -> str:
    """How the list under a key is written."""
    if meant := plan_meant.for_value(key, value):
        return meant
    if key in _RANGES and isinstance(value, str) and (pair := plan_figures.limits(value, key)):
        return f"Write {pair}"
    if key == "every" and isinstance(value, str):
        near = plan_hints.nearest(value, ("day", "mon", "tue", "wed", "thu", "fri", "sat", "sun"))
        return (
            f"Did you mean {near!r}?".replace("'", '"')
            if near == "day"
            else f'Write every = ["{near}"]'
            if near
            else _SHAPES[key]
        )
    if key == "order" and isinstance(value, str):
        near = plan_hints.nearest(value, ("shutter", "aperture", "iso"))
        return f'Write order = ["{near}"]' if near else _SHAPES[key]
    near = plan_figures.remedy(value, key) if isinstance(value, str) else None
    return near or _SHAPES.get(key, _PAIRS)


def _pattern_hint(key: str, wrong: str) -> str | None:
    """The text that was probably meant where one has to be written in one of few ways."""
    if key == "name":
        name = re.sub(r"[^A-Za-z0-9._-]+", "-", wrong).strip("-._")[:64]
        return name or None
    if key == "fetch":
        if found := re.match(r"(?i)\s*e[a-z]*[\s_-]*([1-9][0-9]{0,5})(?![0-9])", wrong):
            return f"every {found[1]}"
        return plan_hints.nearest(wrong, ("all", "preview", "none"))
    return None


def _other_key(name: str, place: tuple[int | str, ...], models: Models) -> str:
    """The key that was meant by one that is not known here, or the table in which it is known."""
    here = tuple(part for part in place[:-1] if isinstance(part, str))
    known = _keys(models.get(here, models[()]))
    if near := plan_hints.nearest(name, known):
        return f"Did you mean {near}?"
    word = name.casefold()
    elsewhere = [
        (path, key)
        for path, model in models.items()
        for key in _keys(model)
        if path and (key == word or (len(word) >= 4 and key.startswith(word)))
    ]
    if elsewhere:
        (table, *kind), key = elsewhere[0]
        of_kind = f" of kind {kind[0]}" if kind and table in ("pace", "light") else ""
        return f"{key} belongs in [{table}]{of_kind}; known here: {', '.join(known)}"
    return f"Known here: {', '.join(known)}"


_TYPES = {
    "bool": ("neither true nor false", "Write true or false, without quotes"),
    "int": ("no whole number", "Write a whole number, without quotes"),
    "float": ("no number", "Write a number, without quotes"),
    "finite": ("no number to reckon with", "Write a finite number"),
    "string": ("no text", "Write it in quotes"),
    "date": ("no date", "Write it like 2026-12-31"),
    "tuple": ("no list", "Write a list, as [1, 2]"),
    "list": ("no list", "Write a list, as [1, 2]"),
    "frozen": ("no list", "Write a list"),  # of which each may be there once
    "dict": ("no table", "Write a table: names and their values"),
    "model": ("no table", "Write a table: names and their values"),
}


def plain(error: Any) -> tuple[str, str]:
    """What is wrong with a value, and the remedy, where it needs no knowledge of plans; `error` is pydantic's."""
    kind, value, ctx = str(error["type"]), error.get("input"), error.get("ctx", {})
    if kind in _BOUNDS:
        bound = _BOUNDS[kind]
        return f"{shown(value)} is out of range", f"Use {_BOUND_WORDS[bound]} {_plain(ctx[bound])}"
    if kind in ("literal_error", "enum"):
        near = plan_hints.nearest(value, re.findall(r"'([^']+)'", ctx["expected"])) if isinstance(value, str) else None
        return f"{shown(value)} is not known here", f"Did you mean '{near}'?" if near else f"Use {ctx['expected']}"
    if kind == "missing":
        return "is missing", "Add it"
    if kind == "extra_forbidden":
        return "unknown key", "Remove it"
    if kind in ("too_short", "too_long"):
        return (f"{shown(value)} is no list of the right length", "") if value else ("is empty", "Give at least one")
    if kind == "string_too_long":
        return f"{shown(value)} is longer than {ctx['max_length']} characters", "Shorten it"
    if kind == "string_too_short":
        return f"{shown(value)} is too short", f"Give at least {ctx['min_length']} characters"
    if kind == "value_error":
        return str(ctx["error"]), ""
    what, remedy = _TYPES.get(kind.partition("_")[0], ("not what is asked for here", ""))
    if isinstance(value, str) and what.startswith("no number"):
        remedy = plan_figures.remedy(value, _quantity(error["loc"])) or remedy
    if isinstance(value, str) and kind.startswith("bool"):
        what = "a text, neither true nor false"
    return f"{shown(value)} is {what}", remedy


def _quantity(place: Sequence[int | str]) -> str:
    """The key of a number; of a pace's points the second is an interval."""
    key = next((part for part in reversed(place) if isinstance(part, str)), "")
    return key if key != "points" else "interval_s" if place[-1] == 1 else ""


def _misspelt(error: Any, missing: Any) -> bool:
    """An unknown key that is nearly the missing one, or stands for it."""
    return (
        error["type"] == "extra_forbidden"
        and error["loc"][:-1] == missing["loc"][:-1]
        and (
            plan_hints.nearest(str(error["loc"][-1]), [str(missing["loc"][-1])]) is not None
            or plan_meant.for_key(str(error["loc"][-1]), error["input"], str(error["loc"][0])) is not None
        )
    )


def _plain(value: object) -> str:
    if isinstance(value, float):
        return grouped(value) if abs(value) >= 1e6 and value.is_integer() else f"{value:g}"
    return str(value)


def _as_written(place: tuple[int | str, ...], models: Models) -> tuple[int | str, ...]:
    """A place in the document; kinds of tables are not part of what the user wrote."""
    if len(place) >= 2 and place[0] in ("pace", "light") and place[:2] in models:
        return (place[0], *place[2:])
    return place


def _where(place: tuple[int | str, ...], models: Models) -> str:
    """`[pace] points[1]` for a place in the document."""
    table = str(place[0]) if place else ""
    if not table or (table,) not in {path[:1] for path in models if path}:
        return one_line(table)
    rest = "".join(f"[{part}]" if isinstance(part, int) else f" {one_line(part)}" for part in place[1:])
    return f"[{table}]{rest}"


def _keys(model: type[BaseModel]) -> list[str]:
    return [field.alias or name for name, field in model.model_fields.items()]


def shown(value: object) -> str:
    """A value as a plan writes it, in one printable line that is not too long."""
    text = value if isinstance(value, str) else str(value) if isinstance(value, date) else repr(value)
    text = "null" if value is None else text.lower() if isinstance(value, bool) else text  # as JSON has them
    text = one_line(text)
    return f"'{text}'" if isinstance(value, str) else text


def one_line(text: str) -> str:
    """One printable line, not too long."""
    text = "".join(c if c.isprintable() else "?" for c in text)
    return text if len(text) <= 60 else f"{text[:57]}..."
