"""A whole rig whose camera is not there, and a client of its API in the same process."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path

import httpx
import pytest

from api import create_app
from controller.daemon import Rig
from tests.support.rigs import Evening

NOWHERE = "ptpip:127.0.0.1:1:1"
"""An address at which nobody answers."""


@pytest.fixture
async def rig(tmp_path: Path) -> AsyncIterator[Rig]:
    async with Evening().rig(tmp_path, NOWHERE) as rig:
        yield rig


@pytest.fixture
async def client(rig: Rig) -> AsyncIterator[httpx.AsyncClient]:
    transport = httpx.ASGITransport(create_app(rig), raise_app_exceptions=False)
    async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
        yield client
