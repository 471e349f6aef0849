"""Every call of the API asked anything: no fault of ours, only what the schema says, and nothing for strangers.

The long form, with 10,000 requests of each kind: `python -m tests.bench.any_request`.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.any_request import KNOWN, by_schema, kept, strangers
from tests.support.rigs import plan
from tests.support.service import Service, rig

Served = tuple[Service, Path, dict[str, str]]
pytestmark = pytest.mark.timeout(900)  # hundreds of requests, some with a process of their own


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A real service with a camera, its directory, and names that there are."""
    directory = tmp_path_factory.mktemp("any")
    with rig(directory) as (running, _):
        running.post("/api/v1/plans", plan())
        shoot = running.shoot(plan(when={"start": "now", "frames": 2}))
        running.wait_for_end(shoot)
        yield running, directory, KNOWN | {"shoot": shoot}
    assert "Traceback" not in (directory / "serve.log").read_text("utf-8")


def test_requests_from_the_schema(service: Served) -> None:
    """Statuses, types and documents are those that /openapi.json tells. Plans have a test of their own."""
    parts = ("/now", "/events", "/session", "/invitations", "/clock", "/shoots", "/frames", "/cameras", "/check")
    tally = by_schema(service[0].url, 8, service[2], only=(*parts, "/healthz", "/metrics", "/messages", "/copies"))
    assert tally.wrong == []
    assert tally.asked > 150


def test_strangers_change_nothing(service: Served) -> None:
    running, directory, _ = service
    before = kept(directory / "rig")
    tally = strangers(running.url, 400)
    assert tally.wrong == []
    assert tally.asked >= 400
    assert kept(directory / "rig") == before
