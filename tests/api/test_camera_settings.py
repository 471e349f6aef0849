"""Settings over REST, from the phone to the simulated camera's body by the real libgphoto2, beside a shoot."""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path

import httpx

from controller.store.files import database_path
from tests.support.rigs import plan
from tests.support.service import rig

SETTINGS = "/api/v1/cameras/camera-1/settings"


def test_settings_are_read_and_changed_and_noted_in_the_shoot(tmp_path: Path) -> None:
    with rig(tmp_path) as (service, camera), httpx.Client(base_url=service.url, timeout=60) as phone:
        shown = {each["setting"]: each for each in phone.get(SETTINGS).json()}
        assert shown["exposure_mode"]["value"] == "M"
        assert shown["shutter"]["number"] > 0
        changed = phone.put(SETTINGS, json={"settings": {"focus": "Automatic", "iso": "800"}})
        assert [(each["setting"], each["value"]) for each in changed.json()] == [("focus", "Automatic"), ("iso", "800")]
        assert camera.control("settings")["exposure_index"] == 800  # the body's own word

        shoot = service.shoot(plan(0.5, when={"start": "now", "frames": 60}))
        while phone.get("/api/v1/now").json()["frames_done"] < 3:
            pass
        refused = phone.put(SETTINGS, json={"settings": {"iso": "100"}})
        assert (refused.status_code, refused.json()["code"]) == (409, "shoot-sets-it")
        assert phone.put(SETTINGS, json={"settings": {"focus": "Manual"}}).json()[0]["value"] == "Manual"
        phone.post(f"/api/v1/shoots/{shoot}/stop")
        service.wait_for_end(shoot)
        frames = service.frames(shoot)
        assert not [frame for frame in frames if frame["state"] == "missed"]
    with contextlib.closing(sqlite3.connect(database_path(tmp_path / "rig"))) as log:
        noted = log.execute("SELECT text FROM notes WHERE kind = 'camera-set'").fetchall()
    assert noted == [("the camera's focus was set to Manual",)]


async def test_what_cannot_be_done_is_a_problem(client: httpx.AsyncClient) -> None:
    nobody = await client.get("/api/v1/cameras/camera-7/settings")
    assert (nobody.status_code, nobody.json()["code"]) == (404, "no-such-camera")
    assert "camera-1" in nobody.json()["remedy"]
    absent = await client.get(SETTINGS)
    assert (absent.status_code, absent.json()["code"]) == (503, "no-camera")
    unknown = await client.put(SETTINGS, json={"settings": {"shuter": "1/100"}})
    assert unknown.status_code == 422
    assert unknown.json()["detail"] == "'shuter' is not known here"
    assert unknown.json()["remedy"].startswith("Did you mean 'shutter'?")
    empty = await client.put(SETTINGS, json={"settings": {}})
    assert empty.status_code == 422
    assert empty.json()["detail"] == "is empty"
