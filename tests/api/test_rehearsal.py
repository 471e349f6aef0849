"""Rehearsals over REST: real processes of their own."""

from __future__ import annotations

import asyncio
import contextlib
import os
import sys
from datetime import datetime
from itertools import pairwise
from pathlib import Path

import httpx
import pytest

from controller.daemon import Rig
from controller.decide.plan import plan_from
from controller.rehearsal import cloudy, rehearse_now
from controller.words.documents import Frame
from tests.support.serving import PLAN, serving

PATH = "/api/v1/plans/evening/rehearsal"
SHORT = PLAN | {"when": {"start": "now", "frames": 40}}


@pytest.fixture
async def kept(client: httpx.AsyncClient) -> httpx.AsyncClient:
    assert (await client.post("/api/v1/plans", json=SHORT)).status_code == 201
    return client


async def test_a_rehearsal_of_a_kept_plan(kept: httpx.AsyncClient) -> None:
    answer = await kept.post(PATH)
    assert answer.status_code == 200, answer.text
    came = answer.json()
    assert came["summary"]["frames"] == 40
    assert came["summary"]["plan_name"] == "evening"
    assert len(came["curves"]["utc"]) == 40
    assert came["curves"]["every"] == 1
    steps = [b - a for a, b in pairwise(came["curves"]["utc"])]
    assert steps == pytest.approx(came["curves"]["interval_s"][:-1], abs=1e-3)


async def test_a_plan_that_is_not_kept(client: httpx.AsyncClient) -> None:
    asked = {"sky": "cloudy", "seed": 3, "card_bytes": 900_000_000}
    answer = await client.post("/api/v1/rehearsal", json={"plan": SHORT, **asked})
    assert answer.status_code == 200, answer.text
    assert (await client.get("/api/v1/plans")).json() == []
    await client.post("/api/v1/plans", json=SHORT)
    kept = (await client.post(PATH, json=asked)).json()["summary"]
    for summary in (answer.json()["summary"], kept):
        assert (summary["plan_name"], summary["frames"]) == ("evening", 30)
        assert list(summary["missed"]) == ["the card was full"]


async def test_its_body_is_the_kept_one_s_with_a_plan(client: httpx.AsyncClient) -> None:
    for body, where in (({}, "plan"), ({"plan": SHORT, "sky": "foggy"}, "sky"), ({"plan": SHORT, "x": 1}, "x")):
        problem = (await client.post("/api/v1/rehearsal", json=body)).json()
        assert (problem["status"], problem["code"]) == (422, "bad-request")
        assert where in problem["where"]
    assert (await client.post("/api/v1/rehearsal", json={"plan": "evening"})).status_code == 404


async def test_a_card_that_fills(kept: httpx.AsyncClient) -> None:
    came = (await kept.post(PATH, json={"sky": "cloudy", "seed": 3, "card_bytes": 900_000_000})).json()
    assert came["summary"]["frames"] == 30  # of 30 MB each
    assert list(came["summary"]["missed"]) == ["the card was full"]
    assert [bind["kind"] for bind in came["summary"]["binds"]][-1] == "card"
    assert "full" in came["notes"][-2]["text"] or "full" in came["notes"][-1]["text"]


async def test_it_is_the_rehearsal_that_the_engine_gives_here(kept: httpx.AsyncClient, rig: Rig) -> None:
    frames: list[Frame] = []
    came = (await kept.post(PATH, json={"sky": "cloudy", "seed": 3})).json()
    at = datetime.fromisoformat(came["summary"]["start_utc"]).timestamp()
    here = await asyncio.to_thread(
        rehearse_now, plan_from(SHORT), now_utc=at, weather=cloudy(3), on_frame=frames.append
    )
    assert here.summary.frames == came["summary"]["frames"]
    assert [f.exposure_ev for f in frames[3:]] == pytest.approx(came["curves"]["exposure_ev"][3:], abs=0.34)


