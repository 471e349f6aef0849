"""A place that is let go of while its process is being started: places.toml read anew, beside a look at a copy."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from controller.copying.process import PlaceProcess
from controller.words.errors import CopyError


async def test_no_process_is_left_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    gate, real = asyncio.Event(), PlaceProcess._start
    started = []

    async def slow(self: PlaceProcess) -> asyncio.subprocess.Process:
        await gate.wait()
        started.append(await real(self))
        return started[-1]

    monkeypatch.setattr(PlaceProcess, "_start", slow)
    place = PlaceProcess({"kind": "directory", "path": str(tmp_path), "own_disk": True, "rate_kb_s": None}, tmp_path)
    asking = asyncio.create_task(place.ask(do="look", files=[]))
    await asyncio.sleep(0)
    await place.close()
    gate.set()
    with pytest.raises(CopyError, match="lets go"):
        await asking
    assert started[0].returncode is not None
