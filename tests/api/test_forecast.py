"""What a kept plan comes to, over REST."""

from __future__ import annotations

import httpx
import pytest

from controller.daemon import Rig
from controller.words.advice import PlanSummary
from controller.words.bodies import BodySeen
from tests.support.rigs import EVENING_UTC
from tests.support.serving import PLAN

EVENING = PLAN | {"name": "dusk", "when": {"start": "now", "duration": "1h"}}
AT = "/api/v1/plans/dusk/forecast"


@pytest.fixture
async def kept(client: httpx.AsyncClient) -> httpx.AsyncClient:
    assert (await client.post("/api/v1/plans", json=EVENING)).status_code == 201
    return client


async def test_the_whole_answer_in_one_document(kept: httpx.AsyncClient) -> None:
    answer = await kept.get(AT)
    assert answer.status_code == 200
    found = PlanSummary.model_validate(answer.json())
    window = found.windows[0]
    assert window.start_utc == pytest.approx(EVENING_UTC, abs=60)
    assert window.end_utc == pytest.approx(window.start_utc + 3600)
    assert found.frames == pytest.approx(3600 / EVENING["pace"]["interval_s"], abs=1)
    assert found.storage.assumed
    assert found.storage.rig_room_bytes
    assert found.answer is None


async def test_sizes_of_the_body_that_was_seen(kept: httpx.AsyncClient, rig: Rig) -> None:
    body = BodySeen(model="Camera One", serial="1", seen_utc=EVENING_UTC, frame_bytes=7e6, basis="fetched files")
    await rig.store.put_body(body)
    found = PlanSummary.model_validate((await kept.get(AT)).json())
    assert (found.storage.frame_bytes, found.storage.assumed) == (7e6, False)
    given = PlanSummary.model_validate((await kept.get(AT, params={"frame_bytes": 5e6})).json())
    assert given.storage.frame_bytes == 5e6


async def test_questions(kept: httpx.AsyncClient) -> None:
    clip = (await kept.get(AT, params={"clip_s": 10})).json()
    assert clip["answer"]["pace"]["interval_s"] == pytest.approx(14.4, abs=0.01)  # an hour over 250 frames
    assert clip["frames"] == pytest.approx(250, abs=1)
    interval = (await kept.get(AT, params={"interval_s": 10})).json()
    assert interval["answer"]["frames"] == pytest.approx(360, abs=1)
    card = (await kept.get(AT, params={"card_bytes": 3e9, "date": "2026-10-21"})).json()
    assert card["answer"]["frames"] == 100


async def test_a_plan_that_is_not_kept_comes_to_the_same(kept: httpx.AsyncClient) -> None:
    day = {"date": "2026-10-21"}  # of a day, or the clock between the two would tell them apart
    for asked in (day, day | {"clip_s": 10}, day | {"frame_bytes": 5e6}):
        answers = [
            await kept.get(AT, params=asked),
            await kept.post("/api/v1/forecast", json={"plan": EVENING, **asked}),
            await kept.post("/api/v1/forecast", json={"plan": "dusk", **asked}),
        ]
        one, *others = [answer.json() for answer in answers]
        assert one["frames"] > 0
        for other in others:
            assert other | {"storage": None} == one | {"storage": None}  # the disk's room moves
    other = EVENING | {"name": "other"}
    assert (await kept.post("/api/v1/forecast", json={"plan": other})).json()["plan"]["name"] == "other"
    assert (await kept.get("/api/v1/plans/other")).status_code == 404


async def test_what_it_leaves_out_is_the_rig_s(client: httpx.AsyncClient) -> None:
    bare = {key: value for key, value in EVENING.items() if key != "site"}
    refused = await client.post("/api/v1/forecast", json={"plan": bare})
    assert (refused.status_code, refused.json()["code"]) == (422, "bad-plan")
    await client.put("/api/v1/defaults", json={"site": EVENING["site"]})
    assert (await client.post("/api/v1/forecast", json={"plan": bare})).status_code == 200


@pytest.mark.parametrize("asked", [{}, {"plan": 3}, {"plan": EVENING, "clip": 3}, {"plan": EVENING, "clip_s": -1}])
async def test_a_body_that_is_wrong(client: httpx.AsyncClient, asked: dict[str, object]) -> None:
    answer = await client.post("/api/v1/forecast", json=asked)
    assert (answer.status_code, answer.json()["code"]) == (422, "bad-request")


async def test_a_parameter_that_is_none(kept: httpx.AsyncClient) -> None:
    answer = await kept.get(AT, params={"clips_s": 3})
    assert (answer.status_code, answer.json()["code"]) == (422, "unknown-parameter")
    assert "clip_s" in answer.json()["remedy"]


@pytest.mark.parametrize(
    ("params", "code"),
    [
        ({"clip_s": 10, "interval_s": 5}, "bad-request"),
        ({"clip_s": "soon"}, "bad-request"),
        ({"clip_s": "nan"}, "bad-request"),
        ({"clip_s": 86000}, "no-answer"),
        ({"interval_s": -1}, "bad-request"),
        ({"interval_s": 0.01}, "bad-plan"),
        ({"card_bytes": "inf"}, "bad-request"),
        ({"frame_bytes": 0}, "bad-request"),
        ({"date": "1999-12-31"}, "bad-request"),
        ({"date": "tomorrow"}, "bad-request"),
    ],
)
async def test_bad_input_is_told_in_one_line(kept: httpx.AsyncClient, params: dict[str, object], code: str) -> None:
    answer = await kept.get(AT, params=params)
    assert (answer.status_code, answer.json()["code"]) == (422, code)
    assert answer.json()["detail"]
    assert "\n" not in answer.json()["detail"]


async def test_the_name_of_no_plan(client: httpx.AsyncClient) -> None:
    assert (await client.get(AT)).status_code == 404
    assert (await client.post("/api/v1/forecast", json={"plan": "dusk"})).status_code == 404


async def test_less_than_a_byte_is_no_size(client: httpx.AsyncClient) -> None:
    assert (await client.post("/api/v1/plans", json=EVENING)).status_code == 201
    for query in ("frame_bytes=5e-324&card_bytes=1", "card_bytes=0.5", "clip_s=1e-300"):
        answer = await client.get(f"{AT}?{query}")
        assert (answer.status_code, answer.json()["code"]) == (422, "bad-request")
