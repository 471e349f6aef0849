"""Deadlines on a camera process, without waiting for them."""

from __future__ import annotations

from dataclasses import replace

from controller.camera.messages import Release
from controller.camera.watch import Watch

ORDER = Release(1, 100.0, 101.0, 8.0, 2.8, 100.0, 8.0, "all", "", "")


def code(watch: Watch, now_mono: float) -> str | None:
    wrong = watch.wrong(now_mono)
    return wrong.code if wrong else None


def opened(at_mono: float) -> Watch:
    watch = Watch(at_mono)
    watch.opened()
    return watch


def test_opening_has_twenty_seconds_from_the_last_sign() -> None:
    watch = Watch(50.0)
    assert code(watch, 69.9) is None
    assert code(watch, 70.1) == "camera-not-opened"
    watch.heard(69.0)
    assert code(watch, 88.9) is None


def test_silence_is_allowed_for_ten_seconds_and_the_exposure() -> None:
    watch = opened(100.0)
    assert code(watch, 109.9) is None
    assert code(watch, 110.1) == "camera-mute"
    watch.ordered(ORDER)
    assert code(watch, 117.9) is None
    assert code(watch, 118.1) == "camera-mute"


def test_a_release_has_its_exposure_and_ten_seconds() -> None:
    watch = opened(100.0)
    watch.ordered(ORDER)
    watch.ordered(replace(ORDER, seq=2, due_mono=500.0, latest_mono=500.0))
    watch.heard(119.0)
    assert code(watch, 118.9) is None
    assert code(watch, 119.1) == "camera-no-release"
    assert watch.in_hand == [1, 2]
    watch.answered(1)
    assert code(watch, 119.1) is None
    assert watch.in_hand == [2]


def test_a_daemon_that_was_held_up_blames_itself() -> None:
    watch = opened(100.0)
    watch.slept_over(30.0)
    assert code(watch, 131.0) is None
    assert code(watch, 140.5) == "camera-mute"


def test_a_long_call_that_was_announced_is_waited_for() -> None:
    watch = Watch(50.0)
    watch.heard(52.0, quiet_s=120.0)
    assert code(watch, 171.9) is None
    assert code(watch, 172.1) == "camera-not-opened"
    watch.heard(172.0)
    watch.opened()
    assert code(watch, 181.9) is None
    assert code(watch, 182.1) == "camera-mute"
