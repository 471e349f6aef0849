"""Films of a shoot over REST."""

from __future__ import annotations

import asyncio
import json
from typing import Any

import httpx
import pytest

from controller.commands import main
from controller.daemon import Rig
from controller.decide import clips as rules
from controller.engine import clips as making
from controller.results.clip.memory import check_memory
from controller.words.clips import ClipKind, ClipRecord, ClipState
from controller.words.documents import Frame, FrameState
from controller.words.errors import BadInput
from controller.words.layout import clips_directory, shoot_directory
from tests.support.rigs import EVENING_UTC, plan, until
from tests.support.serving import log_frames, serving

PLAN = plan(interval_s=5.0, when={"start": "now+1d"})  # so that no slot comes between those that are logged


async def shot(client: httpx.AsyncClient, rig: Rig, count: int) -> str:
    at: str = (await client.post("/api/v1/shoots", json={"plan": PLAN})).headers["location"]
    await log_frames(rig, at.rpartition("/")[2], count)
    return f"{at}/clips"


async def ready(client: httpx.AsyncClient, at: str, name: str) -> dict[str, Any]:
    async with asyncio.timeout(300):
        while True:
            line = next(line for line in (await client.get(at)).json() if line["name"] == name)
            if line["state"] in ("ready", "failed"):
                return dict(line)
            await asyncio.sleep(0.05)


async def test_one_is_made_and_fetched_in_parts(client: httpx.AsyncClient, rig: Rig) -> None:
    at = await shot(client, rig, 20)
    assert (await client.get(at)).json() == []
    asked = await client.post(at, json={"fps": 10, "steady": "off"})
    assert (asked.status_code, asked.json()["state"], asked.json()["url"]) == (202, "waiting", None)
    line = await ready(client, at, asked.json()["name"])
    assert (line["state"], line["kind"], line["frames"], line["missing"]) == ("ready", "made", 18, 2)
    assert line["duration_s"] == pytest.approx(1.8)
    assert line["url"] == asked.headers["location"]

    def told() -> list[str]:
        events = rig.hub.missed_since(f"{rig.hub.run}-0")
        return [json.loads(event.data)["state"] for event in events if event.kind == "clip"]

    await until(lambda: told()[-1] == "ready")  # a moment after it stands on the disk
    assert told()[0] == "waiting"

    async with serving(rig) as (url, _), httpx.AsyncClient(base_url=url) as phone:
        whole = await phone.get(line["url"])
        assert (whole.status_code, whole.headers["content-type"]) == (200, "video/mp4")
        assert len(whole.content) == line["bytes"]
        assert "content-encoding" not in whole.headers
        # RFC 9110, 14.2 and 15.3.7: a part is 206, and says which one it is
        part = await phone.get(line["url"], headers={"Range": "bytes=4-11"})
        assert (part.status_code, part.content) == (206, whole.content[4:12])
        assert part.headers["content-range"] == f"bytes 4-11/{line['bytes']}"
        assert part.content[:4] == b"ftyp"  # ISO/IEC 14496-12, 4.3
        beyond = await phone.get(line["url"], headers={"Range": f"bytes={line['bytes']}-"})
        assert beyond.status_code == 416
        old = await phone.get(line["url"], headers={"Range": "bytes=0-1", "If-Range": '"another"'})
        assert old.status_code == 200  # 13.1.5: it has been replaced meanwhile, so all of it


async def test_a_fault_of_ours_is_told_and_not_tried_at_every_look(
    client: httpx.AsyncClient, rig: Rig, monkeypatch: pytest.MonkeyPatch
) -> None:
    tries = []

    async def fails(*_: object) -> dict[str, Any]:
        tries.append(1)
        raise ZeroDivisionError("planted")

    monkeypatch.setattr(rig.clips._maker, "make", fails)
    at = await shot(client, rig, 20)
    await client.post(at, json={"fps": 10, "steady": "off"})
    await until(lambda: rig.clips.trouble is not None)
    assert "internal trouble: planted" in str(rig.clips.trouble)
    for _ in range(5):
        await rig.clips.look()
        await asyncio.sleep(0)
    assert len(tries) == 1
    (line,) = (await client.get(at)).json()
    assert "planted" in line["why"]


async def test_films_that_a_command_made_are_listed_and_served_too(
    client: httpx.AsyncClient, rig: Rig, capsys: pytest.CaptureFixture[str]
) -> None:
    at = await shot(client, rig, 20)
    shoot = at.split("/")[-2]
    words = ["clip", shoot, "--dir", str(rig.directory), "--no-steady", "--fps", "10"]
    for more in ([], ["--camera", "camera-1", "--days", "..2126-10-20"]):
        assert await asyncio.to_thread(main, [*words, *more]) == 0
    whole, some = sorted((await client.get(at)).json(), key=lambda line: len(line["name"]))
    assert (whole["name"], some["name"]) == (f"{shoot}.mp4", f"{shoot}-to-2126-10-20.mp4")
    assert (whole["kind"], whole["state"], whole["frames"], whole["missing"]) == ("made", "ready", 18, 2)
    assert whole["duration_s"] == pytest.approx(1.8)
    film = await client.get(whole["url"])
    assert (film.status_code, len(film.content)) == (200, whole["bytes"])
    capsys.readouterr()


