"""The JSON Schema of plans, by the library jsonschema-rs: it takes the examples, and what it takes the reader takes."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from jsonschema_rs import Draft202012Validator, meta

from controller.decide.plan import MODELS, plan_from
from controller.decide.plan.schema import plan_schema
from controller.words.errors import BadInput
from tests.decide import PLANS
from tests.decide.documents import broken, document, plain

SCHEMA = plan_schema()
CHECK = Draft202012Validator(SCHEMA, validate_formats=True)
PAGE = (Path(__file__).parents[2] / "docs" / "plan.md").read_text("utf-8")
BLOCKS = [tomllib.loads(block) for block in re.findall(r"^```toml\n(.*?)^```", PAGE, re.S | re.M)]
WHOLE = [block for block in BLOCKS if "site" in block]


def refused(written: dict) -> BadInput | None:
    try:
        plan_from(written)
    except BadInput as error:
        return error
    return None


def test_it_is_a_schema_of_its_dialect():
    meta.validate(SCHEMA)
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_every_key_has_its_description_and_nothing_else_is_let_in():
    for path, model in MODELS.items():
        table = SCHEMA if not path else SCHEMA["$defs"][model.__name__]
        assert table["additionalProperties"] is False
        keys = {field.alias or name for name, field in model.model_fields.items()}
        assert set(table["properties"]) == keys
        assert table["description"]
        for key, one in table["properties"].items():
            assert one.get("description") or "$ref" in one or "oneOf" in one, (path, key)


def test_keys_in_a_unit_say_so():
    units = {
        "_s": "second",
        "_ev": "EV",
        "_lx": "lux",
        "_mm": "mm",
        "_um": "µm",
        "_deg": "degree",
        "_wh": "Wh",
        "_w": "W",
    }
    for table in (SCHEMA, *SCHEMA["$defs"].values()):
        for key, one in table["properties"].items():
            unit = units.get(f"_{key.rpartition('_')[2]}") if "_" in key else None
            assert unit is None or unit in one["description"] or "degrees" in one["description"], key


def test_every_number_has_its_limits():
    def numbers(node):
        if isinstance(node, dict):
            if node.get("type") in ("number", "integer"):
                yield node
            for value in node.values():
                yield from numbers(value)
        elif isinstance(node, list):
            for value in node:
                yield from numbers(value)

    found = list(numbers(SCHEMA))
    assert len(found) > 40
    assert all("maximum" in one and ("minimum" in one or "exclusiveMinimum" in one) for one in found)


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_examples_and_what_the_reader_makes_of_them(path):
    written = plain(tomllib.loads(path.read_text("utf-8")))
    CHECK.validate(written)
    CHECK.validate(plan_from(written).document())


@pytest.mark.parametrize("block", WHOLE, ids=lambda block: block["name"])
def test_plans_in_the_reference(block):
    CHECK.validate(plain(block))


def test_parts_of_plans_in_the_reference():
    parts = [block for block in BLOCKS if "site" not in block]
    assert len(parts) >= 2
    for part in parts:
        whole = plain(WHOLE[0])
        for table, keys in plain(part).items():
            whole[table] = keys if table == "when" else whole.get(table, {}) | keys
        CHECK.validate(whole)


@settings(max_examples=1000)
@given(document())
def test_what_it_takes_the_reader_takes(written):
    """But for what no schema can say, which the reader calls by these words."""
    if not CHECK.is_valid(written):
        return
    refusal = refused(written)
    assert refusal is None or re.search(BEYOND_A_SCHEMA, refusal.what), refusal


BEYOND_A_SCHEMA = "|".join(
    [
        "not in order of",
        "is above the upper one",
        "has a range but no place in the order",
        "shorter than the shortest",
        "no longer than the pace's own",
        "a fixed light has its interval",
        "no end to fill",
        "holds nothing",
        "nothing of the picture",
        "longer than the window",
        "is not over when the next",
        "take .* or more",
        "on every day",
        "is (the same as|before) the start",
        "is before from",
        "none of its days",
        "names one moment",
        "does not come round",
        "longer than a day",
        "longer than ten years",
        "no time at all",
        "no time zone",
        "pixels on a width",
        "less than a minute",
        "no pictures to make a film of|nothing is copied from the card",
        "who sends the pulses|not one of the cameras in use",
        "is no date|is no time",  # a day that the calendar does not have
    ]
)


@settings(max_examples=1000)
@given(broken())
def test_what_the_reader_refuses_for_its_shape_it_refuses_too(written):
    assume(isinstance(written, dict))
    written = json.loads(json.dumps(written))
    refusal = refused(written)
    if refusal is not None and not re.search(BEYOND_A_SCHEMA, refusal.what):
        assert not CHECK.is_valid(written), refusal


@settings(max_examples=250)
@given(document())
def test_what_the_reader_takes_it_takes_but_for_null(written):
    assume(refused(written) is None)
    CHECK.validate(plan_from(written).document())
    if "null" not in json.dumps(written):
        CHECK.validate(written)
