"""One table of a plan by itself."""

from __future__ import annotations

from pydantic import BaseModel, ValidationError

from controller.decide.plan.document import MODELS
from controller.decide.plan_errors import bad_plan


def read_table(table: str, keys: object) -> BaseModel:
    """The table, read. Raises BadInput (bad-plan) with the first error; KeyError where a plan has no such table."""
    try:
        return MODELS[(table,)].model_validate(keys)
    except ValidationError as error:
        lines = [{**line, "loc": (table, *line["loc"])} for line in error.errors(include_url=False)]
        told = ValidationError.from_exception_data(table, lines)  # type: ignore[arg-type]
        raise bad_plan(told, MODELS) from None
