"""HEAD over real HTTP: the answer to a GET, without its content (RFC 9110, section 9.3.2)."""

from __future__ import annotations

import httpx
import pytest

from api import create_app, events
from controller.daemon import Rig
from tests.support.serving import serving

GENERATED = {"date", "content-length", "transfer-encoding"}
"""Of another moment, or known only once the content is (the same section)."""
ELSEWHERE = {"X-Forwarded-For": "192.0.2.9"}


def paths(rig: Rig) -> list[str]:
    """Every call that is asked by GET and names nothing, the page and its files, and what is not there."""
    calls = create_app(rig).openapi()["paths"]
    plain = [path for path, methods in calls.items() if "get" in methods and "{" not in path]
    return [*plain, "/", "/openapi.json", "/js/page.js", "/nothing", "/api/v1/nothing", "/api/v1/plans/none"]


async def test_it_tells_what_a_get_would(rig: Rig) -> None:
    async with serving(rig) as (url, _), httpx.AsyncClient(base_url=url, timeout=30) as client:
        asked = paths(rig)
        assert {"/api/v1/now", "/api/v1/events", "/healthz", "/metrics"} <= set(asked)
        for path in asked:
            async with client.stream("GET", path) as got:
                told = {name: text for name, text in got.headers.items() if name not in GENERATED}
                head = await client.head(path)
            assert (head.status_code, head.content) == (got.status_code, b""), path
            assert {name: text for name, text in head.headers.items() if name not in GENERATED} == told, path


async def test_of_a_document_it_tells_the_size(rig: Rig) -> None:
    async with serving(rig) as (url, _), httpx.AsyncClient(base_url=url) as client:
        client.headers["Accept-Encoding"] = "identity"
        size = len((await client.get("/api/v1/plan-schema")).content)
        assert (await client.head("/api/v1/plan-schema")).headers["content-length"] == str(size)


async def test_a_stream_ends_with_its_head(rig: Rig) -> None:
    async with serving(rig) as (url, _), httpx.AsyncClient(base_url=url, timeout=30) as client:
        for _ in range(events.MOST_EACH + 1):
            assert (await client.head("/api/v1/events")).status_code == 200


async def test_what_is_refused_is_refused(rig: Rig) -> None:
    async with serving(rig) as (url, _), httpx.AsyncClient(base_url=url) as client:
        assert (await client.head("/api/v1/now", headers=ELSEWHERE)).status_code == 401
        assert (await client.head("/", headers=ELSEWHERE)).status_code == 200
        posted = await client.head("/api/v1/invitations")
        assert (posted.status_code, posted.headers["allow"]) == (405, "POST")


@pytest.mark.parametrize("path", ["/api/v1/now", "/"])
async def test_one_connection_serves_more(rig: Rig, path: str) -> None:
    async with serving(rig) as (url, _), httpx.AsyncClient(base_url=url) as client:
        await client.head(path)
        assert (await client.get("/api/v1/now")).json()["findings"] == []
