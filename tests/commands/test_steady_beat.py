"""`duskhand check --beat`, with the camera opened here, and what it prints."""

from __future__ import annotations

import argparse
import asyncio
import json
from pathlib import Path

import pytest

from api.routes.timing import BeatWanted
from controller.commands import main
from controller.commands.cameras import _safe
from controller.commands.steady_beat import _exposure_s, told
from controller.decide.safe_interval import timed
from controller.store import Store
from controller.store.files import database_path
from controller.words.bodies import BodySeen
from controller.words.errors import BadInput
from tests.support.bodies import beat, body, timings
from tests.support.simcam import start_simulated_camera

NOWHERE = "ptpip:127.0.0.1:1:1"
PLAN = """
name = "evening"
site = { latitude = 57.66, longitude = 11.72, timezone = "UTC" }
when = { start = "now", duration = "10min" }
pace = { kind = "steady", interval_s = 5.0, min_gap_s = 0.1 }
light = { kind = "fixed", shutter_s = 0.125, aperture = 5.6, iso = 400, bracket_ev = [-2, 0, 2] }
files = { fetch = "preview" }
"""


def kept(directory: Path) -> list[BodySeen]:
    async def read() -> list[BodySeen]:
        async with await Store.open(database_path(directory), read_only=True) as store:
            return await store.bodies()

    return asyncio.run(read())


def test_a_camera_opened_here(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch):
    """It writes at once, so that the rig decides what is held: only that it is told and kept is looked at."""
    monkeypatch.setattr("controller.decide.steady_beat._FIRST_GAP_S", 0.3)
    rig = tmp_path / "rig"
    with start_simulated_camera(tmp_path, readout=0, write=0, size="96x64") as camera:
        where = ["--camera", camera.address, "--dir", str(rig)]
        code = main(["check", "--beat", "--exposure", "1/8000", "--json", *where])
        out, err = capsys.readouterr()
        (found,) = json.loads(out)
        assert main(["cameras", *where]) == 0
        shown = capsys.readouterr().out
        taken = camera.record()
    assert code == (0 if found["held_s"] else 1)
    assert found.pop("camera") == "camera-1"
    assert found["frames"] == len(taken) <= 96
    assert {frame["shutter_s"] for frame in taken} == {found["exposure_s"]} == {2**-13}
    assert "up to 96 test frames of 1/8000 s are taken and stay on the card" in err.splitlines()[0]
    (seen,) = kept(rig)
    assert [each.model_dump(mode="json") for each in seen.beats] == [found]
    assert ("a steady beat of" in shown) == (code == 0)


def test_what_is_said():
    held = beat(0.61, exposure_s=1 / 64).model_copy(update={"failed_s": 0.58, "cause": "it was busy"})
    assert told("camera-1", held) == (
        "camera-1  holds 0.61 s with exposures of 1/60 s and JPG+NEF; 0.58 s failed: it was busy. 40 frames taken. "
        "Kept: with a fifth in reserve plans are checked against 0.74 s"
    )
    assert "nothing shorter was tried" in told("x", held.model_copy(update={"failed_s": None, "cause": None}))
    none = held.model_copy(update={"held_s": None, "failed_s": 17.0})
    assert told("x", none) == (
        "x  held no interval with exposures of 1/60 s and JPG+NEF. 17.0 s failed: it was busy. 40 frames taken"
    )


def test_what_is_said_of_a_camera():
    assert "not seen yet" in _safe(None)[0]
    assert "not seen yet" in _safe(timed(body(timings(1.0, count=3))))[0]
    line, source = _safe(timed(body(timings(1.0, set_s=0.1))))
    assert "1.4 s at 1/60 s, 9.4 s at 8 s" in line
    assert "to write 1.0 s and to set 0.1 s, 99 % of 40 frames, JPG+NEF" in source


@pytest.mark.parametrize(
    ("given", "with_plan", "exposure_s"),
    [(None, False, 1 / 64), ("1/60", True, 1 / 64), ("8", False, 8.0), ("30s", False, 32.0), (None, True, 1 / 32)],
)
def test_the_exposure(tmp_path: Path, given: str | None, with_plan: bool, exposure_s: float):
    """As given, by the label of the dial; else the plan's shortest, here two stops below 1/8 s; else 1/60."""
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN)
    args = argparse.Namespace(exposure=given, plan=str(plan) if with_plan else None)
    assert _exposure_s(args, None) == pytest.approx(exposure_s)
    BeatWanted(exposure_s=_exposure_s(args, None))  # a service takes it too


@pytest.mark.parametrize("text", ["x", "0", "-1", "31", "bulb", "1/0", ""])
def test_no_exposure(text: str):
    with pytest.raises(BadInput) as refused:
        _exposure_s(argparse.Namespace(exposure=text, plan=None), None)
    assert refused.value.code == "bad-length"


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["--camera", NOWHERE], 1),
        (["--camera", NOWHERE, "--exposure", "1h"], 2),
        (["--rig", "http://127.0.0.1:9"], 1),
        (["no-such.toml", "--camera", NOWHERE], 2),
    ],
)
def test_bad_input_is_one_line(tmp_path: Path, words: list[str], code: int, capsys: pytest.CaptureFixture[str]):
    assert main(["check", "--beat", "--dir", str(tmp_path), *words]) == code
    assert len(capsys.readouterr().err.strip().splitlines()) == 1
