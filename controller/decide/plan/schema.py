"""The JSON Schema of a plan (draft 2020-12), for editors and for whoever writes plans by program.

What it takes, `plan_from` takes too, but for what a schema cannot say: values that hold one another in check, days that
the calendar does not have, names of time zones.
"""

from __future__ import annotations

from functools import cache
from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaMode, JsonSchemaValue
from pydantic_core import CoreSchema

from controller.decide.plan.document import Plan

DIALECT = "https://json-schema.org/draft/2020-12/schema"


class _Plain(GenerateJsonSchema):
    """Without titles, which would only say the keys over again, and without null: what is left out is not written."""

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False

    def nullable_schema(self, schema: Any) -> JsonSchemaValue:
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: Any) -> JsonSchemaValue:
        found = super().default_schema(schema)
        return {key: value for key, value in found.items() if key != "default" or value is not None}

    def generate(self, schema: CoreSchema, mode: JsonSchemaMode = "validation") -> JsonSchemaValue:
        found = super().generate(schema, mode)
        for table in found["$defs"].values():
            table.pop("title", None)
        return {"$schema": DIALECT, **found, "title": "A plan of Duskhand"}


@cache
def _schema() -> JsonSchemaValue:
    return Plan.model_json_schema(schema_generator=_Plain)


def plan_schema() -> dict[str, Any]:
    """The schema, JSON-able; keys that the document has, with their units and their limits."""
    return dict(_schema())
