"""The log is closed in good order, whatever became of the page."""

from __future__ import annotations

from typing import Any

import pytest

from api.server import Server
from controller.commands.service import serving


class Rig:
    done = ""

    async def open(self) -> None:
        self.done += "opened "

    async def close(self) -> None:
        self.done += "closed"


async def test_a_page_that_failed_keeps_no_rig_from_being_closed(monkeypatch: pytest.MonkeyPatch) -> None:
    async def fails(*_: object) -> None:
        raise RuntimeError("planted")

    monkeypatch.setattr(Server, "run_until", fails)
    rig: Any = Rig()
    with pytest.raises(RuntimeError, match="planted"):
        async with serving(rig, "127.0.0.1", 0) as server:
            server._socket.close()
    assert rig.done == "opened closed"
