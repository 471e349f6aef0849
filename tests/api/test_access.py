"""The door: who is let in, and what is refused. Attacks by name; the rules are docs/threat-model.md's.

Cookies by RFC 6265 and its successor draft (HttpOnly, SameSite); bearer tokens by RFC 6750; Fetch Metadata and Origin
by the specifications of W3C and WHATWG.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import httpx
import pytest

from api import create_app
from controller.daemon import Rig
from controller.engine.access import CODE_S, TRIES, Access
from controller.words.access import Rights
from controller.words.errors import StoreError
from tests.support.serving import PLAN, serving

SESSION, INVITE, SESSIONS = "/api/v1/session", "/api/v1/invitations", "/api/v1/sessions"
CHANGES = [
    ("POST", "/api/v1/plans"),
    ("PUT", "/api/v1/plans/evening"),
    ("DELETE", "/api/v1/plans/evening"),
    ("POST", "/api/v1/shoots"),
    ("POST", "/api/v1/shoots/x/stop"),
    ("PUT", "/api/v1/cameras/camera-1/settings"),
    ("POST", INVITE),
    ("POST", SESSIONS),
    ("DELETE", "/api/v1/sessions/1"),
]


@asynccontextmanager
async def visitor(
    rig: Rig, address: str = "192.0.2.7", host: str = "192.0.2.2:8760"
) -> AsyncIterator[httpx.AsyncClient]:
    """A client at an address of the documentation's network (RFC 5737)."""
    transport = httpx.ASGITransport(create_app(rig), raise_app_exceptions=False, client=(address, 50_000))
    async with httpx.AsyncClient(transport=transport, base_url=f"http://{host}") as client:
        yield client


async def paired(rig: Rig, client: httpx.AsyncClient, rights: Rights = Rights.ALL) -> int:
    """Let that client in; its session's id."""
    code = rig.access.invite(rights).code
    answer = await client.post(SESSION, json={"code": code, "name": "phone"})
    assert answer.status_code == 201, answer.text
    return int(answer.json()["session"]["id"])


async def test_without_a_session_there_is_only_the_page_and_its_door(rig: Rig) -> None:
    async with visitor(rig) as stranger:
        assert (await stranger.get("/")).status_code == 200
        assert (await stranger.get("/js/page.js")).status_code == 200
        assert (await stranger.get(SESSION)).json() == {"rights": None, "session": None}
        for path in ("/api/v1/now", "/api/v1/events", "/api/v1/cameras", "/healthz", "/metrics", "/openapi.json"):
            answer = await stranger.get(path)
            problem = answer.json()
            assert (answer.status_code, problem["code"], bool(problem["remedy"])) == (401, "not-paired", True), path
            assert answer.headers["www-authenticate"].startswith("Bearer")
        for method, path in CHANGES:
            assert (await stranger.request(method, path, json={})).status_code == 401, path
    assert await rig.store.plans() == {}


async def test_a_code_lets_one_device_in_once(rig: Rig) -> None:
    """A replay of the code is refused."""
    async with visitor(rig) as phone, visitor(rig, "192.0.2.8") as other:
        code = rig.access.invite().code
        answer = await phone.post(SESSION, json={"code": code.lower().replace("-", " "), "name": "phone"})
        assert answer.status_code == 201
        cookie = answer.headers["set-cookie"].lower()
        assert "httponly" in cookie
        assert "samesite=strict" in cookie
        assert "secret" not in answer.text
        assert (await phone.get("/api/v1/now")).status_code == 200
        assert (await phone.post("/api/v1/plans", json=PLAN)).status_code == 201
        again = await other.post(SESSION, json={"code": code, "name": "thief"})
        assert (again.status_code, again.json()["code"]) == (403, "bad-code")
        assert (await other.get("/api/v1/now")).status_code == 401


async def test_guesses_are_few(rig: Rig) -> None:
    """Brute force: after a few wrong codes, by whomever, the right one is void too."""
    code = rig.access.invite().code
    for n in range(TRIES):
        async with visitor(rig, f"192.0.2.{10 + n}") as stranger:
            assert (await stranger.post(SESSION, json={"code": "AAAA-AAAA"})).status_code == 403
    async with visitor(rig) as phone:
        answer = await phone.post(SESSION, json={"code": code})
        assert (answer.status_code, answer.json()["code"]) == (403, "bad-code")


