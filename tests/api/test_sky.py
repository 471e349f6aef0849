"""The sky of a day over REST."""

from __future__ import annotations

import asyncio
import json
import sys
from datetime import datetime
from zoneinfo import ZoneInfo

import httpx
import pytest

from controller.daemon import Rig
from tests.support.serving import PLAN

AT = "/api/v1/sky"
HARBOUR = {"latitude": 57.7, "longitude": 11.95, "timezone": "Europe/Stockholm", "date": "2026-10-03"}
SVALBARD = {"latitude": 78.22, "longitude": 15.65, "timezone": "Arctic/Longyearbyen", "date": "2026-12-21"}
NOON_SUN_DEG = 90 - 57.7 - 4.0
"""Of that day at the harbour: by the sun's declination, 4.0° south (almanacs, from memory)."""


def seconds(text: str) -> float:
    return datetime.fromisoformat(text).timestamp()


async def test_it_is_what_the_command_prints(client: httpx.AsyncClient) -> None:
    options = ("--lat", "57.7", "--lon", "11.95", "--timezone", "Europe/Stockholm", "--date", "2026-10-03")
    code = "import sys; from controller.commands import main; sys.exit(main())"
    command = (sys.executable, "-c", code, "sky", *options, "--json")
    process = await asyncio.create_subprocess_exec(*command, stdout=asyncio.subprocess.PIPE)
    printed, answered = json.loads((await process.communicate())[0]), (await client.get(AT, params=HARBOUR)).json()
    assert answered.pop("words") == []
    assert printed.keys() == answered.keys()
    assert printed.pop("now").keys() == answered.pop("now").keys()  # each by its own clock
    assert printed == answered
    assert printed["sun_highest_deg"] == pytest.approx(NOON_SUN_DEG, abs=0.3)


async def test_words_have_their_clock_times(client: httpx.AsyncClient) -> None:
    words = ["sunset-45min", "nautical_dusk+30min", "18:20", "2026-10-04T06:00", "2026-10-04T06:00Z", "noon"]
    came = (await client.get(AT, params={**HARBOUR, "words": words})).json()
    told = {word["word"]: word for word in came["words"]}
    assert list(told) == words
    at = {event["name"]: seconds(event["utc"]) for event in came["events"]}
    assert seconds(told["sunset-45min"]["utc"]) == pytest.approx(at["sunset"] - 2700, abs=0.01)
    assert seconds(told["nautical_dusk+30min"]["utc"]) == pytest.approx(at["nautical_dusk"] + 1800, abs=0.01)
    assert told["18:20"]["utc"] == "2026-10-03T16:20:00.000Z"
    assert told["18:20"]["local"] == "2026-10-03T18:20:00+02:00"
    assert told["2026-10-04T06:00"]["utc"] == "2026-10-04T04:00:00.000Z"
    assert told["2026-10-04T06:00Z"]["utc"] == "2026-10-04T06:00:00.000Z"
    assert all(word["why"] is None for word in told.values())


async def test_words_that_name_no_moment_say_why(client: httpx.AsyncClient) -> None:
    words = ["sunset-45min", "sunst", "3h", "", "25:00", "noon"]
    came = (await client.get(AT, params={**SVALBARD, "words": words})).json()
    told = {word["word"]: word["why"] for word in came["words"]}
    assert told.pop("noon") is None
    assert "the sun stays below" in told["sunset-45min"]
    assert "sunset" in told["sunst"]
    assert all(why and "\n" not in why for why in told.values())
    assert [word["utc"] for word in came["words"][:-1]] == [None] * 5


async def test_now_and_today_are_the_rig_s(client: httpx.AsyncClient, rig: Rig) -> None:
    place = {key: value for key, value in HARBOUR.items() if key != "date"}
    came = (await client.get(AT, params={**place, "words": "now+10min"})).json()
    assert seconds(came["now"]["utc"]) == pytest.approx(rig.clock.utc(), abs=60)
    assert seconds(came["words"][0]["utc"]) == pytest.approx(seconds(came["now"]["utc"]) + 600)
    local = datetime.fromtimestamp(seconds(came["now"]["utc"]), ZoneInfo("Europe/Stockholm"))
    assert came["date"] == local.date().isoformat()


async def test_the_rig_s_own_place(client: httpx.AsyncClient) -> None:
    refused = await client.get(AT)
    assert (refused.status_code, refused.json()["code"]) == (422, "no-place")
    await client.post("/api/v1/shoots", json={"plan": PLAN})
    shot_at = (await client.get(AT)).json()
    assert (shot_at["latitude"], shot_at["longitude"]) == (PLAN["site"]["latitude"], PLAN["site"]["longitude"])
    svalbard = {key: SVALBARD[key] for key in ("latitude", "longitude", "timezone")}
    await client.put("/api/v1/defaults", json={"site": svalbard})
    assert (await client.get(AT)).json()["latitude"] == 78.22  # what the rig is told goes before a shoot
    assert (await client.get(AT, params={"timezone": "UTC"})).json()["timezone"] == "UTC"
    await client.put("/api/v1/defaults", json={})
    assert (await client.get(AT)).json()["latitude"] == PLAN["site"]["latitude"]


@pytest.mark.parametrize(
    ("params", "code"),
    [
        ({"latitude": 91, "longitude": 0}, "bad-place"),
        ({"latitude": "nan", "longitude": 0}, "bad-place"),
        ({"latitude": 57.7}, "bad-place"),
        ({"longitude": 11.95}, "bad-place"),
        ({**HARBOUR, "timezone": "Europe/Stokholm"}, "bad-timezone"),
        ({**HARBOUR, "timezone": "localtime"}, "bad-timezone"),
        ({**HARBOUR, "date": "1899-12-31"}, "bad-request"),
        ({**HARBOUR, "date": "today"}, "bad-request"),
        ({**HARBOUR, "words": "x" * 65}, "bad-request"),
        ({**HARBOUR, "words": ["noon"] * 51}, "bad-request"),
        ({**HARBOUR, "word": "noon"}, "unknown-parameter"),
    ],
)
async def test_bad_input_is_told_in_one_line(client: httpx.AsyncClient, params: dict[str, object], code: str) -> None:
    answer = await client.get(AT, params=params)
    assert (answer.status_code, answer.json()["code"]) == (422, code), answer.text
    assert answer.json()["detail"]
    assert "\n" not in answer.json()["detail"]
