"""Live view to a browser: one JPEG after another in the place of the last (multipart/x-mixed-replace)."""

from __future__ import annotations

from collections.abc import AsyncGenerator
from contextlib import aclosing
from typing import Self

from api.patient import PatientStream

_BOUNDARY = "picture"


class LiveStream(PatientStream):
    """Ends the looking with the connection."""

    slow_s, of = 10.0, "live view"

    @classmethod
    async def begin(cls, pictures: AsyncGenerator[bytes]) -> Self:
        """With the first picture there, so that a camera which gives none is an error and no empty stream."""
        try:
            first = await anext(pictures)
        except StopAsyncIteration:
            first = b""
        except BaseException:
            await pictures.aclose()
            raise
        kind = f"multipart/x-mixed-replace; boundary={_BOUNDARY}"
        return cls(_parts(first, pictures), media_type=kind, headers={"Cache-Control": "no-store"})


async def _parts(first: bytes, pictures: AsyncGenerator[bytes]) -> AsyncGenerator[bytes]:
    async with aclosing(pictures):
        if first:
            yield _part(first)
        async for jpeg in pictures:
            yield _part(jpeg)


def _part(jpeg: bytes) -> bytes:
    head = f"--{_BOUNDARY}\r\nContent-Type: image/jpeg\r\nContent-Length: {len(jpeg)}\r\n\r\n"
    return head.encode() + jpeg + b"\r\n"