async def test_a_code_does_not_hold_for_long(rig: Rig) -> None:
    now = [0.0]
    access = Access(rig.store, mono=lambda: now[0])
    invitation = access.invite()
    now[0] = CODE_S + 1
    with pytest.raises(Exception, match="no code is waited for"):
        await access.pair(invitation.code, "phone")


async def test_who_may_look_changes_nothing(rig: Rig) -> None:
    async with visitor(rig) as client:
        await paired(rig, client, Rights.VIEW)
        assert (await client.get("/api/v1/now")).status_code == 200
        assert (await client.get(SESSION)).json()["rights"] == "view"
        for method, path in CHANGES:
            answer = await client.request(method, path, json={})
            assert (answer.status_code, answer.json()["code"]) == (403, "view-only"), path
        for path in ("live.mjpeg", "focus"):
            assert (await client.get(f"/api/v1/cameras/camera-1/{path}")).status_code == 403
    assert await rig.store.plans() == {}


async def test_tokens_are_for_scripts(rig: Rig, client: httpx.AsyncClient, monkeypatch: pytest.MonkeyPatch) -> None:
    made = (await client.post(SESSIONS, json={"name": "nightly copy"})).json()
    async with visitor(rig) as script:
        right = {"Authorization": f"Bearer {made['secret']}"}
        assert (await script.get("/api/v1/now", headers=right)).status_code == 200
        assert (await script.get("/api/v1/now", headers={"Authorization": "Bearer wrong"})).status_code == 401
        assert (
            await script.get("/api/v1/now", headers={"Authorization": f"Basic {made['secret']}"})
        ).status_code == 401
    listed = (await client.get(SESSIONS)).json()
    assert [one["name"] for one in listed] == ["nightly copy"]
    assert made["secret"] not in str(listed)
    monkeypatch.setenv("DUSKHAND_TOKEN", "a long word of one's own")
    async with visitor(rig) as script:
        right = {"Authorization": "Bearer a long word of one's own"}
        assert (await script.post("/api/v1/plans", json=PLAN, headers=right)).status_code == 201
        assert (await script.get("/api/v1/now", headers={"Authorization": "Bearer a long word"})).status_code == 401


async def test_what_is_kept_is_no_secret(rig: Rig, caplog: pytest.LogCaptureFixture) -> None:
    """Neither the log of the rig nor its messages hold what lets somebody in."""
    with caplog.at_level(logging.DEBUG):
        async with visitor(rig) as phone:
            code = rig.access.invite().code
            await phone.post(SESSION, json={"code": code})
            secret = phone.cookies["duskhand"]
            await phone.get("/api/v1/now")
    kept = rig.store.path.read_bytes() + rig.store.path.with_name(rig.store.path.name + "-wal").read_bytes()
    for word in (secret, code, code.replace("-", "")):
        assert word.encode() not in kept
        assert word not in caplog.text.replace("HTTP Request", "")


async def test_access_is_taken_away_at_once(rig: Rig, client: httpx.AsyncClient) -> None:
    async with visitor(rig) as phone:
        mine = await paired(rig, phone)
        assert (await client.delete(f"{SESSIONS}/{mine}")).status_code == 204
        assert (await phone.get("/api/v1/now")).status_code == 401
        assert (await client.delete(f"{SESSIONS}/{mine}")).json()["code"] == "no-such-session"
        other = await paired(rig, phone)
        assert (await phone.delete(SESSION)).status_code == 204
        assert other not in [session.id for session in rig.access.sessions]


async def test_a_stream_ends_with_its_session(rig: Rig) -> None:
    async with serving(rig) as (url, _), httpx.AsyncClient(base_url=url) as client:
        admitted = await rig.access.admit("phone", Rights.ALL)
        headers = {"Authorization": f"Bearer {admitted.secret}"}
        async with client.stream("GET", "/api/v1/events", headers=headers, timeout=60) as stream:
            lines = stream.aiter_lines()
            await anext(lines)
            await rig.access.revoke(admitted.session.id)
            async with asyncio.timeout(60):
                async for _ in lines:
                    rig.hub.publish("heartbeat", (await rig.now()))
        assert rig.access.sessions == []


