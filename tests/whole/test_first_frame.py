"""The first frame of a shoot is exposed for the light that there is, far from the sky model though it be.

The truth is the camera's own averaging meter and its record.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from controller.decide.follow import target_ev
from controller.decide.plan import plan_from
from controller.words.documents import Frame, FrameState, ShootState
from controller.words.times import iso
from tests.support.rigs import EVENING_UTC, LATITUDE, LONGITUDE, Evening, camera_there, ended, plan, rows, until
from tests.support.simcam import start_simulated_camera
from tests.whole.truth import compare, taken

LIGHT = {"kind": "follow", "shutter_s": [0.0001, 2], "aperture": 2.8, "iso": [100, 3200]}
DUSK_S = 3300.0
"""In so long the light at EVENING_UTC and at this place falls by about six stops."""


def off_target_ev(document: dict[str, Any], first: Frame) -> float:
    """How far a frame is off what the light rule asks for of the scene that its own picture shows."""
    rule = plan_from(document).light
    assert rule.kind == "follow"
    assert first.scene_ev is not None
    assert first.exposure_ev is not None
    return target_ev(rule, first.scene_ev, first.sun_altitude_deg or 0.0) - first.exposure_ev


async def shot(
    tmp_path: Path, document: dict[str, Any], sky_s: float, scene_s: float, missed: bool = False, **camera: Any
):
    """Log, notes of test frames, frames taken: by a rig that believes to be `sky_s` past EVENING_UTC, before a scene
    that is `scene_s` past it."""
    evening = Evening(rate=4, utc=EVENING_UTC + sky_s)
    clock = {"rate": 4, "epoch_mono": evening.clock.epoch_mono, "epoch_utc": iso(EVENING_UTC + scene_s)}
    place = {"latitude": LATITUDE, "longitude": LONGITUDE}
    with start_simulated_camera(tmp_path, **place, **clock, **camera) as simulated:
        async with evening.rig(tmp_path, simulated.address) as rig:
            await camera_there(rig)
            done = await ended(rig, await rig.start_shoot(document), 120)
            log, notes = await rows(rig, done), await rig.store.notes(done.id)
        compare(log, simulated, notes)
        pictures = len(simulated.record())
    assert done.state is ShootState.DONE
    assert missed or {frame.state for frame in taken(log)} == {FrameState.WRITTEN}
    return log, [note for note in notes if note.kind == "test-frame"], pictures


@pytest.mark.parametrize(("sky_s", "scene_s"), [(0.0, DUSK_S), (DUSK_S, 0.0)])
async def test_a_start_by_hand_six_stops_off_the_model(sky_s: float, scene_s: float, tmp_path: Path):
    document = plan(6.0, light=LIGHT, when={"start": "now", "frames": 3})
    log, notes, pictures = await shot(tmp_path, document, sky_s, scene_s)
    assert abs(off_target_ev(document, log[0])) <= 0.3
    assert [note.facts["settled"] for note in notes] == [True]
    assert abs(notes[0].facts["offset_ev"]) > 5.5
    assert pictures == 3 + notes[0].facts["frames"]
    assert len(notes[0].facts["files"]) == notes[0].facts["frames"]


async def test_a_window_ahead_six_stops_off_the_model(tmp_path: Path):
    document = plan(6.0, light=LIGHT, when={"start": iso(EVENING_UTC + 70), "duration": "20s"})
    log, notes, _ = await shot(tmp_path, document, 0.0, DUSK_S)
    assert abs(off_target_ev(document, log[0])) <= 0.3
    assert log[0].due_utc == pytest.approx(EVENING_UTC + 70, abs=0.01)
    assert [frame.seq for frame in log] == [1, 2, 3, 4]
    assert [note.facts["settled"] for note in notes] == [True]
    assert notes[0].utc < EVENING_UTC + 60


async def test_without_test_frames_the_first_frame_goes_by_the_model_alone(tmp_path: Path):
    """What the tests above are about."""
    document = plan(6.0, light={**LIGHT, "test_frame": False}, when={"start": "now", "frames": 2})
    log, notes, pictures = await shot(tmp_path, document, 0.0, DUSK_S)
    assert abs(off_target_ev(document, log[0])) > 3
    assert (notes, pictures) == ([], 2)


async def test_a_camera_that_gives_no_test_picture_costs_no_slot(tmp_path: Path):
    document = plan(6.0, light=LIGHT, when={"start": iso(EVENING_UTC + 60), "duration": "12s"})
    log, notes, _ = await shot(tmp_path, document, 0.0, 0.0, faults="nothumb ok*9")
    assert [frame.seq for frame in log] == [1, 2]
    assert log[0].due_utc == pytest.approx(EVENING_UTC + 60, abs=0.01)
    assert "sky model alone" in notes[0].text


async def test_a_camera_lost_in_a_test_frame_comes_back_and_its_file_is_no_slot_s(tmp_path: Path):
    document = plan(6.0, light=LIGHT, when={"start": "now", "frames": 3})
    log, notes, _ = await shot(tmp_path, document, 0.0, 0.0, missed=True, faults="cut ok*9")
    assert sum(frame.state is FrameState.WRITTEN for frame in log) == 3
    assert len({file for note in notes for file in note.facts["files"]}) <= 1


async def test_a_restart_in_mid_window_takes_none(tmp_path: Path):
    evening = Evening(rate=4)
    document = plan(6.0, light=LIGHT, when={"start": "now", "frames": 8})
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(document)
            run = rig.shoots.runs[shoot.id]
            await until(lambda: run.book.counts.written >= 3)
        async with evening.rig(tmp_path, camera.address) as rig:
            shoot = await ended(rig, shoot)
            log, notes = await rows(rig, shoot), await rig.store.notes(shoot.id)
        compare(log, camera, notes)
    assert shoot.state is ShootState.DONE
    assert len([note for note in notes if note.kind == "test-frame"]) == 1
    assert sum(frame.state is FrameState.WRITTEN for frame in log) == 8
