"""What the engine asks of a frame log and of whoever is told: SQLite and the event stream, or a rehearsal's memory."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any, Protocol

from pydantic import BaseModel

from controller.store.tone_curves import BodyKey, ToneCurve
from controller.words.documents import Frame, FrameCounts, Note, Shoot


class Log(Protocol):
    """Implemented by controller.store.Store, where each call is described; every call may raise StoreError."""

    async def change_shoot(self, shoot: str, **fields: Any) -> Shoot: ...

    async def counts(self, shoot: str, camera: str | None = None) -> FrameCounts: ...

    async def intend(self, frame: Frame) -> int: ...

    async def add_missed(self, missed: list[Frame]) -> list[int]: ...

    async def change_frame(self, shoot: str, seq: int, camera: str, **fields: Any) -> Frame: ...

    async def withdraw(self, shoot: str, seq: int, camera: str) -> None: ...

    async def frames(
        self, shoot: str, after: int = 0, limit: int = 500, camera: str | None = None, *, named: bool = False
    ) -> list[Frame]: ...

    async def last_frame(self, shoot: str, camera: str | None = None) -> Frame | None: ...

    async def open_frames(self, shoot: str, camera: str | None = None) -> list[Frame]: ...

    async def unfetched(
        self, shoot: str, start: int, limit: int, every: int = 1, camera: str | None = None
    ) -> list[Frame]: ...

    async def unnamed(self, shoot: str, paths: Collection[str], camera: str) -> set[str]: ...

    async def note(self, note: Note) -> Note: ...

    async def notes(self, shoot: str | None = None, limit: int = 200, kind: str | None = None) -> list[Note]: ...

    async def put_curve(self, body: BodyKey, curve: ToneCurve) -> None: ...

    async def curve(self, body: BodyKey) -> ToneCurve | None: ...


class Teller(Protocol):
    """Implemented by engine.hub.Hub."""

    def publish(self, kind: str, document: BaseModel) -> None: ...
