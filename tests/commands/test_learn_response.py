"""`duskhand check --learn-response` with the simulated camera in its picture styles, through libgphoto2."""

from __future__ import annotations

import asyncio
from pathlib import Path

import numpy as np
import pytest

from controller.commands import main
from controller.store import Store
from controller.store.files import database_path
from controller.store.tone_curves import UNKNOWN_STYLE, BodyKey, ToneCurve
from tests.decide.brackets import error_ev
from tests.support.simcam import start_simulated_camera

DUSK = {"epoch_utc": "2026-10-20T16:05:00Z", "latitude": 57.66, "longitude": 11.72}


def kept(directory: Path) -> ToneCurve | None:
    async def read() -> ToneCurve | None:
        async with await Store.open(database_path(directory), read_only=True) as store:
            bodies = await store._database.read(
                lambda c: c.execute("SELECT model, serial, style FROM tone_curves").fetchall()
            )
            return await store.curve(BodyKey(*bodies[0])) if bodies else None

    return asyncio.run(read())


@pytest.mark.parametrize("style", ["flat", "vivid"])
def test_the_curve_of_the_attached_camera_is_measured_and_kept(style, tmp_path, capsys):
    """Against the formula of the style, docs/simulated-camera.md."""
    rig = tmp_path / "rig"
    with start_simulated_camera(tmp_path, style=style, **DUSK) as camera:
        assert main(["check", "--learn-response", "--camera", camera.address, "--dir", str(rig)]) == 0
        shots = camera.record()
    out = capsys.readouterr().out
    assert f"{len(shots)} pictures taken" in out
    assert f"picture style {UNKNOWN_STYLE}" in out
    curve = kept(rig)
    assert curve is not None
    assert curve.source == "bracket"
    assert error_ev(np.array(curve.linear), style) < 0.1


def test_pictures_that_cannot_be_read_give_no_curve_and_it_says_so(tmp_path, capsys):
    rig = tmp_path / "rig"
    with start_simulated_camera(tmp_path, faults="badthumb*30", **DUSK) as camera:
        assert main(["check", "--learn-response", "--camera", camera.address, "--dir", str(rig)]) == 1
    err = capsys.readouterr().err
    assert "no tone curve" in err
    assert len(err.strip().splitlines()) == 1
    assert kept(rig) is None


def test_no_camera(tmp_path, capsys):
    assert main(["check", "--learn-response", "--camera", "ptpip:127.0.0.1:1:2", "--dir", str(tmp_path)]) == 1
    assert "ptpip:127.0.0.1:1:2" in capsys.readouterr().err
    assert main(["check", "--learn-response", "--camera", "nonsense", "--dir", str(tmp_path)]) == 2
