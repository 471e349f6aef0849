"""The event stream over real HTTP: a stream cannot be judged inside the process."""

import asyncio
import json
import re
import socket
from collections.abc import AsyncIterator
from dataclasses import dataclass

import httpx
import pytest

from api import events
from controller.daemon import Rig
from controller.engine.hub import BACKLOG
from controller.words.documents import Frame, Note, Now, Shoot
from tests.support.rigs import EVENING_UTC
from tests.support.serving import PLAN, serving


def frame(seq: int) -> Frame:
    return Frame(shoot="s1", seq=seq, camera="camera-1", due_utc=EVENING_UTC + seq, interval_s=1, state="released")


@dataclass
class Seen:
    kind: str = "message"
    data: str = ""
    id: str | None = None
    retry: str | None = None


async def read(response: httpx.Response) -> AsyncIterator[Seen]:
    """Events as HTML's 'event stream interpretation' reads them (WHATWG HTML, 9.2.6)."""
    seen = Seen()
    async for line in response.aiter_lines():
        if not line:
            yield seen
            seen = Seen()
            continue
        field, _, value = line.partition(":")
        value = value.removeprefix(" ")
        match field:
            case "event":
                seen.kind = value
            case "data":
                seen.data += value
            case "id":
                seen.id = value
            case "retry":
                seen.retry = value


async def test_now_comes_first_then_what_happens(rig: Rig) -> None:
    async with (
        serving(rig) as (url, _),
        httpx.AsyncClient(base_url=url) as client,
        client.stream("GET", "/api/v1/events") as response,
    ):
        assert response.headers["content-type"].startswith("text/event-stream")
        assert response.headers["cache-control"] == "no-store"
        assert response.headers["x-accel-buffering"] == "no"
        assert "content-encoding" not in response.headers
        stream = read(response)
        first = await anext(stream)
        assert (first.kind, first.id, first.retry) == ("now", None, str(events.RETRY_MS))
        assert Now.model_validate_json(first.data).shoot is None
        started = (await client.post("/api/v1/shoots", json={"plan": PLAN})).json()
        seen = [first]
        while seen[-1].kind != "shoot":
            seen.append(await anext(stream))
        assert Shoot.model_validate_json(seen[-1].data).id == started["id"]
        rig.hub.publish("frame", frame(1))
        while seen[-1].kind != "frame":
            seen.append(await anext(stream))
        assert Frame.model_validate_json(seen[-1].data).seq == 1
        assert len({event.id for event in seen}) == len(seen)


async def test_a_client_that_comes_back_gets_what_it_missed(rig: Rig) -> None:
    async with serving(rig) as (url, _), httpx.AsyncClient(base_url=url) as client:
        async with client.stream("GET", "/api/v1/events") as response:
            stream = read(response)
            await anext(stream)
            rig.hub.publish("frame", frame(1))
            last_id = (await anext(stream)).id
        assert last_id is not None
        for seq in (2, 3, 4):
            rig.hub.publish("frame", frame(seq))
        async with client.stream("GET", "/api/v1/events", headers={"Last-Event-ID": last_id}) as response:
            stream = read(response)
            assert json.loads((await anext(stream)).data)["event_id"] == rig.hub.last_id
            frames = [await anext(stream) for _ in range(3)]
            assert [json.loads(event.data)["seq"] for event in frames] == [2, 3, 4]


async def test_nothing_is_lost_between_the_first_now_and_the_first_event(rig: Rig) -> None:
    stream = events.follow(rig, None)
    await anext(stream)
    rig.hub.publish("frame", frame(1))  # happens after `now` was made, before the subscription begins
    assert b"event: frame" in await asyncio.wait_for(anext(stream), 5)
    await stream.aclose()
    assert rig.hub.listeners == 0


@pytest.mark.parametrize("last_id", ["other-3", "{run}-x", "{run}-999999", "", "\x07"])
async def test_an_id_that_means_nothing_starts_afresh(rig: Rig, last_id: str) -> None:
    stream = events.follow(rig, last_id.format(run=rig.hub.run))
    assert b"event: now" in await anext(stream)
    rig.hub.publish("frame", frame(1))
    assert b"event: frame" in await asyncio.wait_for(anext(stream), 5)
    await stream.aclose()


async def test_a_text_of_several_lines_stays_one_event(rig: Rig) -> None:
    async with (
        serving(rig) as (url, _),
        httpx.AsyncClient() as client,
        client.stream("GET", f"{url}/api/v1/events") as response,
    ):
        stream = read(response)
        await anext(stream)
        rig.hub.publish("note", Note(utc=0, kind="test", text="one\r\ntwo\rthree\n\nid: 7"))
        note = await anext(stream)
        assert Note.model_validate_json(note.data).text == "one\r\ntwo\rthree\n\nid: 7"


async def test_heartbeats_tell_a_quiet_rig_from_a_dead_link(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(events, "HEARTBEAT_S", 0.05)
    async with (
        serving(rig) as (url, _),
        httpx.AsyncClient() as client,
        client.stream("GET", f"{url}/api/v1/events") as response,
    ):
        stream = read(response)
        await anext(stream)
        seen = [await asyncio.wait_for(anext(stream), 5) for _ in range(5)]
    beats = [json.loads(event.data) for event in seen if event.kind == "heartbeat"]
    assert len(beats) >= 3
    assert beats[-1]["listeners"] == 1


async def test_a_client_that_leaves_is_forgotten(rig: Rig) -> None:
    async with serving(rig) as (url, _), httpx.AsyncClient() as client:
        async with client.stream("GET", f"{url}/api/v1/events") as response:
            await anext(read(response))
            assert await _until(lambda: rig.hub.listeners == 1)
        assert await _until(lambda: rig.hub.listeners == 0)


async def test_the_server_ends_promptly_while_clients_listen(rig: Rig) -> None:
    async with httpx.AsyncClient() as client, serving(rig) as (url, server):
        responses = [
            await client.send(client.build_request("GET", f"{url}/api/v1/events"), stream=True) for _ in range(3)
        ]
        assert await _until(lambda: rig.hub.listeners == 3)
        server.should_exit = True
        for response in responses:
            rest = [event async for event in read(response)]  # a stream cut off raises RemoteProtocolError here
            assert rest[0].kind == "now"


async def test_a_client_that_takes_nothing_is_let_go(
    rig: Rig, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(events.EventStream, "slow_s", 0.2)
    async with serving(rig) as (url, _):
        port = int(re.findall(r":(\d+)$", url)[0])
        with socket.create_connection(("127.0.0.1", port)) as client:
            client.sendall(b"GET /api/v1/events HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
            assert await _until(lambda: rig.hub.listeners == 1)
            long = Note(utc=0, kind="test", text="x" * 100_000)
            for _ in range(BACKLOG):  # 20 MB, more than the kernel takes on either side
                rig.hub.publish("note", long)
                await asyncio.sleep(0)
            assert await _until(lambda: rig.hub.listeners == 0)
    assert "took nothing" in caplog.text


async def _until(what) -> bool:
    """Whether it becomes so within a few seconds."""
    for _ in range(500):
        if what():
            return True
        await asyncio.sleep(0.01)
    return False
