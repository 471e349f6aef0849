"""The same plans once before the simulated camera, drawn and photographed over PTP/IP, and once rehearsed.

The drawn harbour is no part of the model: its light comes from other sources (controller/simulated/light.py), and its
camera looks into the sunset. What the rehearsal is told of it is what a rig would know that has shot there before: the
log of another evening, with other clouds, at two minutes a frame.
"""

from __future__ import annotations

import asyncio
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from controller.camera.messages import STORE_FULL
from controller.commands.demo import EVENING_UTC
from controller.decide.plan import Plan, plan_from, read_plan
from controller.decide.schedule import windows
from controller.rehearsal import CameraModel, Spread, rehearse_now, view_of
from controller.words.documents import Frame, FrameState
from tests.rehearsal import played
from tests.support.rigs import Evening, camera_there, ended, rows
from tests.support.rigs import plan as rig_plan
from tests.whole.truth import taken

RATE = 75.0
"""So much faster than the wall's the demo runs here: two and a half times as fast as by itself."""

EARLIER_RATE = 240.0
LEAD_WALL_S = 5.0
THIRD_EV = 1 / 3 + 1e-6


def demo_plan() -> Plan:
    return read_plan(resources.files("controller.commands").joinpath("demo_evening.toml").read_text("utf-8"))


async def shot(plan: Plan, directory: Path, rate: float, after_utc: float, **camera: Any) -> list[Frame]:
    """The log of a plan's evening, shot by the rig with the simulated camera."""
    evening = Evening(rate, next(windows(plan, after_utc)).start_utc - LEAD_WALL_S * rate)
    with evening.camera(directory, **camera) as simulated:
        async with evening.rig(directory, simulated.address) as rig:
            await camera_there(rig)
            shoot = await ended(rig, await rig.start_shoot(plan.document()), 160)
            return await rows(rig, shoot)


async def test_the_demo_and_its_rehearsal_agree(tmp_path: Path):
    plan = demo_plan()
    slowly = {**plan.document(), "pace": {"kind": "steady", "interval_s": 120.0, "min_gap_s": 30.0}}
    slowly["files"] = {"fetch": "preview"}
    earlier, demo = await asyncio.gather(
        shot(plan_from(slowly), tmp_path / "earlier", EARLIER_RATE, EVENING_UTC - 86_400, seed=7),
        shot(plan, tmp_path / "demo", RATE, EVENING_UTC),
    )
    rehearsed: list[Frame] = []
    rehearse_now(plan, now_utc=EVENING_UTC, view=view_of(plan, earlier), on_frame=rehearsed.append)

    got = {frame.seq for frame in taken(demo)}
    both = [(a, b) for a, b in zip(rehearsed, demo, strict=True) if b.seq in got]  # slot for slot
    assert [(a.seq, a.due_utc) for a, _ in both] == [(b.seq, pytest.approx(b.due_utc, abs=0.01)) for _, b in both]
    assert [a.interval_s for a, _ in both] == pytest.approx([b.interval_s for _, b in both], abs=0.002)
    altitudes = [-(frame.sun_altitude_deg or 0.0) for frame in rehearsed]
    expected = np.interp(
        [-(frame.sun_altitude_deg or 0.0) for frame in demo], altitudes, [frame.interval_s for frame in rehearsed]
    )
    assert [frame.interval_s for frame in demo] == pytest.approx(expected.tolist(), rel=0.02)
    near = [abs((a.exposure_ev or 0.0) - (b.exposure_ev or 0.0)) <= THIRD_EV for a, b in both]
    assert sum(near) >= 0.95 * len(near)


async def test_a_full_card_is_told_as_the_real_engine_tells_it(tmp_path: Path):
    """The engine before the simulated camera over PTP/IP, and a rehearsal with room for as many frames."""
    document = rig_plan(2.0, when={"start": "now+20s", "duration": "40s"})
    evening = Evening(rate=4)
    with evening.camera(tmp_path, faults="ok ok ok ok ok full") as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await ended(rig, await rig.start_shoot(document))
            real = await rows(rig, shoot)
            notes = [note for note in await rig.store.notes(shoot.id) if note.kind == "camera-trouble"]
    fitted = sum(frame.state is FrameState.WRITTEN for frame in real)
    assert fitted == 5
    small = CameraModel(write_s=Spread(0.2), bytes_per_frame=1000, card_bytes=1000 * fitted + 999)
    came, frames = played(plan_from(document), small, now_utc=shoot.created_utc)
    told = [note for note in came.notes if note.kind == "camera-trouble"]
    last = [(note.text, note.facts["code"]) for note in notes][-1:]
    assert [(note.text, note.facts["code"]) for note in told] == last == [(told[0].text, "card-full")]
    assert [(f.seq, f.state, f.cause) for f in frames] == [(f.seq, f.state, f.cause) for f in real]
    assert came.summary.missed == {STORE_FULL: len(real) - fitted}
    assert [(b.kind, b.frames) for b in came.summary.binds] == [("card", len(real) - fitted)]