async def test_what_lies_beside_such_a_film_does_not_hide_the_others(client: httpx.AsyncClient, rig: Rig) -> None:
    at = await shot(client, rig, 3)
    folder = rig.directory / shoot_directory(at.split("/")[-2])
    (folder / "folder.mp4").mkdir(parents=True)
    (folder / "a.mp4").write_bytes(b"x")
    whole = {"frames": 3, "duration_s": 0.3, "gaps": [{"slots": 1}], "remarks": ["y" * 10_000] * 50}
    for changed in ({}, {"frames": None}, {"remarks": [1]}, {"gaps": [{"slots": 0.5}]}, {"gaps": None}):
        (folder / "a.json").write_text(json.dumps(whole | changed))
        answer = await client.get(at)
        assert answer.status_code == 200, (changed, answer.text)
        (line,) = answer.json()
        assert (line["name"], line["frames"]) == ("a.mp4", 0 if changed else 3)
        assert len(answer.text) < 10_000
    assert (await client.get(f"{at}/folder.mp4")).status_code == 404


async def test_asked_for_at_once_each_has_its_own(
    client: httpx.AsyncClient, rig: Rig, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One took the other's name, and its place; and more were taken than may wait."""
    monkeypatch.setattr(rules, "ROOM", 1e9)
    at = await shot(client, rig, 3)
    answers = await asyncio.gather(*[client.post(at, json={"fps": 10 + n}) for n in range(making.MOST_ASKED + 2)])
    taken = [answer.json()["name"] for answer in answers if answer.status_code == 202]
    assert len(set(taken)) == len(taken) == making.MOST_ASKED, [answer.text for answer in answers]
    assert {line["name"] for line in (await client.get(at)).json()} == set(taken)
    assert [answer.status_code for answer in answers if answer.status_code != 202] == [409, 409]


async def test_a_film_that_somebody_deleted_is_not_listed(client: httpx.AsyncClient, rig: Rig) -> None:
    at = await shot(client, rig, 3)
    line = await ready(client, at, (await client.post(at, json={"steady": "off"})).json()["name"])
    await until(lambda: rig.clips.making is None)
    (rig.directory / clips_directory(at.split("/")[-2]) / line["name"]).unlink()
    assert (await client.get(at)).json() == []


@pytest.mark.parametrize("name", ["none.mp4", "..%2F..%2Fframes.sqlite3", ".hidden.mp4", "day.clip.json", "a%00.mp4"])
async def test_what_is_no_film_is_not_found(client: httpx.AsyncClient, rig: Rig, name: str) -> None:
    at = await shot(client, rig, 3)
    folder = rig.directory / clips_directory(at.split("/")[-2])
    folder.mkdir(parents=True)
    (folder / ".hidden.mp4").write_bytes(b"x")
    answer = await client.get(f"{at}/{name}")
    assert (answer.status_code, answer.json()["code"]) in ((404, "no-such-clip"), (404, "no-such-path"))


async def test_frames_a_second_are_the_plan_s_where_they_are_left_out(client: httpx.AsyncClient, rig: Rig) -> None:
    document = plan(interval_s=5.0, when={"start": "now+1d"}, clip={"fps": 10})
    at: str = (await client.post("/api/v1/shoots", json={"plan": document})).headers["location"]
    await log_frames(rig, at.rpartition("/")[2], 20)
    half = {"x": 0.5, "y": 0.5, "w": 0.5, "h": 0.5}
    asked = await client.post(f"{at}/clips", json={"codec": "hevc", "crop": half, "size": [128, 128]})
    assert asked.status_code == 202, asked.text
    line = await ready(client, f"{at}/clips", asked.json()["name"])
    assert (line["state"], line["frames"], line["duration_s"]) == ("ready", 18, pytest.approx(1.8)), line["why"]


async def test_what_does_not_fit_is_refused(
    client: httpx.AsyncClient, rig: Rig, monkeypatch: pytest.MonkeyPatch
) -> None:
    at = await shot(client, rig, 3)
    for body, code in (
        ({"fps": 0}, "bad-request"),
        ({"fps": 25, "colour": 1}, "bad-request"),
        ({"retime": "blend", "scene_s_per_s": 1e9}, "bad-request"),
        ({"fps": 25, "size": [1, 1]}, "bad-clip"),
        ({"fps": 25, "camera": "camera-9"}, "no-such-camera"),
    ):
        answer = await client.post(at, json=body)
        assert (answer.status_code, answer.json()["code"]) == (422, code), answer.text
        assert answer.json()["remedy"]
        assert "e+" not in answer.json()["remedy"]
    unknown = await client.get("/api/v1/shoots/none/clips")
    assert (unknown.status_code, unknown.json()["code"]) == (404, "no-such-shoot")
    monkeypatch.setattr(rules, "ROOM", 1e9)
    for _ in range(making.MOST_ASKED):
        assert (await client.post(at)).status_code == 202
    full = await client.post(at)
    assert (full.status_code, full.json()["code"]) == (409, "clips-waiting")
    async with asyncio.timeout(60):
        while not any("Free some space" in (line["why"] or "") for line in (await client.get(at)).json()):
            await asyncio.sleep(0.05)


@pytest.mark.parametrize(
    ("files", "source", "what"),
    [
        ((None, None), "developed", "no frame has a RAW file on the rig"),
        ((None, None), "fetched", "no frame has a JPEG on the rig"),
        (("a.jpg", None), "embedded", "no frame has a RAW file on the rig"),
        (("a.dng", None), "fetched", "no frame has a JPEG on the rig"),
        (("a.JPG", None), "fetched", None),
        (("a.jpg", "/card/A.DNG"), "developed", None),
        (("a.dng", None), "embedded", None),
        ((None, None), "auto", None),
    ],
)
async def test_a_source_without_pictures_is_refused_at_once(
    client: httpx.AsyncClient, rig: Rig, files: tuple[str | None, str | None], source: str, what: str | None
) -> None:
    at = await shot(client, rig, 3)
    if files[0] is not None:
        shoot = at.split("/")[-2]
        await rig.store.change_frame(shoot, 1, "camera-1", local_file=files[0], companion_file=files[1])
    asked = await client.post(at, json={"source": source})
    if what is None:
        assert asked.status_code == 202, asked.text
        return
    told = asked.json()
    assert (asked.status_code, told["code"]) == (422, "no-pictures")
    assert what in told["detail"]
    assert told["remedy"] == "Choose another source, or leave it out"
    assert (await client.get(at)).json() == []


async def test_files_that_have_gone_fail_in_words_for_a_phone(client: httpx.AsyncClient, rig: Rig) -> None:
    at = await shot(client, rig, 3)
    for path in rig.directory.rglob("previews/**/*.jpg"):
        path.unlink()
    asked = await client.post(at)
    line = await ready(client, at, asked.json()["name"])
    assert (line["state"], line["url"]) == ("failed", None)
    assert "none has a picture on the rig" in line["why"]
    assert "--" not in line["why"]
    assert "`duskhand" not in line["why"]
    assert rig.clips.trouble is None


@pytest.mark.parametrize(("kind", "state"), [(ClipKind.DAY, ClipState.WAITING), (ClipKind.MADE, ClipState.FAILED)])
async def test_a_day_s_film_waits_for_memory(
    client: httpx.AsyncClient, rig: Rig, kind: ClipKind, state: ClipState
) -> None:
    """It was given up for good where there was too little of it for a moment."""
    shoot = (await shot(client, rig, 3)).split("/")[-2]
    record = ClipRecord(shoot=shoot, name="day.mp4", kind=kind, state=ClipState.MAKING, progress=0.0)
    rig.clips._pending[shoot, record.name] = record
    with pytest.raises(BadInput) as refused:
        check_memory((1620, 1080), "h264", 8, 1e6)
    await rig.clips._failed(record, refused.value, under_way=False)
    (line,) = (await client.get(f"/api/v1/shoots/{shoot}/clips")).json()
    assert (line["state"], line["progress"], "of memory" in line["why"]) == (state, None, True)
    assert (rig.clips.trouble is None) == (kind is ClipKind.MADE)


@pytest.mark.parametrize(
    ("state", "remedy"), [(FrameState.MISSED, "See in its report"), (FrameState.WRITTEN, "Have the plan fetch")]
)
async def test_a_film_of_frames_without_pictures_is_refused_with_what_helps(
    client: httpx.AsyncClient, rig: Rig, state: FrameState, remedy: str
) -> None:
    at: str = (await client.post("/api/v1/shoots", json={"plan": PLAN})).headers["location"]
    shoot = at.rpartition("/")[2]
    frame = Frame(shoot=shoot, seq=1, camera="camera-1", due_utc=EVENING_UTC, interval_s=5.0, state=state)
    await rig.store.add_missed([frame])
    told = (await client.post(f"{at}/clips")).json()
    assert (told["code"], told["remedy"].startswith(remedy)) == ("no-pictures", True), told


@pytest.mark.parametrize(
    ("body", "told"),
    [
        ({"burn": "time"}, "'time' is no list. Write a list"),
        ({"burn": ["time", "moon"]}, "'moon' is not known here. Use 'time' or 'sun'"),
        ({"codec": None}, "null is not known here. Use 'h264' or 'hevc'"),  # as JSON has it, RFC 8259
    ],
)
async def test_what_is_wrong_with_a_key_is_told(client: httpx.AsyncClient, rig: Rig, body: Any, told: str) -> None:
    problem = (await client.post(await shot(client, rig, 3), json=body)).json()
    assert f"{problem['detail']}. {problem['remedy']}".startswith(told)


async def test_a_film_of_no_frame_is_refused_at_once(client: httpx.AsyncClient, rig: Rig) -> None:
    at: str = (await client.post("/api/v1/shoots", json={"plan": PLAN})).headers["location"]
    asked = await client.post(f"{at}/clips")
    assert (asked.status_code, asked.json()["code"]) == (422, "no-pictures")
    assert "no frame has been released yet" in asked.json()["detail"]
