"""Orders under an Idempotency-Key, as draft-ietf-httpapi-idempotency-key-header has it: done once, answered again."""

from __future__ import annotations

import asyncio
from typing import Any

import httpx
import pytest

from api import create_app, once
from controller.daemon import Rig
from controller.words.access import Rights
from controller.words.errors import StoreError
from tests.support.serving import PLAN, serving

SHOOTS = "/api/v1/shoots"
LATER = PLAN | {"when": {"start": "now+5h", "duration": "1h"}}


def keyed(key: str, token: str | None = None) -> dict[str, str]:
    return {"Idempotency-Key": key} | ({"Authorization": f"Bearer {token}"} if token else {})


async def started(client: httpx.AsyncClient) -> int:
    return len((await client.get(SHOOTS)).json())


async def test_an_order_that_comes_again_is_done_once(client: httpx.AsyncClient) -> None:
    answers = [await client.post(SHOOTS, json={"plan": LATER}, headers=keyed(key)) for key in ('"a-1"', '"a-1"', "a-1")]
    assert [answer.status_code for answer in answers] == [201] * 3
    assert answers[0].content == answers[1].content == answers[2].content
    assert answers[0].headers["location"] == answers[1].headers["location"]
    assert answers[1].headers["content-type"] == "application/json"
    assert await started(client) == 1


async def test_without_a_key_or_with_another_it_is_another(client: httpx.AsyncClient) -> None:
    plans = [LATER | {"name": f"evening-{n}", "when": {"start": f"now+{3 * n}h", "duration": "1h"}} for n in (1, 2, 3)]
    for plan, headers in zip(plans, ({}, {}, keyed("b")), strict=True):
        assert (await client.post(SHOOTS, json={"plan": plan}, headers=headers)).status_code == 201
    assert await started(client) == 3
    first, second = [await client.post("/api/v1/invitations", json={}, headers=keyed(key)) for key in ("c", "d")]
    again = await client.post("/api/v1/invitations", json={}, headers=keyed("c"))
    assert first.json() == again.json() != second.json()


async def test_two_at_once_are_one(client: httpx.AsyncClient) -> None:
    orders = [client.post(SHOOTS, json={"plan": LATER}, headers=keyed("one")) for _ in range(5)]
    answers = await asyncio.gather(*orders)
    assert {answer.status_code for answer in answers} == {201}
    assert len({answer.content for answer in answers}) == 1
    assert await started(client) == 1


