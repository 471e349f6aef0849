"""Films of some frames, of several shoots, and such as cannot be made, over REST."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path
from typing import Any

import av
import httpx
import pytest

from api import create_app
from controller.daemon import Rig
from controller.decide import clips as rules
from controller.words.layout import clips_directory
from tests.api.conftest import NOWHERE
from tests.api.test_clips import ready, shot
from tests.results.months import FIRST, SECOND, log
from tests.support.rigs import Evening

AT = f"/api/v1/shoots/{FIRST}/clips"
SMALL = {"steady": "off", "size": [162, 108]}


@pytest.fixture
async def site(tmp_path: Path) -> Any:
    async with Evening().rig(tmp_path, NOWHERE) as rig:
        await log(rig.store, rig.directory)
        transport = httpx.ASGITransport(create_app(rig), raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
            yield rig, client


async def test_series_joins_and_days(site: tuple[Rig, httpx.AsyncClient]) -> None:
    rig, client = site
    sun = {"series": "sun-azimuth=175", "within": 8, "skip": ["fog"], "shoots": [SECOND]}
    asked = {  # what the command makes of the same data: tests/commands/test_clip_series.py
        12: (sun, f"the sun's azimuth at 175°, without fog, joined with {SECOND}", "2026-12-05: fog"),
        13 * 3 - 2: (
            {"series": "hour-best", "skip": ["fog", "night"], "shoots": [SECOND]},
            f"the best frame of each hour, without fog and night, joined with {SECOND}",
            "39 of 156 frames left out: night",
        ),
        24: ({"days": "2026-12-02..2026-12-03"}, "2026-12-02 to 2026-12-03", "frames 22–24, 34–36: 162×108 pixels"),
        84 + 72: ({"shoots": [SECOND, FIRST, SECOND]}, f"joined with {SECOND}", "frame"),
    }
    for frames, (body, shows, remark) in asked.items():
        answer = await client.post(AT, json={**body, **SMALL})
        assert answer.status_code == 202, answer.text
        assert answer.json()["shows"] == shows
        line = await ready(client, AT, answer.json()["name"])
        assert (line["state"], line["frames"]) == ("ready", frames), line
        assert line["remarks"][0].startswith(remark)
        path = rig.directory / clips_directory(FIRST) / line["name"]
        with av.open(str(path)) as film:
            assert sum(1 for _ in film.decode(video=0)) == frames
        beside = json.loads(path.with_suffix(".json").read_bytes())  # where the report looks
        assert beside["remarks"][:1] == line["remarks"][:1]


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ({"series": "noon"}, "series: 'noon' is no series of frames. Write sun-azimuth=180"),
        ({"skip": ["rain"]}, "skip: 'rain' cannot be told from a picture"),
        ({"series": "sun-" * 30}, "...' is longer than 80 characters. Shorten it"),
        ({"days": "2026-05-01..2026-04-01"}, "days: 2026-05-01..2026-04-01 ends before it begins"),
        ({"within": 2}, "within: this is how far the sun may be off"),
        ({"days": "2027-01-01.."}, f"{FIRST}: no frame is left for the film"),
        ({"series": "sun-altitude=60,morning"}, "no frame is left for the film (2026-12-01 – 2026-12-07: the sun was"),
        ({"series": "sun-azimuth=10", "skip": ["fog"]}, "(2026-12-01 – 2026-12-07: no frame within 3° of it)"),
        ({"shoots": [""]}, "body.shoots.0: '' is too short"),
        ({"series": "hour-best", "source": "developed"}, "source: no frame has a RAW file on the rig"),
        ({"days": "2026-12-02", "retime": "nearest", "scene_s_per_s": 0.001}, "scene_s_per_s: each picture would"),
    ],
)
async def test_what_does_not_fit_is_refused_at_once(
    site: tuple[Rig, httpx.AsyncClient], body: dict[str, Any], said: str
) -> None:
    _, client = site
    answer = await client.post(AT, json=body)
    told = answer.json()
    assert answer.status_code == 422, answer.text
    assert said in f"{told.get('where', '')}: {told['detail']}. {told['remedy']}", told
    assert told["remedy"]
    assert "--" not in told["detail"] + told["remedy"]
    assert (await client.get(AT)).json() == []


async def test_half_a_character_is_no_shoot(site: tuple[Rig, httpx.AsyncClient]) -> None:
    """JSON can carry one half of a surrogate pair, which UTF-8 cannot (RFC 8259, section 8.2)."""
    headers = {"Content-Type": "application/json"}
    for body in ('{"shoots": ["\\ud800"]}', '{"camera": "\\ud800"}'):
        answer = await site[1].post(AT, content=body, headers=headers)
        assert (answer.status_code, answer.json()["code"]) == (422, "bad-request"), answer.text


async def test_another_shoot_that_is_not_there(site: tuple[Rig, httpx.AsyncClient]) -> None:
    answer = await site[1].post(AT, json={"shoots": ["2031-01-01-nowhere"]})
    assert (answer.status_code, answer.json()["code"]) == (404, "no-such-shoot")


async def test_a_film_that_is_too_slow_is_refused_at_once(client: httpx.AsyncClient, rig: Rig) -> None:
    at = await shot(client, rig, 20)
    for retime in ("nearest", "blend"):
        answer = await client.post(at, json={"retime": retime, "scene_s_per_s": 0.01})
        assert (answer.status_code, answer.json()["code"]) == (422, "bad-clip"), answer.text
        assert "each picture would stand for" in answer.json()["detail"]
    assert (await client.get(at)).json() == []
    assert (await client.post(at, json={"retime": "nearest", "scene_s_per_s": 50.0})).status_code == 202


async def test_a_series_wants_room_for_its_own_frames_alone(
    site: tuple[Rig, httpx.AsyncClient], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One frame of each of 7 days, not the 84 of the shoot."""
    rig, client = site
    wanted: list[int] = []
    real = rules.room_wanted

    def room(frames: int, small: bool, reserve: float) -> float:
        wanted.append(frames)
        return real(frames, small, reserve)

    monkeypatch.setattr(rules, "room_wanted", room)
    answer = await client.post(AT, json={"series": "sun-azimuth=175", "within": 8, **SMALL})
    await ready(client, AT, answer.json()["name"])
    answer = await client.post(AT, json={"series": "sun-azimuth=175", "within": 8, "skip": ["fog"], **SMALL})
    await ready(client, AT, answer.json()["name"])
    answer = await client.post(AT, json={"series": "hour-best", **SMALL})
    await ready(client, AT, answer.json()["name"])
    await asyncio.sleep(0)
    assert wanted == [7, 7, 28]
    assert rig.clips.trouble is None
