"""A rig with rig.toml in its directory, over a simulated camera in real time, on mock pins. What is asked here is that
pulses become frames and frames become moves; a busy machine may make any of them late."""

from __future__ import annotations

import asyncio
import itertools
import time
from pathlib import Path

import pytest

from controller.daemon import Rig
from controller.words.clock import WallClock
from controller.words.documents import Frame, FrameState, ShootState
from controller.words.errors import BadInput, Conflict
from tests.support.rigs import Evening, camera_there, ended, plan, rows, until

TRIGGER = "[trigger]\npin = 27\nbounce_s = 0.001\n"
MOTION = "[motion]\npin = 17\npulse_s = 0.05\nsettle_s = 0.2\n"
PULSE = {"kind": "pulse", "min_interval_s": 1.0, "min_gap_s": 0.2}


def wired(tmp_path: Path, text: str) -> Path:
    """The directory of a rig with that document."""
    (tmp_path / "rig").mkdir()
    (tmp_path / "rig" / "rig.toml").write_text(text)
    return tmp_path


async def pull(pins) -> None:
    """A pulse of another machine: the input is pulled low for a while."""
    pins.pin(27).drive_low()
    await asyncio.sleep(0.05)
    pins.pin(27).drive_high()


async def test_pulses_become_frames_and_frames_become_moves(pins, tmp_path):
    evening = Evening()
    wired(tmp_path, TRIGGER + MOTION)
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            begun = len(pins.pin(17).states)
            shoot = await rig.start_shoot(plan(pace=PULSE, when={"start": "now", "frames": 4}))
            run = rig.shoots.runs[shoot.id]
            assert run.plan.pace.min_gap_s == pytest.approx(0.1 + 0.05 + 0.2)  # what a move takes
            await until(lambda: run.slots.progress is not None)
            for _ in range(60):  # until four of them found the camera ready
                if run.shoot.state is ShootState.DONE:
                    break
                await pull(pins)
                await asyncio.sleep(1.5)
            done = await ended(rig, shoot)
            frames = await rows(rig, shoot)
            states = [state.state for state in pins.pin(17).states][begun:]
    taken = [frame for frame in frames if frame.state is not FrameState.MISSED]
    assert done.state is ShootState.DONE
    assert len(taken) == len(camera.record()) == 4
    assert all(frame.cause for frame in frames if frame.state is FrameState.MISSED)
    assert {frame.cause for frame in taken} == {None}
    ups = sum(b > a for a, b in itertools.pairwise([False, *map(bool, states)]))
    assert ups in (3, 4)  # the last move may be cut off by the end of the service
    assert not states[-1]


async def test_two_cameras_share_pulses_and_moves(pins, tmp_path):
    evening = Evening()
    wired(tmp_path, TRIGGER + MOTION)
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
    with evening.camera(tmp_path / "one") as one, evening.camera(tmp_path / "two") as two:
        async with evening.rig(tmp_path, one.address, two.address) as rig:
            await until(lambda: all(camera.connected for camera in rig.cameras()))
            begun = len(pins.pin(17).states)
            shoot = await rig.start_shoot(plan(pace=PULSE, when={"start": "now", "duration": "20min"}))
            runs = rig.shoots.runs[shoot.id].company.runs
            await until(lambda: all(run.slots.progress is not None for run in runs))
            for _ in range(60):  # until three of them found both cameras ready
                if all(run.book.counts.done >= 3 for run in runs):
                    break
                await pull(pins)
                await asyncio.sleep(1.5)
            await rig.shoots.stop(shoot.id)
            await ended(rig, shoot)
            frames = await rows(rig, shoot)
            states = [state.state for state in pins.pin(17).states][begun:]
    by_slot: dict[int, list[Frame]] = {}
    for frame in frames:
        by_slot.setdefault(frame.seq, []).append(frame)
    both = [pair for pair in by_slot.values() if len(pair) == 2]  # one may have been stopped with a slot in hand
    assert len(both) >= 3
    assert all(abs(a.due_utc - b.due_utc) < 0.2 for a, b in both)  # the pulses are 1.5 s apart
    taken = {seq for seq, pair in by_slot.items() if any(frame.state is not FrameState.MISSED for frame in pair)}
    assert len(taken) >= 3
    assert len(one.record()) + len(two.record()) == sum(frame.state is not FrameState.MISSED for frame in frames)
    ups = sum(b > a for a, b in itertools.pairwise([False, *map(bool, states)]))
    assert len(taken) - 1 <= ups <= len(taken)


