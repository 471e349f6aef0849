"""The way back to a lost camera: the order of steps, what is told of them, and the command that cuts the power.

The order, from what costs least to what costs most, is common practice, no source. That nothing helps a hung body but a
reset of its port or its power: libgphoto2's tracker, from memory.
"""

from __future__ import annotations

import itertools
import json
import shlex
import sys
import time
from pathlib import Path

import pytest

from controller.camera import ladder
from controller.camera.climb import LIVED_S, Climb
from controller.camera.ladder import Cause, Move, Rung, cause_of, next_move, power_due, when_busy
from controller.camera.messages import Gone, Missed, Opened, Release, Tried, Trouble, Written
from controller.camera.power import PowerCycle
from controller.camera.watch import Watch
from controller.camera.worker.draining import LONG_S, Draining
from controller.words.errors import BadInput
from tests.camera.ear import connected, order
from tests.support.simcam import start_simulated_camera

COST = list(Rung)


def climbed(cause: Cause, steps: int, *, usb: bool = True, power: bool = False) -> list[Rung]:
    """What is tried in vain, one after the other, for the same cause."""
    tried: list[Rung] = []
    for _ in range(steps):
        tried.append(next_move(cause, tried, usb=usb, power=power).rung)
    return tried


def first_of_each(tried: list[Rung]) -> list[Rung]:
    return list(dict.fromkeys(tried))


@pytest.mark.parametrize("cause", [cause for cause in Cause if cause is not Cause.BUSY])
def test_cheaper_steps_come_first_and_it_never_ends(cause: Cause) -> None:
    for usb in (True, False):
        for power in (True, False):
            tried = climbed(cause, 100, usb=usb, power=power)
            assert len(tried) == 100
            order_of_first = [COST.index(rung) for rung in first_of_each(tried)]
            assert order_of_first == sorted(order_of_first), (cause, tried[:20])
            assert tried.count(Rung.PROCESS) + tried.count(Rung.POWER) >= 6  # no process tries for ever


def test_a_lost_session_climbs_step_by_step() -> None:
    expected = [Rung.SESSION, Rung.PORT, Rung.POWER]
    assert first_of_each(climbed(Cause.LOST, 20, power=True)) == expected
    assert first_of_each(climbed(Cause.LOST, 20)) == [Rung.SESSION, Rung.PORT, Rung.PROCESS]
    assert first_of_each(climbed(Cause.LOST, 20, usb=False)) == [Rung.SESSION, Rung.PROCESS]


def test_what_is_not_there_is_not_reset_and_what_is_another_s_is_not_taken() -> None:
    assert Rung.PORT not in climbed(Cause.ABSENT, 100)
    claimed = climbed(Cause.CLAIMED, 100, power=True)
    assert set(claimed) == {Rung.SESSION, Rung.PROCESS}
    assert climbed(Cause.ENDED, 3) == [Rung.PROCESS] * 3


def test_only_the_first_step_after_a_loss_is_made_at_once() -> None:
    for cause in (Cause.LOST, Cause.ENDED):
        assert next_move(cause, [], usb=True, power=False).wait_s == 0.0
        assert next_move(cause, [Rung.SESSION], usb=True, power=False).wait_s == ladder.AGAIN_S
    assert next_move(Cause.ABSENT, [], usb=True, power=False).wait_s == ladder.AGAIN_S


def test_causes_by_the_code_of_a_trouble() -> None:
    known = {"camera-lost": Cause.LOST, "camera-absent": Cause.ABSENT, "camera-claimed": Cause.CLAIMED}
    assert {code: cause_of(code) for code in known} == known
    assert cause_of("camera-not-opened") is Cause.UNOPENED


def test_a_busy_body_is_heard_out_for_longer_than_a_dark_frame_takes() -> None:
    for exposure_s in (0.1, 30.0, 300.0):
        assert when_busy(2 * exposure_s + 30.0, exposure_s) is Rung.DRAIN
        assert when_busy(2 * exposure_s + 90.0, exposure_s) is Rung.SESSION


def test_the_power_is_cut_late_seldom_and_never_into_a_release() -> None:
    assert power_due(61.0, 1e9, 1e9)
    assert not power_due(30.0, 1e9, 1e9)
    assert not power_due(1000.0, 300.0, 1e9)
    assert not power_due(1000.0, 1e9, 5.0)


