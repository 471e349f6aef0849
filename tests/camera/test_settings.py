"""The body's settings by the real libgphoto2: names of ours over the controls of the simulated camera."""

from __future__ import annotations

import asyncio
import time
from pathlib import Path

import pytest

from controller.camera.messages import Missed, Released, Written
from controller.words.errors import BadInput, CameraError, Conflict
from controller.words.settings import Setting
from controller.words.stops import true_iso
from tests.camera.ear import connected, listed, order
from tests.support.simcam import start_simulated_camera


async def test_what_the_body_has_is_read_under_our_names(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, _):
            shown = {each.setting: each for each in await link.settings()}
    # libgphoto2's names of the properties that ISO 15740 numbers 500d, 5007, 500f, 500e, 500a, 5005 and 5001
    assert shown[Setting.SHUTTER].control == "shutterspeed"
    assert shown[Setting.APERTURE].value == "f/2.8"
    assert shown[Setting.APERTURE].number == pytest.approx(8**0.5)
    assert shown[Setting.ISO].number == 100
    assert len(shown[Setting.ISO].choices) >= 20
    assert (shown[Setting.EXPOSURE_MODE].control, shown[Setting.EXPOSURE_MODE].value) == ("expprogram", "M")
    assert "Manual" in shown[Setting.FOCUS].choices
    assert shown[Setting.WHITE_BALANCE].value == "Daylight"
    assert shown[Setting.BATTERY].number == 100
    assert not shown[Setting.BATTERY].writable
    assert Setting.NOISE_REDUCTION not in shown  # this body has no such control


async def test_a_setting_is_changed_by_the_bodys_own_text_and_read_back(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, _):
            assert (await link.set(Setting.FOCUS, "automatic")).value == "Automatic"  # in any case
            assert (await link.set(Setting.ISO, "ISO 800")).value == "800"  # by the number
            again = {each.setting: each for each in await link.settings()}
            assert (again[Setting.FOCUS].value, again[Setting.ISO].value) == ("Automatic", "800")


async def test_what_cannot_be_set_is_told_with_its_remedy(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, _):
            with pytest.raises(BadInput, match=r"'twelve' is no ISO of this body.*Choose one of 100, ") as refused:
                await link.set(Setting.ISO, "twelve")
            assert refused.value.code == "no-such-choice"
            with pytest.raises(BadInput, match="only shows its battery"):
                await link.set(Setting.BATTERY, "50%")
            with pytest.raises(BadInput, match="no control of its noise reduction"):
                await link.set(Setting.NOISE_REDUCTION, "Off")
            camera.control("refuse", operation="set", code="access_denied", times=9)
            with pytest.raises(Conflict, match=r"access denied.*mode dial to M"):
                await link.set(Setting.ISO, "400")


@pytest.mark.parametrize("maker", ["generic", "nikon", "canon"])
async def test_the_body_s_clock_is_set_to_the_rig_s_and_its_files_follow(tmp_path: Path, maker: str) -> None:
    """ISO 15740 property 5011; of Canon EOS its own (libgphoto2 2.5.34, camlibs/ptp2/config.c, 'datetime')."""
    with start_simulated_camera(tmp_path, maker=maker, epoch_utc="2021-03-04T05:06:07Z") as camera:
        async with connected(camera.address) as (link, ear):
            before = {each.setting: each for each in await link.settings()}[Setting.CLOCK]
            assert before.number is not None
            assert before.number < time.time() - 365 * 86400
            with pytest.raises(BadInput, match="Choose one of now"):
                await link.set(Setting.CLOCK, "2030-01-01T00:00:00Z")
            after = await link.set(Setting.CLOCK, "now", ahead_s=-86400.0)  # a rig whose clock was told another day
            assert after.number is not None
            assert abs(after.number + 86400.0 - time.time()) < 30.0
            assert link.opened is not None
            assert link.opened.clock_s == after.number
            await link.release(order(1, time.monotonic() + 0.5, tmp_path))
            await ear.count(Written, 1)
            (file,) = await listed(link)
    assert file.mtime_utc is not None
    assert abs(file.mtime_utc + 86400.0 - time.time()) < 60.0


@pytest.mark.parametrize("maker", ["generic", "canon"])
async def test_the_clock_goes_on_where_libgphoto2_shows_what_it_was_told_once(tmp_path: Path, maker: str) -> None:
    with start_simulated_camera(tmp_path, maker=maker) as camera:
        async with connected(camera.address) as (link, _):
            first = {each.setting: each for each in await link.settings()}[Setting.CLOCK]
            asked = time.monotonic()
            await asyncio.sleep(3.0)
            later = {each.setting: each for each in await link.settings()}[Setting.CLOCK]
            assert first.number is not None
            assert later.number is not None
            assert 2.0 <= later.number - first.number <= time.monotonic() - asked + 1.0  # whole seconds
            assert link.opened is not None
            assert link.opened.clock_s is not None
            stands = link.opened.clock_s + time.monotonic() - link.opened.clock_mono
            assert abs(stands - later.number) < 2.0


async def test_a_clock_that_the_body_does_not_take_is_told(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, epoch_utc="2021-03-04T05:06:07Z") as camera:
        async with connected(camera.address) as (link, _):
            camera.control("refuse", operation="set", code="access_denied", times=9)
            with pytest.raises(Conflict, match=r"clock could not be set to now: access denied.*camera's menu"):
                await link.set(Setting.CLOCK, "now")


async def test_questions_cost_no_frame(tmp_path: Path) -> None:
    """Settings are asked for all the while that frames are taken at half a second."""
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, ear):
            start = time.monotonic() + 0.5
            orders = [order(n, start + n / 2, tmp_path / "rig", iso=true_iso(100)) for n in range(1, 13)]
            for each in orders:
                await link.release(each)
            for style in ("Automatic", "Manual") * 2:
                await link.set(Setting.FOCUS, style)
                assert len(await link.settings()) >= 8
            await ear.count(Written, 12)
    assert not ear.all(Missed)
    late = [told.at_mono - orders[told.seq - 1].due_mono for told in ear.all(Released)]
    assert max(late) < 0.25  # none was given up, none waited for a question


async def test_a_camera_that_goes_answers_no_question(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, _):
            await asyncio.sleep(2.5)  # for two seconds the library answers from memory
            camera.stop()
            with pytest.raises(CameraError):
                await link.settings()
