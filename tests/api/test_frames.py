import csv
import io
import tracemalloc
from types import SimpleNamespace
from typing import Any

import httpx
from starlette.responses import StreamingResponse

from api.routes import frames as frames_route
from controller.daemon import Rig
from controller.store.frame_pages import Page
from controller.words.documents import EXPORT_COLUMNS, Frame
from tests.store import samples
from tests.support.serving import PLAN, log_frames

# The columns that every export promises to have, in this order; more may follow.
COLUMNS = (
    "shoot, seq, camera, due_utc, released_utc, late_ms, interval_s, shutter_s, aperture, iso, exposure_ev, scene_ev, "
    "target_ev, sun_altitude_deg, sun_azimuth_deg, moon_altitude_deg, state, camera_file, local_file, bytes, sha256, "
    "cause"
).split(", ")


async def shot(client: httpx.AsyncClient, rig: Rig, count: int) -> str:
    at: str = (await client.post("/api/v1/shoots", json={"plan": PLAN})).headers["location"]
    await log_frames(rig, at.rpartition("/")[2], count)
    return f"{at}/frames"


async def test_frames_come_by_number_and_page(client: httpx.AsyncClient, rig: Rig) -> None:
    at = await shot(client, rig, 60)
    first = [Frame.model_validate(frame) for frame in (await client.get(at, params={"limit": 25})).json()]
    assert [frame.seq for frame in first] == list(range(1, 26))
    rest = (await client.get(at, params={"after": 25})).json()
    assert [frame["seq"] for frame in rest] == list(range(26, 61))
    assert rest[55 - 25]["state"] == "missed"
    assert rest[55 - 25]["cause"] == "the camera was busy"
    assert (await client.get(at, params={"after": 60})).json() == []
    assert len((await client.get(at, params={"camera": "camera-1", "limit": 5})).json()) == 5
    assert (await client.get(at, params={"camera": "camera-1", "after": 60})).json() == []
    other = await client.get(at, params={"camera": "camera-9"})
    assert (other.status_code, other.json()["code"]) == (404, "no-such-camera")
    assert "camera-1" in other.json()["remedy"]


async def test_frames_thin_out(client: httpx.AsyncClient, rig: Rig) -> None:
    at = await shot(client, rig, 60)
    assert [frame["seq"] for frame in (await client.get(at, params={"every": 7})).json()] == list(range(7, 61, 7))
    few = await client.get(at, params={"every": 7, "limit": 3, "after": 7})
    assert [frame["seq"] for frame in few.json()] == [14, 21, 28]


async def test_a_long_list_is_whole(client: httpx.AsyncClient, rig: Rig) -> None:
    at = await shot(client, rig, 1100)
    whole = await client.get(at, params={"limit": 100_000})
    assert whole.headers["content-type"] == "application/json"
    assert whole.headers["vary"].startswith("Accept")
    assert [frame["seq"] for frame in whole.json()] == list(range(1, 1101))
    assert whole.json()[-1] == (await client.get(at, params={"after": 1099})).json()[0]
    assert (await client.get(at, params={"limit": 100_000, "after": 1100})).json() == []


async def test_a_long_list_never_stands_in_memory_as_a_whole() -> None:
    """One request of a script's would end the service of a machine with 512 MB, and every shoot with it."""

    class Log:
        async def page(self, shoot: str, page: Page) -> list[Frame]:
            return [samples.due(seq) for seq in range(page.after + 1, page.after + page.limit + 1)]

    rig: Any = SimpleNamespace(store=Log())
    answer = await frames_route.frames(samples.SHOOT, rig, limit=10_000, accept="application/json")
    assert isinstance(answer, StreamingResponse)
    tracemalloc.start()
    pieces = [len(piece) async for piece in answer.body_iterator]
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert sum(pieces) > 5_000_000
    assert peak < 8_000_000  # bytes; all of them take 40 MB


async def test_frames_newest_first(client: httpx.AsyncClient, rig: Rig) -> None:
    at = await shot(client, rig, 60)

    async def numbers(**asked: object) -> list[int]:
        return [frame["seq"] for frame in (await client.get(at, params=asked)).json()]

    assert await numbers(newest=True, limit=3) == [60, 59, 58]
    assert await numbers(before=58, limit=3) == [57, 56, 55]
    assert await numbers(before=5) == [4, 3, 2, 1]
    assert await numbers(before=5, after=2) == [4, 3]
    assert await numbers(before=60, every=7, limit=2) == [56, 49]
    assert await numbers(newest=False, limit=2) == [1, 2]
    assert await numbers(before=1) == []


