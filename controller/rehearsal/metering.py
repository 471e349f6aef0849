"""Metering in a rehearsal: the model camera's pictures are readings already; implements engine.metering.Meter."""

from __future__ import annotations

from collections.abc import Awaitable, Callable

from controller.camera.messages import Preview
from controller.decide.meter import Reading
from controller.decide.step import Slot
from controller.rehearsal.camera import ModelCamera


class ModelMetering:
    """The camera's curve is sRGB, which is known: there is nothing to learn, and no file to keep."""

    keeping: frozenset[int] = frozenset()
    looks: tuple[()] = ()

    def __init__(self, camera: ModelCamera) -> None:
        self._camera = camera

    async def take(self, report: Preview, slot: Slot | None) -> Reading:
        return self._camera.picture(report.seq)

    async def keep(self, report: Preview, late: Callable[[int, bool], Awaitable[None]]) -> bool:
        return False

    async def learn_from_steps(self) -> None: ...

    async def learn_from_bracket(self, start_utc: float) -> None: ...