async def test_a_log_that_takes_nothing_shuts_nobody_out(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    """When a device was seen is kept once an hour: with a full disk that hour's first request was answered by 500."""

    async def full(*_: object) -> None:
        raise StoreError("disk-full", "the disk is full")

    async with visitor(rig) as phone:
        await paired(rig, phone)
        later = rig.clock.utc() + 7200.0
        monkeypatch.setattr(rig.access, "_now_utc", lambda: later)
        monkeypatch.setattr(rig.store, "session_seen", full)
        assert (await phone.get("/api/v1/now")).status_code == 200
        assert rig.access.sessions[0].seen_utc == later


async def test_sessions_outlive_the_service(rig: Rig) -> None:
    async with visitor(rig) as phone:
        await paired(rig, phone)
        again = Access(rig.store)
        await again.load()
        assert [session.name for session in again.sessions] == ["phone"]
        assert await again.who(phone.cookies["duskhand"]) is not None


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://elsewhere.example"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Origin": "http://192.0.2.2:9999"},
    ],
)
async def test_pages_of_other_sites_change_nothing(
    rig: Rig, client: httpx.AsyncClient, headers: dict[str, str]
) -> None:
    """Cross-site requests: from a paired phone's browser, and from one on the rig itself."""
    async with visitor(rig) as phone:
        await paired(rig, phone)
        for browser in (phone, client):
            answer = await browser.post("/api/v1/plans", json=PLAN, headers=headers)
            assert (answer.status_code, answer.json()["code"]) == (403, "foreign-page")
        mine = {"Origin": "http://192.0.2.2:8760", "Sec-Fetch-Site": "same-origin"}
        assert (await phone.post("/api/v1/plans", json=PLAN, headers=mine)).status_code == 201
    if "Sec-Fetch-Site" in headers:
        answer = await client.get("/api/v1/cameras/camera-1/live.mjpeg", headers=headers)
        assert answer.status_code == 403


@pytest.mark.parametrize(
    ("address", "host", "headers", "let_in"),
    [
        ("127.0.0.1", "127.0.0.1:8760", {}, True),
        ("127.0.0.1", "localhost", {}, True),
        ("::1", "[::1]:8760", {}, True),
        ("::ffff:127.0.0.1", "127.0.0.1", {}, True),
        ("127.0.0.1", "rebound.example", {}, False),  # a name of somebody else's that was led here
        ("127.0.0.1", "127.0.0.1:8760", {"X-Forwarded-For": "192.0.2.9"}, False),  # passed on by a proxy
        ("127.0.0.1", "127.0.0.1:8760", {"Forwarded": "for=192.0.2.9"}, False),
        ("192.0.2.9", "127.0.0.1:8760", {}, False),
        ("192.0.2.9", "localhost", {"X-Forwarded-For": "127.0.0.1"}, False),
    ],
)
async def test_this_machine_is_told_from_others(
    rig: Rig, address: str, host: str, headers: dict[str, str], let_in: bool
) -> None:
    async with visitor(rig, address, host) as client:
        assert (await client.get("/api/v1/now", headers=headers)).status_code == (200 if let_in else 401)


@pytest.mark.parametrize(
    "path",
    [
        "/../pyproject.toml",
        "/..%2fpyproject.toml",
        "/%2e%2e/pyproject.toml",
        "/js/..%2f..%2fpyproject.toml",
        "/js/%2e%2e/%2e%2e/%2e%2e/etc/passwd",
        "//etc/passwd",
        "/js\\..\\..\\pyproject.toml",
    ],
)
async def test_paths_do_not_lead_out_of_the_page(rig: Rig, path: str) -> None:
    """Path traversal."""
    async with visitor(rig) as stranger:
        answer = await stranger.get(httpx.URL("http://192.0.2.2:8760", raw_path=path.encode()))
    assert answer.status_code in (401, 404)
    assert "duskhand" not in answer.text.replace("/duskhand", "") or "project" not in answer.text
    assert "root:" not in answer.text


async def test_a_huge_body_is_not_taken(rig: Rig) -> None:
    async with visitor(rig) as stranger:
        body = b'{"code": "' + b"A" * 1_000_000 + b'"}'
        answer = await stranger.post(SESSION, content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code == 413
    assert rig.access.sessions == []


async def test_there_is_an_end_to_devices(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("controller.engine.access.MOST_SESSIONS", 2)
    async with visitor(rig) as phone:
        await paired(rig, phone)
        await paired(rig, phone)
        answer = await phone.post(SESSION, json={"code": rig.access.invite().code})
    assert (answer.status_code, answer.json()["code"]) == (409, "too-many-sessions")