def test_seconds_that_are_clear_of_releases() -> None:
    watch = Watch(0.0)
    assert watch.clear_s(10.0) == float("inf")
    first = Release(1, 100.0, 101.0, 2.0, 2.8, 100.0, 2.0, "none", "", "")
    watch.ordered(first)
    assert watch.clear_s(97.0) == 0.0  # ordered: it may be any moment
    watch.answered(1)
    assert watch.clear_s(101.0) == 0.0  # it exposes
    watch.ordered(Release(2, 130.0, 131.0, 2.0, 2.8, 100.0, 2.0, "none", "", ""))
    watch.answered(2)
    assert watch.clear_s(140.0) == 20.0  # the next one comes in step
    assert watch.clear_s(300.0) == float("inf")  # it did not


# ---- what is told


def climb(**options: bool) -> tuple[Climb, list[Tried]]:
    told: list[Tried] = []
    return Climb(told.append, **{"usb": True, "power": False, **options}), told


def test_steps_are_told_with_their_times_and_how_long_they_took() -> None:
    way, told = climb()
    way.there(0.0)
    way.lost(100.0)
    assert way.failed(Cause.LOST, "i/o error", 100.0) == Move(Rung.SESSION, 0.0)
    assert way.failed(Cause.LOST, "no answer", 103.0) == Move(Rung.SESSION, ladder.AGAIN_S)
    assert way.failed(Cause.LOST, "no answer", 108.0).rung is Rung.PORT
    assert [(t.step, t.times, t.began_mono, t.took_s, t.worked, t.what) for t in told] == [
        (Rung.SESSION.value, 2, 100.0, 8.0, False, "no answer")
    ]
    way.there(112.0)
    assert (told[1].step, told[1].times, told[1].worked) == (Rung.PORT.value, 1, True)
    assert (told[1].began_mono, told[1].took_s, told[1].lost_s) == (110.0, 2.0, 12.0)


def test_a_camera_that_is_off_all_night_makes_few_notes_and_its_return_is_told() -> None:
    way, told = climb()
    way.there(0.0)
    way.lost(100.0)
    for n in range(5000):
        way.failed(Cause.ABSENT, "nothing there", 100.0 + 2 * n)
    assert len(told) <= 15
    way.there(10_200.0)
    assert told[-1].worked
    assert told[-1].lost_s == 10_100.0


def test_a_busy_body_s_hearing_out_is_told_where_it_lasts() -> None:
    told: list[Tried] = []
    draining = Draining(told.append)
    for frame in range(50):  # busy for a moment after each frame
        assert all(draining.busy(10.0 * frame + moment, 0.1) for moment in (0.0, 0.5 * LONG_S))
        draining.over()
    assert told == []
    assert all(draining.busy(1000.0 + n, 0.1) for n in range(4))
    draining.over()
    assert told == [Tried(Rung.DRAIN.value, 4, 1000.0, 3.0, 3.0, True, "it takes frames again")]
    assert all(draining.busy(2000.0 + n, 0.1) for n in range(3))  # until the slot was over, and none for a while
    assert draining.busy(2060.0, 0.1)
    assert (told[1].began_mono, told[1].took_s, told[1].worked) == (2000.0, 2.0, False)


def test_what_is_told_of_a_body_that_was_busy_from_the_first_frame_on() -> None:
    """More than a second of it; another frame's begins where it did not say so for five."""
    told: list[Tried] = []
    draining = Draining(told.append)
    assert all(draining.busy(5.0 + late, 0.1) for late in (0.0, 1.2, 6.0))
    assert draining.busy(11.0 + 5.5, 0.1)
    assert [(each.times, each.began_mono, each.took_s) for each in told] == [(3, 5.0, 6.0)]
    assert draining.busy(16.5 + 1.2, 0.1)
    draining.over()
    assert [(each.times, each.began_mono, round(each.took_s, 6)) for each in told[1:]] == [(2, 16.5, 1.2)]


def test_a_body_that_stays_busy_gets_a_new_session_and_that_is_told() -> None:
    told: list[Tried] = []
    draining = Draining(told.append)
    for hour in range(30):  # a buffer that is full at every frame makes few notes
        assert all(draining.busy(3600.0 * hour + n, 0.1) for n in range(3))
        draining.over()
    assert len(told) <= 15
    seconds = next(n for n in range(1000) if not draining.busy(1e6 + n, 0.1))
    assert when_busy(seconds, 0.1) is Rung.SESSION
    assert (told[-1].began_mono, told[-1].took_s, told[-1].worked) == (1e6, float(seconds), False)


