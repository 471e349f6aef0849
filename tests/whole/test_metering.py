"""Metering on real parts: the simulated camera in picture styles that are not sRGB, through libgphoto2 and the engine.

The truth is the camera's own averaging meter, its control port's `now`, and the styles' formulas
(docs/simulated-camera.md).
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from controller.decide.meter import Region, meter, scene_ev
from controller.store.tone_curves import UNKNOWN_STYLE, BodyKey
from controller.words.documents import FrameState, ShootState
from tests.decide.brackets import error_ev
from tests.support.rigs import EVENING_UTC, Evening, camera_there, ended, plan, rows
from tests.support.simcam import SimulatedCamera
from tests.whole.truth import compare, taken

# Darker than mid grey on purpose, as at night: where sRGB's codes and a style's mean different light.
FOLLOW = {
    "kind": "follow",
    "shutter_s": [0.0005, 4],
    "aperture": 2.8,
    "iso": [100, 3200],
    "brightness": [[0, -1.0]],
    "test_frame": False,  # the camera's pictures are counted
}


@contextlib.asynccontextmanager
async def meter_watched(camera: SimulatedCamera) -> AsyncIterator[list[tuple[float, float]]]:
    """(UTC, scene EV) as the camera's own meter finds them, often."""
    seen: list[tuple[float, float]] = []

    async def watch() -> None:
        while True:
            now = await asyncio.to_thread(camera.control, "now")
            seen.append((datetime.fromisoformat(now["utc"]).timestamp(), now["scene_ev"]))
            await asyncio.sleep(0.4)

    task = asyncio.create_task(watch())
    try:
        yield seen
    finally:
        task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await task


async def shoot(tmp_path: Path, style: str, light: dict[str, Any], **more: Any) -> tuple[list[float], list[Any], int]:
    """A short shoot at dusk: how far metering is off the camera's own, frame by frame; notes; pictures taken."""
    evening = Evening(rate=4, utc=EVENING_UTC + 600)
    document = plan(5.0, light=light, when={"start": "now", "frames": 7}, **more)
    with evening.camera(tmp_path, style=style) as camera:
        async with evening.rig(tmp_path, camera.address) as rig, meter_watched(camera) as seen:
            await camera_there(rig)
            done = await ended(rig, await rig.start_shoot(document))
            log, notes = await rows(rig, done), await rig.store.notes(done.id)
        pictures = len(camera.record())
    assert done.state is ShootState.DONE
    times, truth = np.array(seen).T
    settled = [frame for frame in log[2:] if frame.scene_ev is not None]
    assert len(settled) >= 4
    off = [f.scene_ev - float(np.interp(f.due_utc + f.shutter_s / 2, times, truth)) for f in settled]
    return off, notes, pictures


@pytest.mark.parametrize("style", ["flat", "vivid"])
async def test_after_a_bracket_the_scene_is_metered_as_the_camera_meters_it(style, tmp_path: Path):
    off, notes, pictures = await shoot(tmp_path, style, {**FOLLOW, "learn_response": True})
    assert max(map(abs, off)) < 0.15
    said = [note for note in notes if note.kind == "tone-curve"]
    assert len(said) == 1
    assert "is known" in said[0].text
    assert pictures > 7
    assert not [note for note in notes if note.kind == "unknown-files"]
    # The next shoot of this rig has the curve from the log, and needs no bracket.
    again, notes, pictures_again = await shoot(tmp_path, style, {**FOLLOW, "learn_response": True}, name="again")
    assert max(map(abs, again)) < 0.15
    assert pictures_again == pictures + 7
    assert not [note for note in notes if note.kind == "tone-curve"]


async def test_without_a_curve_it_is_further_off(tmp_path: Path):
    """What the tests above are about: taken as sRGB, a vivid picture of a scene below mid grey reads wrong."""
    off, _, pictures = await shoot(tmp_path, "vivid", FOLLOW)
    assert max(map(abs, off)) > 0.2
    assert pictures == 7


async def test_a_dusk_s_own_steps_teach_the_curve_for_the_next_shoot(tmp_path: Path):
    evening = Evening(rate=30, utc=EVENING_UTC + 300)
    light = {**FOLLOW, "brightness": [[0, 0.0]]}
    document = plan(20.0, light=light, when={"start": "now", "duration": "40min"})
    with evening.camera(tmp_path, style="vivid") as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            done = await ended(rig, await rig.start_shoot(document))
            notes = [note for note in await rig.store.notes(done.id) if note.kind == "tone-curve"]
            opened = rig.links[0].opened
            assert opened is not None
            kept = await rig.store.curve(BodyKey(opened.model, opened.serial, UNKNOWN_STYLE))
    assert len(notes) == 1
    assert "for the shoots after it" in notes[0].text
    assert kept is not None
    assert kept.source == "steps"
    assert error_ev(np.array(kept.linear), "vivid") < 0.15  # without a curve it is 0.46


async def test_the_plan_s_regions_are_what_is_metered(tmp_path: Path):
    """Each frame's scene EV against its own small picture, metered with the regions and without."""
    evening = Evening(rate=4, utc=EVENING_UTC + 600)
    sky = ({"rect": [0, 0, 1, 1], "weight": 0}, {"rect": [0, 0, 1, 0.4], "weight": 1})
    document = plan(4.0, light={**FOLLOW, "regions": sky}, when={"start": "now", "frames": 3})
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            done = await ended(rig, await rig.start_shoot(document))
            log = await rows(rig, done)
            pictures = [path.read_bytes() for frame in log if (path := rig.preview_path(frame))]
    regions = (Region(0, 0, 1, 1, 0), Region(0, 0, 1, 0.4, 1))
    assert len(pictures) == 3
    for frame, picture in zip(taken(log), pictures, strict=True):
        assert frame.scene_ev == pytest.approx(scene_ev(meter(picture, regions=regions), frame.exposure_ev), abs=1e-3)
        assert abs(frame.scene_ev - scene_ev(meter(picture), frame.exposure_ev)) > 0.1


async def test_pictures_that_cannot_be_metered_cost_no_frame_and_are_told(tmp_path: Path):
    evening = Evening(rate=4, utc=EVENING_UTC + 600)
    document = plan(4.0, light=FOLLOW, when={"start": "now", "frames": 8})
    with evening.camera(tmp_path, faults="ok*2 badthumb*2 nothumb ok*9") as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            done = await ended(rig, await rig.start_shoot(document))
            log, notes = await rows(rig, done), await rig.store.notes(done.id)
        compare(log, camera)
    log = taken(log)
    assert [frame.state for frame in log] == [FrameState.WRITTEN] * 8
    told = [note for note in notes if note.kind == "no-metering"]
    assert {note.facts["code"] for note in told} >= {"bad-picture"}
    assert len(told) == 1, "told when it begins, not at every frame"
    assert "sky model" in told[0].text
    assert [note.kind for note in notes].index("metering-again") > [note.kind for note in notes].index("no-metering")
    assert [frame.scene_ev is None for frame in log[2:4]] == [True, True]
    assert all(frame.scene_ev is not None for frame in log[6:])
