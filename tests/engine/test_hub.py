"""The event stream: complete for those who keep up, resumable for those who come back."""

import asyncio

from controller.engine.hub import BACKLOG, KEPT, Hub
from controller.words.documents import Note


def publish(hub: Hub, count: int) -> None:
    for n in range(count):
        hub.publish("note", Note(utc=n, kind="k", text=str(n)))


async def take(hub: Hub, count: int, last_id: str | None = None) -> list[str]:
    events = []
    async for event in hub.subscribe(last_id):
        events.append(event.id)
        if len(events) == count:
            return events
    return events


async def test_a_subscriber_gets_what_comes_in_order():
    hub = Hub("run")
    task = asyncio.create_task(take(hub, 3))
    await asyncio.sleep(0)
    publish(hub, 3)
    assert await task == ["run-1", "run-2", "run-3"]


async def test_a_subscriber_who_comes_back_gets_what_it_missed_and_then_what_is_new():
    hub = Hub("run")
    publish(hub, 5)
    task = asyncio.create_task(take(hub, 4, "run-2"))
    await asyncio.sleep(0)
    publish(hub, 1)
    assert await task == ["run-3", "run-4", "run-5", "run-6"]


async def test_ids_of_another_run_nonsense_and_ids_long_gone_start_afresh():
    hub = Hub("run")
    publish(hub, KEPT + 10)
    for last_id in ("before-3", "run-x", "", "run-2", "run--1", "run-²"):
        assert hub.missed_since(last_id) == []
    assert len(hub.missed_since("run-10")) == KEPT
    assert hub.missed_since(f"run-{KEPT + 10}") == []


async def test_a_subscriber_that_does_not_read_is_let_go_and_the_others_are_not():
    hub = Hub("run")
    slow, quick = hub.subscribe(), hub.subscribe()
    waiting = asyncio.create_task(anext(slow))
    reading = asyncio.create_task(anext(quick))
    await asyncio.sleep(0)
    for n in range(BACKLOG + 2):
        publish(hub, 1)
        assert (await reading).id == f"run-{n + 1}"
        reading = asyncio.create_task(anext(quick))
        await asyncio.sleep(0)
    await waiting
    assert [event.id async for event in slow] == []
    assert hub.listeners == 1
    hub.close()
    reading.cancel()


async def test_closing_ends_every_subscription():
    hub = Hub("run")
    task = asyncio.create_task(take(hub, 5))
    await asyncio.sleep(0)
    hub.close()
    assert await asyncio.wait_for(task, 1) == []
    assert hub.listeners == 0