def test_before_the_first_session_nothing_is_told() -> None:
    way, told = climb(power=True)
    for n in range(200):
        assert way.failed(Cause.ABSENT, "nothing there", 2.0 * n).rung is not Rung.POWER
    way.there(400.0)
    assert told == []


def test_a_session_that_does_not_last_is_no_success() -> None:
    way, _ = climb(usb=False)
    way.there(0.0)
    now, rungs = 100.0, []
    for _ in range(6):
        way.lost(now)
        rungs.append(way.failed(Cause.LOST, "", now).rung)
        way.there(now + 1.0)
        now += LIVED_S / 2
    assert Rung.PROCESS in rungs
    way.lost(now + 10 * LIVED_S)
    assert way.failed(Cause.LOST, "", now).rung is Rung.SESSION


def test_the_power_is_cut_once_in_ten_minutes() -> None:
    way, _ = climb(power=True)
    way.there(0.0)
    way.lost(100.0)
    cuts = [t for t in range(100, 2000, 2) if way.failed(Cause.UNOPENED, "", float(t)).rung is Rung.POWER]
    assert 2 <= len(cuts) <= 4
    assert cuts[0] >= 160
    assert all(b - a >= 600 for a, b in itertools.pairwise(cuts))
    assert way.failed(Cause.ENDED, "", 9000.0, clear_s=3.0).rung is Rung.PROCESS


# ---- the command


def python(*words: str) -> str:
    return shlex.join([sys.executable, "-c", *words])


async def test_the_command_knows_which_camera_it_is_for(tmp_path: Path) -> None:
    out = tmp_path / "out"
    script = "import os,sys; open(sys.argv[1],'w').write(os.environ['DUSKHAND_CAMERA']+' '+os.environ['DUSKHAND_PORT'])"
    assert await PowerCycle(python(script, str(out))).cycle("camera-2", "usb:001,004") is None
    assert out.read_text() == "camera-2 usb:001,004"


@pytest.mark.parametrize(
    ("script", "said"),
    [
        ("print('first'); print('no such port'); raise SystemExit(3)", "ended with 3: no such port"),
        ("import time; time.sleep(600)", "took more than 0.5 s"),
    ],
)
async def test_a_command_that_fails_is_told(script: str, said: str) -> None:
    trouble = await PowerCycle(python(script), longest_s=0.5 if "sleep" in script else 60.0).cycle("camera-1", "usb:")
    assert trouble is not None
    assert trouble.code == "power-cycle-failed"
    assert said in trouble.what
    assert "\n" not in trouble.what


@pytest.mark.parametrize("command", ["", "no-such-program-anywhere --port 2", "sh 'unclosed"])
def test_a_command_that_is_none_is_refused_at_once(command: str) -> None:
    with pytest.raises(BadInput, match="power-cycle") as caught:
        PowerCycle(command)
    assert caught.value.code == "bad-power-cycle"


# ---- all of it


async def test_a_hung_camera_gets_its_power_cut(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It hears nothing until its power was cut, for which the simulated camera's control port stands here."""
    monkeypatch.setattr(ladder, "AGAIN_S", 0.1)
    monkeypatch.setattr(ladder, "POWER_AFTER_S", 0.5)
    monkeypatch.setitem(ladder.STEPS, Cause.ABSENT, (Rung.SESSION, Rung.SESSION, Rung.PROCESS))
    with start_simulated_camera(tmp_path) as camera:
        said = json.dumps({"do": "fault", "word": "ok"})
        script = "import socket,sys; s=socket.create_connection(('127.0.0.1',int(sys.argv[1])));"
        script += "s.sendall(sys.argv[2].encode()+b'\\n'); s.makefile().readline()"
        power = PowerCycle(python(script, str(camera.control_port), said))
        async with connected(camera.address, power=power) as (link, ear):
            camera.control("fault", word="mute(600)")
            await ear.count(Opened, 2)
            await link.release(order(1, time.monotonic() + 0.5, tmp_path, fetch="none"))
            await ear.count(Written, 1)
    assert [t.code for t in ear.all(Trouble) if t.code == "power-cycle-failed"] == []
    assert not ear.all(Missed)
    assert ear.all(Gone)[0].code in ("camera-lost", "camera-mute")
    steps = ear.all(Tried)
    assert (steps[0].step, steps[0].worked) == (Rung.SESSION.value, False)
    assert (steps[-1].step, steps[-1].worked) == (Rung.POWER.value, True)
