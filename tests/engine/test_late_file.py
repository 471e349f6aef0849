"""The second file of a RAW+JPEG pair that is told after all was done for the first, against the real log."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from controller.camera.messages import Fetched, Written
from controller.engine.book import Book
from controller.engine.hub import Hub
from controller.engine.reports import Reports
from controller.store import Store
from controller.words.clock import WallClock
from controller.words.documents import FrameState
from tests.store import samples

JPEG, RAW = "/DCIM/100DUSKH/DUSK0001.JPG", "/DCIM/100DUSKH/DUSK0001.DNG"
SHA = "0123456789abcdef" * 4


@pytest.mark.parametrize("fetched", [True, False], ids=["the first was fetched", "nothing is fetched"])
async def test_it_is_recorded(tmp_path: Path, fetched: bool) -> None:
    async with await Store.open(tmp_path / "frames.sqlite3") as store:
        await store.add_shoot(samples.shoot())
        book = Book(samples.SHOOT, store, Hub("run"), camera=samples.CAMERA)
        await book.intend(samples.due(1), 5)
        run: Any = SimpleNamespace(
            book=book,
            directory=tmp_path,
            resumed=False,
            clock=WallClock(),
            camera=SimpleNamespace(opened=None, id=samples.CAMERA, listen=lambda _: None),
            plan=SimpleNamespace(files=SimpleNamespace(fetch_of=lambda _: "all" if fetched else "none", every=None)),
            recovery=SimpleNamespace(ashore=lambda _: None),
            waker=SimpleNamespace(wake=lambda: None),
            slots=SimpleNamespace(),
            shoot=SimpleNamespace(id=samples.SHOOT),
        )
        reports = Reports(run, SimpleNamespace(keeping={}))  # type: ignore[arg-type]
        await book.change(1, state=FrameState.RELEASED)
        await reports.take(Written(1, [JPEG], 0.0))
        if fetched:
            await reports.take(Fetched(1, JPEG, str(tmp_path / "000001.JPG"), 100, SHA))
        else:
            book.forget(1)
        assert not book.frames

        await reports.take(Written(1, [JPEG, RAW], 0.0))
        (row,) = await store.frames(samples.SHOOT)
        assert (row.state, row.camera_file, row.companion_file) == (FrameState.WRITTEN, JPEG, RAW)
        if fetched:
            await reports.take(Fetched(1, RAW, str(tmp_path / "000001.DNG"), 300, SHA[::-1]))
            (row,) = await store.frames(samples.SHOOT)
            assert (row.state, row.bytes, row.local_file, row.sha256) == (FrameState.FETCHED, 400, "000001.JPG", SHA)
        assert book.counts == await store.counts(samples.SHOOT)
