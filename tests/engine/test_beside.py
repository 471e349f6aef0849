"""Frames that belong to no slot, with a camera of this test's own."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from controller.camera.messages import Gone, Preview, Release, Released, Report, Settled, Written
from controller.decide.exposure import triple
from controller.engine.beside import Beside
from controller.words.clock import WallClock
from controller.words.errors import CameraError

LOST = Gone("camera-lost", "it was lost", "Look at its cable", [])


class Body:
    """Answers an order at once with these reports."""

    id = "camera-1"

    def __init__(self, *answers: Report) -> None:
        self.answers, self.orders = answers, list[Release]()
        self.beside = Beside(self, WallClock(), Path("/nowhere"))  # type: ignore[arg-type]

    async def release(self, order: Release) -> None:
        self.orders.append(order)
        for answer in self.answers:
            self.beside.heard(answer)

    async def take(self) -> Any:
        return await self.beside.take(triple(0.1, 2.8, 100.0))


def told(seq: int) -> tuple[Report, ...]:
    came = [Settled(seq, 0.125, 2.8, 100.0, 0.01), Released(seq, 1.0, 0.1), Written(seq, ["/a.JPG"], 1.3)]
    return (*came, Preview(seq, b"jpeg"))


async def test_what_is_heard_while_none_is_taken_is_not_kept() -> None:
    """A camera that comes and goes for a season, and the late picture of a frame before."""
    body = Body(*told(-1))
    for _ in range(1000):
        assert not body.beside.heard(LOST)
        assert body.beside.heard(Preview(-7, b"late"))
    assert body.beside._reports.empty()
    picture = await body.take()
    assert (picture.preview.jpeg, picture.exposure.shutter_s, body.beside.files) == (b"jpeg", 0.125, ["/a.JPG"])
    body.beside.heard(LOST)
    body.answers = told(-2)
    assert (await body.take()).preview.seq == -2


async def test_a_loss_while_one_is_taken_ends_it() -> None:
    body = Body(LOST)
    with pytest.raises(CameraError, match="it was lost"):
        await body.take()
    assert body.beside.given_up()
