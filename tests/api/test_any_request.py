"""Whatever is asked of plans and rehearsals, never a 5xx. Schemathesis invents the requests from the served schema."""

from __future__ import annotations

import json
import urllib.request
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.decide import PLANS, example
from tests.support.alone import served_alone

# Hundreds of requests, some with a process of their own: how long that takes says something of the machine.
pytestmark = pytest.mark.timeout(900)

PARTS = ("/plans", "/defaults", "/plan-schema", "/sky", "/forecast", "/rehearsal")


@pytest.fixture(scope="module")
def url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A real service without a camera."""
    directory = tmp_path_factory.mktemp("rig")
    with served_alone(directory) as address:
        yield address
    assert "Traceback" not in (directory / "log").read_text("utf-8")


def call(method: str, url: str, body: object = None) -> tuple[int, dict | list | None]:
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(url, data, {"Content-Type": "application/json"}, method=method)
    try:
        with urllib.request.urlopen(request, timeout=60) as answer:
            text, status = answer.read(), answer.status
    except urllib.error.HTTPError as error:
        text, status = error.read(), error.code
        error.close()
    return status, json.loads(text) if text else None


def test_requests_from_the_schema(url: str) -> None:
    """All operations of plans, versions, defaults, forecasts and rehearsals; with plans that are there, and without."""
    for name in ("quay_at_dusk", "moor_at_dawn"):
        assert call("POST", f"{url}/api/v1/plans", example(name).document())[0] == 201
    schema = schemathesis.openapi.from_url(f"{url}/openapi.json")
    judged: Counter[str] = Counter()
    for operation in schema.get_all_operations():
        op = operation.ok()
        if not any(part in op.path for part in PARTS):
            continue

        @settings(
            max_examples=6 if "rehearsal" in op.path else 20,
            suppress_health_check=list(HealthCheck),
            derandomize=True,
        )
        @given(case=op.as_strategy(), known=st.sampled_from(["quay-at-dusk", "moor-at-dawn", None]))
        def ask(case: schemathesis.Case, known: str | None) -> None:
            if known is not None and "name" in (case.path_parameters or {}):
                case.path_parameters["name"] = known
            answer = case.call(timeout=240)
            judged[case.operation.label] += 1
            assert answer.status_code < 500, answer.text
            if answer.status_code >= 400:
                problem = answer.json()
                assert problem["code"]
                assert "\n" not in problem["detail"]
            for name in ("quay_at_dusk", "moor_at_dawn"):  # what was deleted or renamed is there again
                call("POST", f"{url}/api/v1/plans", example(name).document())

        ask()
    assert len(judged) >= 15, judged  # operations
    assert min(judged.values()) >= 3, judged  # requests of each: as many as differ, where little can


values = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**12), 10**12) | st.floats(allow_nan=False) | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture], derandomize=True)
@given(st.sampled_from(PLANS), st.data())
def test_plans_with_something_else_in_one_place(url: str, path: Path, data: st.DataObject) -> None:
    document = example(path.stem).document()
    table = data.draw(st.sampled_from(sorted(document)))
    if isinstance(document[table], dict) and data.draw(st.booleans()):
        document[table] = {**document[table], data.draw(st.sampled_from([*document[table], "x"])): data.draw(values)}
    else:
        document[table] = data.draw(values)
    status, answer = call("PUT", f"{url}/api/v1/plans/any", {**document, "name": "any"})
    assert status in (200, 422), answer
    if status == 200:
        assert call("GET", f"{url}/api/v1/plans/any/forecast")[0] in (200, 422)