async def test_clouds_of_one_s_own(kept: httpx.AsyncClient) -> None:
    clear = (await kept.post(PATH)).json()["curves"]["scene_ev"]
    dim = (await kept.post(PATH, json={"clouds": [[0, 0.25], [900, 0.25]]})).json()["curves"]["scene_ev"]
    offs = [a - b for a, b in zip(clear[15:], dim[15:], strict=True) if a is not None and b is not None]
    assert offs
    assert offs == pytest.approx([2.0] * len(offs), abs=0.15)  # a quarter of the light is two stops


async def test_one_at_a_time(kept: httpx.AsyncClient) -> None:
    answers = await asyncio.gather(*(kept.post(PATH) for _ in range(3)))
    assert sorted(answer.status_code for answer in answers) == [200, 409, 409]
    refused = next(answer for answer in answers if answer.status_code == 409).json()
    assert (refused["code"], bool(refused["remedy"])) == ("rehearsal-busy", True)
    assert (await kept.post(PATH)).status_code == 200


@pytest.mark.parametrize(
    ("body", "code", "where"),
    [
        ({"sky": "foggy"}, "bad-request", "sky"),
        ({"windows": 0}, "bad-request", "windows"),
        ({"seed": -1}, "bad-request", "seed"),
        ({"clouds": []}, "bad-request", "clouds"),
        ({"clouds": [[0, 1], [0, 1]]}, "bad-sky", "clouds[1]"),
        ({"clouds": [[0, 9]]}, "bad-request", "clouds"),
        ({"camera": "mine"}, "bad-request", "camera"),
    ],
)
async def test_bad_input_is_a_problem(kept: httpx.AsyncClient, body: dict, code: str, where: str) -> None:
    answer = await kept.post(PATH, json=body)
    problem = answer.json()
    assert (answer.status_code, problem["code"]) == (422, code)
    assert where in problem["where"]
    assert problem["remedy"]


async def test_a_plan_that_is_over_or_unknown(client: httpx.AsyncClient) -> None:
    assert (await client.post(PATH)).status_code == 404
    over = PLAN | {"when": {"start": "2001-01-01T10:00", "duration": "1h"}}
    await client.post("/api/v1/plans", json=over)
    answer = await client.post(PATH)
    assert (answer.status_code, answer.json()["code"]) == (422, "window-past")


async def test_it_ends_with_the_client_that_asked(rig: Rig) -> None:
    """A long one, given up after a moment: the next is answered at once, and no process is left behind."""
    async with serving(rig) as (url, _), httpx.AsyncClient(base_url=url) as client:
        long = PLAN | {"pace": {"kind": "steady", "interval_s": 2.0, "min_gap_s": 0.5}, "when": {"duration": "300d"}}
        assert (await client.post("/api/v1/plans", json=long)).status_code == 201
        with pytest.raises(httpx.ReadTimeout):
            await client.post(PATH, timeout=2.0)
        async with asyncio.timeout(20):
            while rig.rehearsals.busy:
                await asyncio.sleep(0.1)
        assert not _children("controller.aside")


async def test_it_ends_with_the_rig(tmp_path: Path) -> None:
    """The process of a rehearsal is killed with its parent, as SIGKILL leaves no time for good-byes."""
    code = (
        "import asyncio, os, sys\n"
        "async def main():\n"
        "    p = await asyncio.create_subprocess_exec(sys.executable, '-m', 'controller.aside', str(os.getpid()),"
        " stdin=asyncio.subprocess.PIPE)\n"
        "    await asyncio.sleep(3)\n"
        "    print(p.pid, flush=True)\n"
        "    os.kill(os.getpid(), 9)\n"
        "asyncio.run(main())\n"
    )
    parent = await asyncio.create_subprocess_exec(sys.executable, "-c", code, stdout=asyncio.subprocess.PIPE)
    out, _ = await parent.communicate()
    async with asyncio.timeout(20):
        while _alive(int(out)):
            await asyncio.sleep(0.05)


def _alive(pid: int) -> bool:
    try:
        return "Z" not in Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except OSError:
        return False


def _children(module: str) -> list[str]:
    found = []
    for path in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            parent = (path / "stat").read_text().rsplit(")", 1)[1].split()[1]
            if int(parent) == os.getpid() and module in (path / "cmdline").read_text():
                found.append(path.name)
    return found
