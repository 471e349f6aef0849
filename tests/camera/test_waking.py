"""Bodies that sleep between releases: when they are asked something, and that no release finds them asleep."""

from __future__ import annotations

import math
import time
from pathlib import Path

from controller.camera.messages import Gone, Missed, Opened, Release, Released, Written
from controller.camera.worker.waking import LIFE_S, LULL_S, Waking, ask_at
from tests.camera.ear import connected, order, shoot
from tests.support.simcam import start_simulated_camera


def due(mono: float, exposure_s: float = 0.2) -> Release:
    return Release(7, mono, mono + 1.0, exposure_s, 2.8, 100.0, exposure_s, "none", "", "")


def asked(due_mono: float | None, lead_s: float, until: float, worked_mono: float = 0.0) -> list[float]:
    """When a body is asked that answers at once, from its last work on."""
    at, all_ = worked_mono, []
    while (at := ask_at(at, worked_mono, due_mono, lead_s)) < until:
        all_.append(at)
    return all_


def test_questions_come_at_least_every_ten_seconds_and_the_last_one_by_the_lead() -> None:
    """Ten seconds: how often libgphoto2 (2.5.34, camlibs/ptp2/library.c) tells a Canon EOS to stay on, at most."""
    for due in (9.0, 13.0, 31.4, 60.0, 3600.0):
        for lead in (0.4, 2.5, 7.0):
            times = asked(due, lead, due)
            assert times[-1] == due - lead, (due, lead)
            gaps = [b - a for a, b in zip([0.0, *times], [*times, due], strict=False)]
            assert max(gaps[:-1]) <= 10.0
            assert all(gap >= 2.0 for gap in gaps[:-1])  # nearer ones would be answered from memory


def test_short_intervals_and_idle_cameras_are_asked_only_against_silence() -> None:
    assert ask_at(100.0, 100.0, None, 2.5) == 100.0 + LIFE_S
    assert ask_at(100.0, 100.0, 100.0 + LULL_S, 2.5) == 100.0 + LIFE_S
    assert ask_at(100.0, 90.0, 101.0, 2.5) >= 101.0  # asked within the lead already


def test_an_order_that_comes_late_is_preceded_by_the_question_all_the_same() -> None:
    assert ask_at(100.0, 60.0, 104.25, 5.0) >= 104.25
    assert ask_at(98.0, 60.0, 104.25, 5.0) <= 100.0


def test_the_lead_is_what_waking_took_and_some_more() -> None:
    waking = Waking(0.0)
    assert waking.lead_s > 1.5  # before anything is known
    for took in (1.5, 4.0, 1.5):
        waking.woke(took)
    assert 4.0 < waking.lead_s < 6.0
    for _ in range(10):
        waking.woke(1.5)
    assert 1.5 < waking.lead_s < 2.5


def test_the_next_release_is_foreseen_by_the_last_two() -> None:
    waking = Waking(0.0)
    assert waking.expected(0.0) is None
    waking.released(due(100.0), 0.01, 101.0)
    waking.released(due(160.0), 0.01, 161.0)
    assert waking.expected(200.0) == 220.0
    assert waking.expected(221.0) is None  # it did not come
    waking.woke(8.0)
    assert waking.ask_at(209.0, None, 209.0) < 220.0 - 8.0
    assert waking.ask_at(209.0, 400.0, 209.0) == 209.0 + LIFE_S  # an order goes before what was foreseen


def test_a_release_that_found_the_body_asleep_is_told_once_and_learned_from() -> None:
    waking = Waking(0.0)
    assert waking.released(due(60.0), 0.02, 60.2) is None
    told = waking.released(due(120.0), 4.0, 124.2)
    assert told is not None
    assert (told.code, told.seq) == ("camera-slept", 7)
    assert waking.lead_s > 4.0
    assert waking.released(due(180.0), 4.0, 184.2) is None  # told already
    assert waking.released(due(240.0), 0.02, 240.2) is None
    assert waking.released(due(241.0), 4.0, 245.2) is None  # busy, for no body sleeps within a second
    for exposure_s in (1.0, 8.0, 30.0):  # a body that answers when the exposure is over
        waking = Waking(0.0)
        for n in (1, 2):
            assert waking.released(due(60.0 * n, exposure_s), exposure_s + 0.1, 60.0 * n + exposure_s) is None


def test_a_release_that_is_a_little_slow_after_a_lull_found_nobody_asleep() -> None:
    """A fifth of a second beyond what the last one took and the exposure; a quarter more is sleep."""
    waking = Waking(0.0)
    assert waking.released(due(60.0), 0.1, 60.3) is None
    assert waking.released(due(120.0), 0.1 + due(120.0).exposure_s + 0.2, 120.5) is None
    waking = Waking(0.0)
    assert waking.released(due(60.0), 0.1, 60.3) is None
    assert waking.released(due(120.0), 0.1 + due(120.0).exposure_s + 0.3, 120.5) is not None


def test_other_work_gives_way_to_waking() -> None:
    waking = Waking(100.0)
    assert waking.limit(120.0, 101.0) == 120.0
    assert waking.limit(120.0, 110.0) == 120.0 - waking.lead_s
    assert waking.limit(math.inf, 110.0) == math.inf


async def test_a_body_that_dozes_is_awake_when_the_release_comes(tmp_path: Path) -> None:
    """It dozes six seconds after its last work and is not asked between the fifth and the tenth, but to wake it."""
    with start_simulated_camera(tmp_path, faults="doze(6,1)") as camera:
        async with connected(camera.address) as (link, ear):
            start = time.monotonic() + 0.3
            await shoot(link, [order(n, start + 10.0 * n, tmp_path, fetch="preview") for n in range(2)], ahead_s=3.0)
            await ear.count(Written, 2)
            woken_by = camera.control("sleep")["woken_by"]
    assert len(ear.all(Released)) == 2
    assert not ear.all(Missed)
    assert not ear.all(Gone)
    assert woken_by["release"] == 0
    assert woken_by["other"] >= 1


async def test_a_body_that_leaves_is_opened_again_before_the_release(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, ear):
            camera.control("fault", word="leave(4,1)")
            await ear.count(Gone, 1)
            await ear.count(Opened, 2)
            await link.release(order(1, time.monotonic() + 2.0, tmp_path, fetch="preview"))
            await ear.count(Written, 1)
    assert len(ear.all(Released)) == 1
