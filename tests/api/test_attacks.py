"""Attacks over real connections: too much, too slow, too many, and odd ways to other files.

Each ends with the rig answering others, and nothing left behind. What is refused, and why, stands in
docs/threat-model.md.
"""

from __future__ import annotations

import asyncio
import itertools
import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from urllib.parse import quote, urlsplit

import httpx
import pytest

from api import connections, events
from api.server import Server
from controller.daemon import Rig
from controller.words.access import Rights
from tests.api.test_access import visitor
from tests.support.rigs import until
from tests.support.serving import serving

Wire = tuple[asyncio.StreamReader, asyncio.StreamWriter]


@asynccontextmanager
async def wires(url: str, count: int, first: bytes = b"") -> AsyncIterator[list[Wire]]:
    """So many connections, each of which has sent `first`."""
    host, port = urlsplit(url).hostname, urlsplit(url).port
    opened = [await asyncio.open_connection(host, port) for _ in range(count)]
    try:
        for _, writer in opened:
            writer.write(first)
        yield opened
    finally:
        for _, writer in opened:
            writer.transport.abort()


async def ended(wire: Wire) -> None:
    """Return once the far side has let go."""
    reader, _ = wire
    try:
        while await reader.read(65536):
            pass
    except ConnectionError:
        pass


async def all_ended(opened: list[Wire], server: Server) -> None:
    async with asyncio.timeout(60):
        await asyncio.gather(*(ended(wire) for wire in opened))
        await until(lambda: len(server.server_state.connections) <= 1)


HEAD = b"GET /api/v1/now HTTP/1.1\r\nHost: 127.0.0.1\r\n"
SLOW = {
    "nothing at all": b"",
    "a head that never ends": HEAD + b"X-A: b\r\n",
    "a body that never comes": HEAD.replace(b"GET", b"POST") + b"Content-Length: 1000\r\n\r\n{",
    "chunks that never end": HEAD.replace(b"GET /api/v1/now", b"POST /api/v1/plans")
    + b"Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n1\r\n{\r\n",
}


@pytest.mark.parametrize("sent", SLOW.values(), ids=SLOW)
async def test_two_hundred_slow_senders(rig: Rig, sent: bytes, monkeypatch: pytest.MonkeyPatch, caplog) -> None:
    """Others are answered meanwhile, and all two hundred are let go (the attack known as slowloris, and its kin)."""
    monkeypatch.setattr(connections, "REQUEST_S", 4.0)
    async with serving(rig) as (url, server), httpx.AsyncClient(base_url=url, timeout=60) as other:
        async with wires(url, 200, sent) as opened:
            for _ in range(5):
                assert (await other.get("/api/v1/now")).status_code == 200
            await all_ended(opened, server)
        assert (await other.get("/api/v1/now")).status_code == 200
    assert "Traceback" not in caplog.text


async def test_a_byte_now_and_then_buys_no_time(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "REQUEST_S", 1.0)
    async with serving(rig) as (url, _), wires(url, 1, HEAD) as [(reader, writer)]:

        async def drip() -> None:
            for n in itertools.count():
                writer.write(b"X-%d: y\r\n" % n)
                await asyncio.sleep(0.1)

        dripping = asyncio.create_task(drip())
        async with asyncio.timeout(30):
            await ended((reader, writer))
        dripping.cancel()


