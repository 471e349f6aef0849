"""The JSON Schema of plans. It stands beside `/plans`, where it would be taken for a plan of that name."""

from __future__ import annotations

import json

from fastapi import APIRouter, Response

from controller.decide.plan.schema import plan_schema

router = APIRouter(tags=["plans"])

MEDIA_TYPE = "application/schema+json"


@router.get("/plan-schema", response_class=Response, responses={200: {"content": {MEDIA_TYPE: {}}}})
async def get_plan_schema() -> Response:
    """The JSON Schema (draft 2020-12) of the plan document, with units and limits."""
    return Response(json.dumps(plan_schema()), media_type=MEDIA_TYPE)