async def test_a_rig_without_an_input_refuses_a_plan_on_pulses(pins, tmp_path):
    wired(tmp_path, MOTION)
    evening = Evening()
    async with evening.rig(tmp_path, "ptpip:127.0.0.1:9:9") as rig:
        with pytest.raises(Conflict) as refusal:
            await rig.start_shoot(plan(pace=PULSE))
        assert refusal.value.code == "no-trigger"
        assert "rig.toml" in refusal.value.remedy
        assert await rig.store.shoots() == []


async def test_what_is_wrong_with_a_pin_is_told_and_the_rig_goes_on(pins, tmp_path):
    from gpiozero import OutputDevice

    taken = OutputDevice(17)
    wired(tmp_path, MOTION + '[dew_heater]\npin = 22\nsensor_command = ["/nowhere/air"]\n')
    async with Evening().rig(tmp_path, "ptpip:127.0.0.1:9:9") as rig:
        await until(lambda: len(rig.wires.troubles()) == 2)
        await until(lambda: (heater := rig.wires.heater()) is not None and heater.on is False)
        now, health = await rig.now(), rig.healthz()
        assert any("pin 17" in text and str(tmp_path / "rig" / "rig.toml") in text for text in now.attention)
        assert any("/nowhere/air: No such file" in text for text in now.attention)
        assert len(health["wiring"]) == 2
        await rig.watching.look()
        rig.watching._mono = lambda: time.monotonic() + 3600.0
        await rig.watching.look()
        (finding,) = rig.watching.standing
        assert finding.check == "wiring"
        assert "pin 17" in finding.what
        assert sum("pin 17" in text for text in (await rig.now()).attention) == 1  # the page tells it once
        assert health["ok"]

        async def noted() -> list[str]:
            return [note.kind for note in await rig.store.notes()]

        while (await noted()).count("wiring-trouble") < 2:
            await asyncio.sleep(0.02)
        shoot = await rig.start_shoot(plan())
        while [note.kind for note in await rig.store.notes(shoot.id)].count("wiring-trouble") < 2:
            await asyncio.sleep(0.02)
    taken.close()


@pytest.mark.parametrize("text", ["[motion]\npin = 17\n", "[motion", "\ufeff[fan]\npin = 4\n"])
async def test_a_document_that_makes_no_sense_ends_the_start_in_one_line(tmp_path, text):
    wired(tmp_path, text)
    rig = Rig(tmp_path / "rig", WallClock(), ["ptpip:127.0.0.1:9:9"])
    with pytest.raises(BadInput) as refusal:
        await rig.open()
    assert refusal.value.code == "bad-wiring"
    assert str(tmp_path / "rig" / "rig.toml") in str(refusal.value)
    assert "\n" not in str(refusal.value)


async def test_it_is_told_over_rest(pins, tmp_path):
    wired(tmp_path, '[dew_heater]\npin = 22\nsensor_file = "{}"\n'.format(tmp_path / "air"))
    (tmp_path / "air").write_text("4.0 95")
    async with Evening().rig(tmp_path, "ptpip:127.0.0.1:9:9") as rig:
        await until(lambda: (heater := rig.wires.heater()) is not None and heater.on)
        now = (await rig.now()).model_dump(mode="json")["heater"]
        assert (now["on"], now["temperature_c"], now["humidity_percent"]) == (True, 4.0, 95.0)
        assert pins.pin(22).state == 1
    assert pins.pin(22).function == "input"