async def test_frames_in_trouble_and_with_pictures(client: httpx.AsyncClient, rig: Rig) -> None:
    at = await shot(client, rig, 60)
    shoot = at.split("/")[-2]
    await rig.store.change_frame(shoot, 10, "camera-1", cause="the motion rig was moving")
    await rig.store.change_frame(shoot, 20, "camera-1", late_ms=501.0)
    await rig.store.change_frame(shoot, 30, "camera-1", state="lost", cause="no file on the card")
    missed = (await client.get(at, params={"only": "missed"})).json()
    of_them = sorted([*range(7, 61, 7), 30])
    assert [frame["seq"] for frame in missed] == of_them
    doubtful = (await client.get(at, params={"only": "doubtful", "newest": True})).json()
    assert [frame["seq"] for frame in doubtful] == [20, 10]
    assert (await client.get(f"{at}/troubles")).json() == {"missed": 9, "doubtful": 2}
    assert (await client.get(f"{at}/troubles", params={"camera": "camera-9"})).json() == {"missed": 0, "doubtful": 0}
    pictured = (await client.get(at, params={"previews": True, "limit": 100})).json()
    everything = (await client.get(at, params={"limit": 100})).json()
    assert [frame["seq"] for frame in pictured] == [frame["seq"] for frame in everything if frame["preview"]]
    assert 0 < len(pictured) < len(everything)
    rows = (await client.get(at, params={"only": "missed"}, headers={"Accept": "text/csv"})).text
    assert [row[1] for row in csv.reader(io.StringIO(rows))] == ["seq", *map(str, of_them)]
    assert (await client.get(f"{at.replace(shoot, 'none')}/troubles")).json()["code"] == "no-such-shoot"


async def test_frames_beyond_one_batch(client: httpx.AsyncClient, rig: Rig) -> None:
    at = await shot(client, rig, 0)
    missed = [
        Frame(
            shoot=at.split("/")[-2], seq=seq, camera="camera-1", due_utc=0, interval_s=1, state="missed", cause="test"
        )
        for seq in range(1, 1202)
    ]
    await rig.store.add_missed(missed)
    assert len((await client.get(at)).json()) == 500
    assert len((await client.get(at, params={"limit": 5000})).json()) == 1201
    rows = list(csv.reader(io.StringIO((await client.get(at, headers={"Accept": "text/csv"})).text)))
    assert [row[1] for row in rows] == ["seq", *(str(seq) for seq in range(1, 1202))]
    back = (await client.get(at, params={"limit": 5000, "newest": True})).json()
    assert [frame["seq"] for frame in back] == list(range(1201, 0, -1))


async def test_csv_has_the_columns_in_order(client: httpx.AsyncClient, rig: Rig) -> None:
    at = await shot(client, rig, 3)
    answer = await client.get(at, headers={"Accept": "text/csv"})
    assert answer.headers["content-type"] == "text/csv; charset=utf-8; header=present"  # RFC 4180, section 3
    rows = list(csv.reader(io.StringIO(answer.text, newline="")))
    assert rows[0][: len(COLUMNS)] == COLUMNS
    assert tuple(rows[0]) == EXPORT_COLUMNS
    assert [row[1] for row in rows[1:]] == ["1", "2", "3"]
    assert rows[1][3].endswith("Z")


async def test_csv_of_a_shoot_without_frames_is_its_header(client: httpx.AsyncClient, rig: Rig) -> None:
    at = await shot(client, rig, 0)
    assert (await client.get(at, headers={"Accept": "text/csv"})).text == ",".join(EXPORT_COLUMNS) + "\r\n"


async def test_nonsense_in_the_query_is_refused(client: httpx.AsyncClient, rig: Rig) -> None:
    at = await shot(client, rig, 1)
    for query in ("after=-1", "limit=0", "every=0", "after=x", "before=0", "newest=2", "only=late", "previews=some"):
        assert (await client.get(f"{at}?{query}")).status_code == 422, query


async def test_preview_is_a_jpeg_that_a_browser_keeps(client: httpx.AsyncClient, rig: Rig) -> None:
    at = await shot(client, rig, 57)
    frames = (await client.get(at)).json()
    path = f"/api/v1/frames/{frames[0]['id']}/preview.jpg"
    picture = await client.get(path)
    assert picture.headers["content-type"] == "image/jpeg"
    assert picture.content[:3] == b"\xff\xd8\xff"
    assert "no-cache" in picture.headers["cache-control"]
    again = await client.get(path, headers={"If-None-Match": picture.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert (await client.get(path, headers={"If-None-Match": '"other"'})).status_code == 200

    missed = await client.get(f"/api/v1/frames/{frames[55]['id']}/preview.jpg")
    assert (missed.status_code, missed.json()["code"]) == (404, "no-preview")
    assert (await client.get("/api/v1/frames/999/preview.jpg")).json()["code"] == "no-such-frame"
    assert (await client.get("/api/v1/frames/x/preview.jpg")).status_code == 422
    for number in (0, -1, 2**63, 10**30):  # beyond what a database can be asked for
        assert (await client.get(f"/api/v1/frames/{number}/preview.jpg")).status_code == 422
        assert number == 0 or (await client.get(f"{at}?after={number}")).status_code == 422


async def test_a_preview_that_was_deleted_is_404(client: httpx.AsyncClient, rig: Rig) -> None:
    at = await shot(client, rig, 1)
    frame = Frame.model_validate((await client.get(at)).json()[0])
    path = rig.preview_path(frame)
    assert path is not None
    path.unlink()
    assert (await client.get(f"/api/v1/frames/{frame.id}/preview.jpg")).json()["code"] == "no-preview"
