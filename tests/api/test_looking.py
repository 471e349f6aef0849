"""Live view, focus and test frames over REST, from the real service through libgphoto2 to the simulated camera."""

from __future__ import annotations

import io
import re
import time
from pathlib import Path

import httpx
import pytest
from PIL import Image

from controller.words.errors import CameraError
from tests.support.rigs import Evening, camera_there, plan
from tests.support.service import rig

CAMERA = "/api/v1/cameras/camera-1"
EVENING = {"epoch_utc": "2026-10-20T15:30:00Z"}


def pictures(phone: httpx.Client, count: int, query: str = "") -> list[Image.Image]:
    """The first so many pictures of the stream, taken apart by the lengths that it tells (RFC 2046)."""
    data, found = b"", []
    with phone.stream("GET", f"{CAMERA}/live.mjpeg{query}") as answer:
        assert answer.headers["content-type"].startswith("multipart/x-mixed-replace; boundary=")
        for chunk in answer.iter_raw():
            data += chunk
            while (head := re.search(rb"Content-Length: (\d+)\r\n\r\n", data)) and len(data) >= head.end() + int(
                head[1]
            ):
                found.append(Image.open(io.BytesIO(data[head.end() : head.end() + int(head[1])])))
                data = data[head.end() + int(head[1]) :]
            if len(found) >= count:
                return found
    return found


def test_looking_before_a_shoot_and_while_it_is_held(tmp_path: Path) -> None:
    with rig(tmp_path, **EVENING) as (service, camera), httpx.Client(base_url=service.url, timeout=60) as phone:
        begun = time.monotonic()
        whole = pictures(phone, 4, "?per_s=5")
        assert time.monotonic() - begun >= 3 / 5
        (cut,) = pictures(phone, 1, "?zoom=4&x=0.9&y=0.2")
        assert cut.size == whole[0].size
        assert cut.tobytes() != whole[0].tobytes()
        (small,) = pictures(phone, 1, "?width=120")
        assert small.size == (120, 80)  # 3:2, as live view is
        (small_part,) = pictures(phone, 1, "?zoom=4&width=120")
        assert small_part.size == (120, 80)
        assert pictures(phone, 1, "?width=9000")[0].size == whole[0].size, "none is made larger"
        seen = phone.get(f"{CAMERA}/focus").json()
        assert seen["sharpness"] > 0
        assert sum(seen["histogram"]) == pytest.approx(1)

        nothing_yet = phone.get(f"{CAMERA}/test-frame.jpg")
        assert (nothing_yet.status_code, nothing_yet.json()["code"]) == (404, "no-test-picture")
        frame = phone.post(f"{CAMERA}/test-frame", json={"shutter_s": 1 / 512, "aperture": 4.0, "iso": 200}).json()
        (shot,) = camera.record()
        assert (frame["shutter_s"], frame["aperture"], frame["iso"]) == (
            shot["shutter_s"],
            shot["aperture"],
            shot["iso"],
        )
        assert [name.rpartition("/")[2] for name in frame["camera_files"]] == [shot["files"][0].rpartition("/")[2]]
        # the camera's own meter, which knows its tone curve; sRGB is a third of a stop off for this style
        assert frame["scene_ev"] == pytest.approx(camera.control("now")["scene_ev"], abs=0.8)
        white = phone.post(f"{CAMERA}/test-frame", json={"shutter_s": 1.0}).json()
        assert white["scene_ev"] is None  # a white picture is a bound and no value
        assert white["seen"]["clipped"] > 0.5
        with Image.open(io.BytesIO(phone.get(frame["picture"]).content)) as picture:
            assert picture.format == "JPEG"

        shoot = service.shoot(plan(1.0, when={"start": "now", "frames": 60}))
        while phone.get("/api/v1/now").json()["frames_done"] < 2:
            time.sleep(0.05)
        for method, path in (("GET", "live.mjpeg"), ("GET", "focus"), ("POST", "test-frame")):
            refused = phone.request(method, f"{CAMERA}/{path}")
            assert (refused.status_code, refused.json()["code"]) == (409, "shoot-has-camera")
        phone.post(f"/api/v1/shoots/{shoot}/hold")
        assert len(pictures(phone, 2, "?per_s=5")) == 2
        phone.post(f"/api/v1/shoots/{shoot}/resume")
        before = phone.get("/api/v1/now").json()["frames_done"]
        while phone.get("/api/v1/now").json()["frames_done"] < before + 2:
            time.sleep(0.05)
        phone.post(f"/api/v1/shoots/{shoot}/stop")
        service.wait_for_end(shoot)
        log = service.frames(shoot)
    assert not [row for row in log if row["state"] == "lost"]
    assert frame["camera_files"][0] not in [row["camera_file"] for row in log]


def test_resuming_ends_live_view(tmp_path: Path) -> None:
    """Somebody still looks when the shoot goes on: the release comes first, and the stream ends."""
    with rig(tmp_path, **EVENING) as (service, _), httpx.Client(base_url=service.url, timeout=60) as phone:
        shoot = service.shoot(plan(1.0, when={"start": "now", "frames": 60}))
        while phone.get("/api/v1/now").json()["frames_done"] < 2:
            time.sleep(0.05)
        phone.post(f"/api/v1/shoots/{shoot}/hold")
        chunks = 0
        with phone.stream("GET", f"{CAMERA}/live.mjpeg?per_s=5") as answer:
            for _ in answer.iter_raw():
                chunks += 1
                if chunks == 2:
                    httpx.post(f"{service.url}/api/v1/shoots/{shoot}/resume")
        while phone.get("/api/v1/now").json()["frames_done"] < 4:
            time.sleep(0.05)
        phone.post(f"/api/v1/shoots/{shoot}/stop")
        service.wait_for_end(shoot)
        log = service.frames(shoot)
    assert len(log) > 2
    assert not [row for row in log if row["state"] == "lost"]


async def test_a_picture_that_does_not_come_is_a_problem_and_no_fault_of_ours(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("controller.engine.looking._FOCUS_S", 0.0)
    evening = Evening()
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as running:
            await camera_there(running)
            with pytest.raises(CameraError, match="no picture of live view came"):
                await running.looking.focus("camera-1")


def test_each_gets_as_many_pictures_as_it_asked_for(tmp_path: Path) -> None:
    """One phone looks seldom, for its weak link; another, beside it, wants many."""
    with rig(tmp_path, **EVENING) as (service, _), httpx.Client(base_url=service.url, timeout=60) as phone:
        seldom = 0
        with phone.stream("GET", f"{CAMERA}/live.mjpeg?per_s=0.2") as answer:
            chunks = answer.iter_raw()
            seldom += next(chunks).count(b"Content-Length")
            begun = time.monotonic()
            assert len(pictures(httpx.Client(base_url=service.url, timeout=60), 9, "?per_s=5")) == 9
            phone.get(f"{CAMERA}/focus").raise_for_status()
            took = time.monotonic() - begun
            for chunk in chunks:
                seldom += chunk.count(b"Content-Length")
                if time.monotonic() - begun > took + 6:
                    break
            else:
                pytest.fail("the stream ended")
            lasted = time.monotonic() - begun
    assert seldom <= 2 + lasted * 0.2 / 0.9
