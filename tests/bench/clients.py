"""Phones that look at a rig: event streams and requests at a steady rate, in a process of their own.

`python -m tests.bench.clients URL STREAMS REQUESTS_PER_S SECONDS` prints what they got as one JSON line.
"""

from __future__ import annotations

import asyncio
import json
import sys
import time

import httpx


async def stream(client: httpx.AsyncClient, url: str, until: float) -> int:
    """Events that one stream got."""
    count = 0
    async with client.stream("GET", f"{url}/api/v1/events", timeout=30) as answer:
        async for line in answer.aiter_lines():
            count += line.startswith("id:")
            if time.monotonic() > until:
                break
    return count


async def ask(client: httpx.AsyncClient, url: str, rate: float, until: float) -> list[float]:
    """Seconds that each request took, at `rate` a second."""
    took: list[float] = []
    running: set[asyncio.Task[None]] = set()

    async def one() -> None:
        begun = time.monotonic()
        (await client.get(f"{url}/api/v1/now", timeout=30)).raise_for_status()
        took.append(time.monotonic() - begun)

    due = time.monotonic()
    while due < until:
        await asyncio.sleep(max(0.0, due - time.monotonic()))
        task = asyncio.create_task(one())
        running.add(task)
        task.add_done_callback(running.discard)
        due += 1 / rate
    await asyncio.gather(*running)
    return took


async def main(url: str, streams: int, rate: float, seconds: float) -> None:
    until = time.monotonic() + seconds
    limits = httpx.Limits(max_connections=None)
    async with httpx.AsyncClient(limits=limits) as client:
        *events, took = await asyncio.gather(
            *(stream(client, url, until) for _ in range(streams)), ask(client, url, rate, until)
        )
    took.sort()
    print(
        json.dumps(
            {
                "streams": streams,
                "events_fewest": min(events),
                "requests": len(took),
                "request_p50_ms": round(took[len(took) // 2] * 1000, 2),
                "request_p99_ms": round(took[int(len(took) * 0.99)] * 1000, 2),
            }
        )
    )


if __name__ == "__main__":
    asyncio.run(main(sys.argv[1], int(sys.argv[2]), float(sys.argv[3]), float(sys.argv[4])))
