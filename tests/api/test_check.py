"""Checks over REST: the real service, libgphoto2, and a body with something to mend."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import httpx

from tests.support.rigs import plan
from tests.support.service import rig

CHECK = "/api/v1/check"


def levels(answer: httpx.Response) -> dict[str, str]:
    assert answer.status_code == 200, answer.text
    found: list[dict[str, Any]] = answer.json()["findings"]
    order = {"fail": 0, "warn": 1, "pass": 2}
    ranks = [order[each["level"]] for each in found]
    assert ranks == sorted(ranks)  # the worst first
    assert all(each["remedy"] for each in found if each["level"] != "pass")
    return {each["check"]: each["level"] for each in found}


def test_what_is_wrong_is_told_and_mended(tmp_path: Path) -> None:
    evening = {"maker": "nikon", "epoch_utc": "2026-10-20T15:30:00Z"}
    with rig(tmp_path, **evening) as (service, camera), httpx.Client(base_url=service.url, timeout=120) as phone:
        settings = "/api/v1/cameras/camera-1/settings"
        assert levels(phone.get(CHECK))["focus"] == "pass"
        for setting, value in (("focus", "AF-S"), ("iso_auto", "On"), ("noise_reduction", "On")):
            assert phone.put(settings, json={"settings": {setting: value}}).status_code == 200
        found = levels(phone.get(CHECK))
        assert found["focus"] == found["automatic ISO"] == "fail"
        assert found["long-exposure noise reduction"] == "warn"

        mended = phone.post(CHECK, json={"fix": True})
        found = levels(mended)
        assert found["focus"] == found["automatic ISO"] == found["long-exposure noise reduction"] == "pass"
        done = {each["setting"] for each in mended.json()["mended"]}
        assert done - {"clock"} == {"focus", "iso_auto", "noise_reduction"}
        assert found["body clock"] == ("pass" if "clock" in done else "warn")  # on a machine whose clock nobody keeps
        now = camera.control("settings")
        assert (now["nikon_iso_auto"], now["nikon_long_exposure_nr"]) == (0, 0)
        assert now["nikon_autofocus_mode"] in (3, 4)  # MF


def test_a_canon_eos_is_looked_at_and_mended(tmp_path: Path) -> None:
    evening = {"maker": "canon", "epoch_utc": "2026-10-20T15:30:00Z"}
    with rig(tmp_path, **evening) as (service, camera), httpx.Client(base_url=service.url, timeout=120) as phone:
        found = levels(phone.get(CHECK))
        assert [found[each] for each in ("file format", "card target", "exposure mode", "focus")] == ["pass"] * 4
        wrong = {"exposure_mode": "AV", "focus": "One Shot", "iso": "Auto", "drive": "Continuous", "format": "RAW + L"}
        answer = phone.put("/api/v1/cameras/camera-1/settings", json={"settings": wrong})
        assert {each["setting"]: each["value"] for each in answer.json()} == wrong
        found = levels(phone.get(CHECK))
        assert found["exposure mode"] == found["focus"] == found["automatic ISO"] == "fail"
        assert (found["drive mode"], found["file format"]) == ("warn", "pass")

        found = levels(phone.post(CHECK, json={"fix": True}))
        assert {found[each] for each in ("exposure mode", "focus", "automatic ISO", "drive mode")} == {"pass"}
        now = camera.control("settings")
    assert (now["exposure_program"], now["focus_mode"], now["canon_iso_auto"], now["still_capture_mode"]) == (
        1,
        3,
        0,
        0,
    )


def test_a_plan_counts(tmp_path: Path) -> None:
    """Ten thousand frames on a card for a few: by a plan kept on the rig, and by a document."""
    long = plan(1.0, when={"start": "now", "frames": 10_000})
    with rig(tmp_path, capacity=3_000_000) as (service, _), httpx.Client(base_url=service.url, timeout=120) as phone:
        assert phone.post("/api/v1/plans", json=long).status_code == 201
        assert levels(phone.get(CHECK, params={"plan": "evening"}))["card room"] == "fail"
        assert levels(phone.post(CHECK, json={"plan": long}))["card room"] == "fail"
        unknown = phone.get(CHECK, params={"plan": "no-such"})
        assert (unknown.status_code, unknown.json()["remedy"] != "") == (404, True)
        wrong = phone.post(CHECK, json={"plan": {**long, "site": {"latitude": 95, "longitude": 0}}})
        assert wrong.status_code == 422
