"""Work that ends with the request that asked for it."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from typing import Any, TypeVar

from fastapi import Request
from starlette.exceptions import HTTPException

T = TypeVar("T")

LOOK_S = 0.5


async def while_asked(request: Request, work: Coroutine[Any, Any, T]) -> T:
    """What `work` answers; cancelled once the client has gone."""
    task = asyncio.create_task(work)
    try:
        while not task.done():
            await asyncio.wait({task}, timeout=LOOK_S)
            if not task.done() and await request.is_disconnected():
                raise HTTPException(499, "the client has gone")
        return task.result()
    finally:
        if not task.done():
            task.cancel()
            await asyncio.wait({task})
