"""Clips of the same frames are told apart: by pixels, codec, bits, rate and steadying, and by when they were made."""

from __future__ import annotations

import asyncio
import re
from datetime import datetime
from zoneinfo import ZoneInfo

import httpx
import pytest

from controller.commands import main
from controller.daemon import Rig
from controller.words.layout import shoot_directory
from tests.api.test_clips import PLAN, ready
from tests.support.serving import log_frames

FORM = ("width", "height", "fps", "codec", "bits", "steadied")
AUCKLAND = {"latitude": -36.8, "longitude": 174.8, "timezone": "Pacific/Auckland"}


async def shot(client: httpx.AsyncClient, rig: Rig, count: int) -> str:
    at: str = (await client.post("/api/v1/shoots", json={"plan": PLAN | {"site": AUCKLAND}})).headers["location"]
    await log_frames(rig, at.rpartition("/")[2], count)
    return f"{at}/clips"


async def test_those_of_a_command_say_how_they_are_made(
    client: httpx.AsyncClient, rig: Rig, capsys: pytest.CaptureFixture[str]
) -> None:
    at = await shot(client, rig, 6)
    shoot = at.split("/")[-2]
    folder = rig.directory / shoot_directory(shoot)
    words = ["clip", shoot, "--dir", str(rig.directory), "--out"]
    for name, more in (("a.mp4", []), ("b.mp4", ["--codec", "hevc", "--bits", "10", "--fps", "12.5", "--no-steady"])):
        assert await asyncio.to_thread(main, [*words, str(folder / name), *more]) == 0
    told = {line["name"]: [line[key] for key in FORM] for line in (await client.get(at)).json()}
    assert told["a.mp4"] == [*told["a.mp4"][:2], 25.0, "h264", 8, True]
    assert told["b.mp4"] == [*told["a.mp4"][:2], 12.5, "hevc", 10, False]
    assert min(told["a.mp4"][:2]) >= 16
    (folder / "a.json").unlink()
    (line,) = [line for line in (await client.get(at)).json() if line["name"] == "a.mp4"]
    assert [line[key] for key in FORM] == [None] * len(FORM), "not known is not told"
    capsys.readouterr()


async def test_one_of_the_rig_says_so_too_and_is_named_by_the_places_clock(client: httpx.AsyncClient, rig: Rig) -> None:
    at = await shot(client, rig, 6)
    before = rig.clock.utc()
    asked = (await client.post(at, json={"codec": "hevc", "fps": 10, "steady": "off"})).json()
    assert [asked[key] for key in FORM] == [None] * len(FORM), "it is not made yet"
    line = await ready(client, at, asked["name"])
    assert [line[key] for key in FORM[2:]] == [10, "hevc", 8, False]
    assert line["width"] >= line["height"] >= 16
    (stamp,) = re.findall(r"made-(\d{4}-\d\d-\d\d-\d{6})\.mp4", line["name"])
    named = datetime.strptime(stamp, "%Y-%m-%d-%H%M%S").replace(tzinfo=ZoneInfo(AUCKLAND["timezone"]))
    assert int(before) <= named.timestamp() <= rig.clock.utc()
