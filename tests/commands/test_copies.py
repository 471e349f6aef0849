"""`duskhand copies`, asked of a service over HTTP."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path

import pytest

from controller.commands import main
from tests.support.copy_rig import hasten, name_places
from tests.support.rigs import Evening
from tests.support.serving import serving

NOWHERE = "ptpip:127.0.0.1:1:1"


@pytest.fixture(autouse=True)
def hasty(monkeypatch: pytest.MonkeyPatch) -> None:
    hasten(monkeypatch)


async def told(capsys: pytest.CaptureFixture[str], url: str, *more: str) -> str:
    assert await asyncio.to_thread(main, ["copies", "--rig", url, *more]) == 0
    return capsys.readouterr().out


async def test_what_is_named_away_and_wrong_is_said_in_lines(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    directory = tmp_path / "rig"
    async with Evening().rig(tmp_path, NOWHERE) as rig, serving(rig) as (url, _):
        assert "No second place is named" in await told(capsys, url)

        name_places(directory, shed={"kind": "directory", "path": str(tmp_path / "mnt")})
        text = await told(capsys, url, "--again")
        assert text == "shed: 0 frames verified (0 MB), 0 frames waiting (0 MB)\n"
        answer = json.loads(await told(capsys, url, "--json"))
        assert [place["name"] for place in answer["places"]] == ["shed"]
        assert (await rig.now()).places[0].name == "shed"

        (directory / "places.toml").chmod(0o644)
        text = await told(capsys, url, "--again")
        assert text.startswith("Nothing is copied: ")
        assert "chmod 600" in text
        assert text.count("\n") == 1
        assert (await rig.now()).places_trouble is not None
        assert rig.healthz()["ok"]  # it stops copies alone


def test_no_service_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["copies", "--rig", "http://127.0.0.1:1"]) == 1
    assert capsys.readouterr().err.count("\n") == 1
