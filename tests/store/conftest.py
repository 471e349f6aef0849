from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path

import pytest

from controller.store import Store
from tests.store.samples import shoot


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "frames.sqlite3"


@pytest.fixture
async def store(path: Path) -> AsyncIterator[Store]:
    async with await Store.open(path) as opened:
        await opened.add_shoot(shoot())
        yield opened