async def test_a_second_request_has_its_time_too(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    """One whole request, then one that never ends, on the same connection."""
    monkeypatch.setattr(connections, "REQUEST_S", 1.0)
    async with serving(rig) as (url, server), wires(url, 1, HEAD + b"\r\n") as [(reader, writer)]:
        assert (await reader.readuntil(b"\r\n")).startswith(b"HTTP/1.1 200")
        await asyncio.sleep(1.5)  # longer than a request may take, while nothing is asked
        writer.write(HEAD)
        await all_ended([(reader, writer)], server)


async def test_two_hundred_who_do_not_read(rig: Rig, monkeypatch: pytest.MonkeyPatch, caplog) -> None:
    """Event streams that nobody takes from, and large answers."""
    monkeypatch.setattr(connections, "TAKE_S", 2.0)
    monkeypatch.setattr(events.EventStream, "slow_s", 2.0)
    monkeypatch.setattr(events, "MOST", 250)
    async with serving(rig) as (url, server), httpx.AsyncClient(base_url=url, timeout=60) as other:
        async with wires(url, 200, HEAD.replace(b"now", b"events") + b"\r\n") as opened:
            await until(lambda: rig.hub.listeners >= 150)
            for _, writer in opened:
                writer.transport.pause_reading()  # type: ignore[attr-defined]
            note = (await rig.now()).model_copy(update={"attention": ["x" * 200_000]})
            async with asyncio.timeout(120):
                while len(server.server_state.connections) > 1:
                    rig.hub.publish("now", note)
                    await asyncio.sleep(0.2)
                    assert (await other.get("/api/v1/session")).status_code == 200
        assert len(opened) == 200
    assert "Traceback" not in caplog.text


async def test_one_address_holds_few_connections(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "loopback", lambda host: False)
    async with serving(rig) as (url, server):
        async with wires(url, connections.MOST_EACH) as held:
            await until(lambda: len(server.server_state.connections) == len(held))
            async with wires(url, 1, HEAD + b"\r\n") as [(reader, _)]:
                answer = await reader.read()
        await until(lambda: not server.server_state.connections)
        async with httpx.AsyncClient() as client:
            assert (await client.get(f"{url}/api/v1/now")).status_code == 200
    assert answer.startswith(b"HTTP/1.1 503 ")
    assert b'"code":"too-many-connections"' in answer


async def test_what_is_no_http_is_a_problem_too(rig: Rig) -> None:
    """As a TLS client's first bytes would be (RFC 8446, section 5.1)."""
    async with (
        serving(rig) as (url, _),
        wires(url, 1, b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\r\n\r\n") as [(reader, _)],
    ):
        answer = await reader.read()
    assert answer.startswith(b"HTTP/1.1 400 ")
    assert b"application/problem+json" in answer


async def test_one_session_follows_few_streams(rig: Rig) -> None:
    admitted = await rig.access.admit("phone", Rights.VIEW)
    right = {"Authorization": f"Bearer {admitted.secret}"}
    async with serving(rig) as (url, _), httpx.AsyncClient(base_url=url, timeout=60, headers=right) as client:
        head = HEAD.replace(b"now", b"events") + b"Authorization: Bearer " + admitted.secret.encode() + b"\r\n\r\n"
        async with wires(url, events.MOST_EACH, head):
            await until(lambda: rig.hub.listeners == events.MOST_EACH)
            answer = await client.get("/api/v1/events")
            assert (answer.status_code, answer.json()["code"]) == (503, "too-many-listeners")
            assert answer.json()["remedy"]
            assert answer.headers["retry-after"]
        await until(lambda: not events.EventStream._open)
        async with client.stream("GET", "/api/v1/events") as stream:
            assert stream.status_code == 200


async def test_all_together_follow_so_many(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(events, "MOST", 5)
    async with serving(rig) as (url, _), wires(url, 5, HEAD.replace(b"now", b"events") + b"\r\n"):
        await until(lambda: rig.hub.listeners == 5)
        async with httpx.AsyncClient(base_url=url) as client:
            assert (await client.get("/api/v1/events")).status_code == 503
            assert (await client.get("/api/v1/now")).status_code == 200


async def test_a_huge_body_without_a_length_is_not_taken(rig: Rig) -> None:

    async def endless() -> AsyncIterator[bytes]:
        while True:
            yield b" " * 65536

    async with serving(rig) as (url, server), httpx.AsyncClient(base_url=url, timeout=60) as client:
        try:
            answer = await client.post("/api/v1/plans", content=endless(), headers={"Content-Type": "application/json"})
            assert answer.status_code == 413
        except httpx.TransportError:  # it hung up while we were sending
            pass
        await until(lambda: not server.server_state.connections)
    assert await rig.store.plans() == {}


@pytest.mark.parametrize("kind", ["application/json", "application/toml"])
@pytest.mark.parametrize("one", ["[", '{"a":'])
async def test_tables_in_tables_without_end(client: httpx.AsyncClient, kind: str, one: str) -> None:
    body = one * 20_000
    text = f"a = {body}" if kind.endswith("toml") else body
    answer = await client.post("/api/v1/plans", content=text, headers={"Content-Type": kind})
    assert answer.status_code in (400, 422), answer.text
    assert answer.json()["code"]


SECRET = "pyproject.toml"
UPS = [
    "..",
    "%2e%2e",
    ".%2e",
    "%252e%252e",
    "..%00",
    "%c0%ae%c0%ae",
    "%uff0e%uff0e",
    "．．",
    "..;",
    "....",
    "%2e%2e%20",
]
SLASHES = ["/", "%2f", "\\", "%5c", "%252f", "%c0%af", "//", "/./"]


@pytest.mark.parametrize("before", ["/", "/js/", "/api/v1/../", "/api/v1/plans/", "/api/v1/shoots/"])
async def test_no_path_leads_to_another_file(rig: Rig, before: str) -> None:
    """Path traversal, up to four steps up, in every way to write it that is known to us (from memory)."""
    async with visitor(rig) as stranger, visitor(rig, "127.0.0.1", "localhost") as here:
        for up, slash, depth in itertools.product(UPS, SLASHES, (1, 2, 4)):
            raw = before + quote((up + slash) * depth, safe="%/\\;.") + SECRET
            for client in (stranger, here):
                answer = await client.get(httpx.URL("http://192.0.2.2:8760", raw_path=raw.encode()))
                assert answer.status_code in (400, 401, 403, 404, 405, 422), raw
                assert "[project]" not in answer.text
                assert "root:" not in answer.text


async def test_a_revoked_cookie_is_worth_nothing(rig: Rig) -> None:
    """Replay of what a device showed before its access was taken."""
    async with visitor(rig) as phone:
        code = rig.access.invite().code
        session = (await phone.post("/api/v1/session", json={"code": code})).json()["session"]["id"]
        cookie = phone.cookies["duskhand"]
        assert (await phone.get("/api/v1/now")).status_code == 200
        await rig.access.revoke(session)
    async with visitor(rig, "192.0.2.99") as thief:
        for header in ({"Cookie": f"duskhand={cookie}"}, {"Authorization": f"Bearer {cookie}"}):
            assert (await thief.get("/api/v1/now", headers=header)).status_code == 401
            assert (await thief.post("/api/v1/invitations", json={}, headers=header)).status_code == 401


async def test_until_somebody_is_paired_only_the_door_answers_other_machines(rig: Rig) -> None:
    """Whatever address it listens on: no code is waited for, nobody has access, and no guess is one."""
    assert rig.access.sessions == []
    async with visitor(rig) as stranger:
        assert (await stranger.get("/")).status_code == 200
        assert (await stranger.get("/api/v1/now")).status_code == 401
        for guess in ("", "AAAA-AAAA", "0" * 40):
            answer = await stranger.post("/api/v1/session", json={"code": guess})
            assert (answer.status_code, "no code is waited for" in answer.text) == (403, True)
        for secret in ("", "null", "undefined", "0" * 43):
            assert (await stranger.get("/api/v1/now", headers={"Cookie": f"duskhand={secret}"})).status_code == 401


@pytest.mark.parametrize("path", ["/", "/js/page.js", "/page.css", "/icon.svg", "/api/v1/now", "/nowhere", "/metrics"])
@pytest.mark.parametrize("here", [True, False])
async def test_every_answer_is_sealed(rig: Rig, path: str, here: bool) -> None:
    """Content Security Policy Level 3; no script, style, frame or form but the page's own."""
    async with visitor(rig, "127.0.0.1" if here else "192.0.2.7", "localhost") as client:
        answer = await client.get(path)
    policy = dict(rule.strip().split(" ", 1) for rule in answer.headers["content-security-policy"].split(";"))
    assert policy["default-src"] == (
        "'self'" if answer.status_code == 200 and not path.startswith(("/api", "/m")) else "'none'"
    )
    assert (policy["frame-ancestors"], policy["base-uri"], policy["form-action"]) == ("'none'",) * 3
    assert "unsafe" not in answer.headers["content-security-policy"]
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["cross-origin-resource-policy"] == "same-origin"
    assert answer.headers["referrer-policy"] == "no-referrer"
    assert "access-control-allow-origin" not in answer.headers
    assert "server" not in answer.headers


async def test_the_log_says_nothing_of_a_flood(rig: Rig, caplog: pytest.LogCaptureFixture) -> None:
    """A thousand broken requests fill no log."""
    with caplog.at_level(logging.DEBUG):
        async with serving(rig) as (url, server):
            for _ in range(20):
                async with wires(url, 50, b"\x00\r\n\r\n"):
                    await until(lambda: not server.server_state.connections)
    assert len([record for record in caplog.records if record.name.startswith(("uvicorn", "api"))]) < 50