async def test_a_link_that_breaks_while_it_is_done(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    start, came, go = rig.start_shoot, asyncio.Event(), asyncio.Event()

    async def slowly(plan: str | dict[str, Any]) -> object:
        came.set()
        await go.wait()
        return await start(plan)

    monkeypatch.setattr(rig, "start_shoot", slowly)
    async with serving(rig) as (url, _), httpx.AsyncClient(base_url=url, timeout=60) as client:
        body = {"json": {"plan": LATER}, "headers": keyed("a")}
        first = asyncio.create_task(httpx.AsyncClient(base_url=url).post(SHOOTS, **body))
        await came.wait()
        first.cancel()
        await asyncio.wait({first})
        again = asyncio.create_task(client.post(SHOOTS, **body))
        go.set()
        assert (await again).status_code == 201
        assert await started(client) == 1


async def test_a_key_for_something_else_is_refused(client: httpx.AsyncClient) -> None:
    assert (await client.post(SHOOTS, json={"plan": LATER}, headers=keyed("a"))).status_code == 201
    shoot = (await client.get(SHOOTS)).json()[0]["id"]
    for path, body in (
        (SHOOTS, {"plan": LATER | {"name": "other"}}),
        (f"{SHOOTS}/{shoot}/stop", {"plan": LATER}),
        (f"{SHOOTS}?x=1", {"plan": LATER}),
    ):
        refused = await client.post(path, json=body, headers=keyed("a"))
        assert (refused.status_code, refused.json()["code"]) == (422, "idempotency-key-used")
        assert refused.json()["remedy"]
    assert [shoot["state"] for shoot in (await client.get(SHOOTS)).json()] == ["waiting"]


@pytest.mark.parametrize("key", ["", '""', "x" * 65, "a\tb", "é"])
async def test_a_key_that_is_none(client: httpx.AsyncClient, key: str) -> None:
    headers = {"Idempotency-Key": key.encode("latin-1")}
    refused = await client.post(SHOOTS, json={"plan": LATER}, headers=headers)
    assert (refused.status_code, refused.json()["code"]) == (422, "bad-idempotency-key")
    assert await started(client) == 0


async def test_what_was_refused_is_told_again(client: httpx.AsyncClient) -> None:
    for _ in range(2):
        refused = await client.post(f"{SHOOTS}/none/stop", headers=keyed("a"))
        assert (refused.status_code, refused.json()["code"]) == (404, "no-such-shoot")
    too_large = "x" * (300 * 1024)
    for _ in range(2):
        answer = await client.post(SHOOTS, content=too_large, headers=keyed("b") | {"Content-Type": "application/json"})
        assert (answer.status_code, answer.json()["code"]) == (413, "too-large")


@pytest.mark.parametrize(("fault", "status"), [(RuntimeError("ours"), 500), (StoreError("disk-full", "full"), 503)])
async def test_where_the_rig_failed_it_is_tried_again(
    client: httpx.AsyncClient, rig: Rig, monkeypatch: pytest.MonkeyPatch, fault: Exception, status: int
) -> None:
    start, failing = rig.start_shoot, [True]

    async def fails_once(plan: str | dict[str, Any]) -> object:
        if failing and failing.pop():
            await asyncio.sleep(0.05)
            raise fault
        return await start(plan)

    monkeypatch.setattr(rig, "start_shoot", fails_once)
    orders = [client.post(SHOOTS, json={"plan": LATER}, headers=keyed("a")) for _ in range(3)]
    answers = await asyncio.gather(*orders)
    assert sorted(answer.status_code for answer in answers) == [201, 201, status]
    assert await started(client) == 1


async def test_keys_are_those_of_one_session(rig: Rig) -> None:
    transport = httpx.ASGITransport(create_app(rig))
    async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
        tokens = [(await rig.access.admit(name, Rights.ALL)).secret for name in ("one", "two")]
        codes = []
        for token in (*tokens, tokens[0], None):
            answer = await client.post("/api/v1/invitations", json={}, headers=keyed("same", token))
            assert answer.status_code == 201, answer.text
            codes.append(answer.json()["code"])
    assert codes[0] == codes[2]
    assert len(set(codes)) == 3


async def test_what_is_kept_has_bounds(client: httpx.AsyncClient, monkeypatch: pytest.MonkeyPatch) -> None:
    async def code(key: str) -> str:
        return str((await client.post("/api/v1/invitations", json={}, headers=keyed(key))).json()["code"])

    first = [await code(f"k{n}") for n in range(once.OF_A_SESSION + 1)]
    assert await code("k1") == first[1]
    assert await code("k0") != first[0]  # the oldest went, and so it was a new order
    monkeypatch.setattr(once, "KEPT_S", 0.0)
    assert await code("k5") != first[5]


async def test_what_lets_a_device_in_is_never_kept(client: httpx.AsyncClient, rig: Rig) -> None:
    told = {"code": "AAAA-AAAA", "name": "phone"}
    wrong = [await client.post("/api/v1/session", json=told, headers=keyed("a")) for _ in range(2)]
    assert wrong[0].status_code == wrong[1].status_code != 201
    code = (await client.post("/api/v1/invitations", json={})).json()["code"]
    let_in = await client.post("/api/v1/session", json={"code": code, "name": "phone"}, headers=keyed("a"))
    assert let_in.status_code == 201
    again = await client.post("/api/v1/session", json={"code": code, "name": "phone"}, headers=keyed("a"))
    assert "set-cookie" not in again.headers
    tokens = [await client.post("/api/v1/sessions", json={"name": "copy"}, headers=keyed("a")) for _ in range(2)]
    assert tokens[0].status_code == tokens[1].status_code == 201
    assert tokens[0].content != tokens[1].content


async def test_the_schema_names_the_header(client: httpx.AsyncClient) -> None:
    for _ in range(2):
        paths = (await client.get("/openapi.json")).json()["paths"]
        secret = ("/api/v1/session", "/api/v1/sessions")
        for path, calls in paths.items():
            for method, call in calls.items():
                named = [each["name"] for each in call.get("parameters", [])].count("Idempotency-Key")
                assert named == (method == "post" and path not in secret), (
                    method,
                    path,
                )
