"""A clip in even time, of pictures that were taken at uneven moments."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from controller.results.clip.colour import TO_LINEAR
from controller.results.clip.retime import MOST, check, count, mix, scene_clock, shown, usual
from controller.words.errors import BadInput

FPS = 25.0
Floats = NDArray[np.float64]


def dusk_times(missed: tuple[int, ...] = ()) -> Floats:
    """Intervals that grow from 4 s to 12 s over 200 frames; slots in `missed` have no picture."""
    times = np.concatenate([[0.0], np.cumsum(np.geomspace(4, 12, 200))])
    return np.delete(times, list(missed))


def hand(angle: float) -> NDArray[np.uint16]:
    """A clock's hand as light, 120 pixels square, with soft edges."""
    y, x = np.mgrid[0:120, 0:120] - 59.5
    along, across = x * np.cos(angle) + y * np.sin(angle), y * np.cos(angle) - x * np.sin(angle)
    off = np.hypot(across, np.maximum(np.maximum(along - 50, -along), 0))
    light = np.clip(4.5 - off, 0, 1)
    return np.repeat(np.round(60_000 * light).astype(np.uint16)[..., None], 3, axis=2)


def angle_of(light: NDArray[np.uint16]) -> float:
    """Where the hand points: the direction of the light's centroid."""
    y, x = np.mgrid[0:120, 0:120] - 59.5
    level = light[..., 0].astype(float)
    return float(np.arctan2((level * y).sum(), (level * x).sum()))


@pytest.mark.parametrize(("blend", "off"), [(True, 0.004), (False, 0.5)])
@pytest.mark.parametrize("missed", [(), (60, 61, 62, 130)])
def test_a_hand_turns_evenly(blend: bool, off: float, missed: tuple[int, ...]) -> None:
    """A hand of known speed, shot with growing intervals: no frame off its place by more than `off` of the longest
    way between two pictures; as it was shot, one a frame, its speed grows threefold."""
    times = dusk_times(missed)
    speed = 1e-3  # radians a second
    pictures = [hand(speed * moment) for moment in times]
    plain = np.diff([angle_of(picture) for picture in pictures])
    assert plain[-5:].mean() / plain[:5].mean() > 2.8
    pace = usual(times, FPS)
    angles = []
    for earlier, later, share in shown(times, FPS, pace, blend):
        light = pictures[earlier] if share == 0 else mix(pictures[earlier], pictures[later], share)
        angles.append(angle_of(light))
    even = speed * pace / FPS * np.arange(len(angles))
    longest = speed * np.diff(times).max()
    assert np.abs(np.array(angles) - even).max() <= off * longest + 0.001  # which a drawn hand is off itself
    assert len(angles) == count(times, FPS, pace) == int(times[-1] / pace * FPS + 1e-9) + 1


def test_steady_intervals_show_each_picture_once() -> None:
    times = 1_796_137_509.4 + 5.0 * np.arange(1000)
    assert usual(times, FPS) == pytest.approx(125)
    for blend in (False, True):
        assert list(shown(times, FPS, 125, blend)) == [(n, n, 0.0) for n in range(1000)]


def test_half_as_fast_shows_each_twice_or_halfway() -> None:
    times = [0.0, 5.0, 10.0]
    assert list(shown(times, 10, 25, True)) == [(0, 0, 0.0), (0, 1, 0.5), (1, 1, 0.0), (1, 2, 0.5), (2, 2, 0.0)]
    assert [earlier for earlier, _, _ in shown(times, 10, 25, False)] == [0, 1, 1, 2, 2]


def test_missed_slots_are_faded_over() -> None:
    """Three of five missing: their time is kept, in equal shares."""
    assert [share for _, _, share in shown([0, 5, 25, 30], 1, 5, True)] == pytest.approx([0, 0, 0.25, 0.5, 0.75, 0, 0])


def test_the_day_between_two_windows_takes_no_time() -> None:
    evening = 5.0 * np.arange(100)
    times = np.concatenate([evening, 86_400 + evening])
    frames = list(shown(times, FPS, 125, True))
    assert len(frames) == 200
    assert [earlier for earlier, _, _ in frames] == list(range(200))
    assert np.diff(scene_clock(times, 125)).max() == pytest.approx(5)


def test_few_pictures_and_a_clock_that_went_back() -> None:
    assert list(shown([], FPS, 125, True)) == []
    assert count([], FPS, 125) == 0
    assert list(shown([7.0], FPS, 125, True)) == [(0, 0, 0.0)]
    assert list(shown([7.0, 7.0], FPS, 125, True)) == [(0, 0, 0.0)]
    places = [later for _, later, _ in shown([0, 5, 4, 9, 14], 1, 5, True)]
    assert places == sorted(places)
    assert places[-1] == 4


@given(
    st.lists(st.floats(0, 100), min_size=1, max_size=60),
    st.floats(1, 120),
    st.floats(0.5, 3000),
    st.booleans(),
)
def test_whatever_the_times(steps: list[float], fps: float, pace: float, blend: bool) -> None:
    times = np.cumsum(steps).tolist()
    if times[-1] - times[0] > 20_000 * pace / fps:
        return
    frames = list(shown(times, fps, pace, blend))
    assert len(frames) == count(times, fps, pace)
    positions = [earlier + share for earlier, _, share in frames]
    assert positions == sorted(positions)
    for earlier, later, share in frames:
        assert 0 <= share < 1
        assert later in ((earlier + 1,) if share else (earlier,))
        assert later < len(times)


def test_a_film_that_hardly_moves_is_refused_with_a_speed_that_is_not() -> None:
    times = [10.0 * number for number in range(101)]  # 1000 s
    check(times, FPS, 1000 * FPS / (MOST * 101) + 0.01)
    with pytest.raises(BadInput) as raised:
        check(times, FPS, 1e-9)
    assert raised.value.where == "scene_s_per_s"
    check(times, FPS, float(raised.value.remedy.split()[-2]))
    check([], FPS, 1e-9)
    check([5.0], FPS, 1e-9)  # one frame, however slow


def test_light_is_mixed_as_light() -> None:
    """Half of black and white is half the light, which sRGB's curve calls code 188 (IEC 61966-2-1), not 128."""
    black, white = np.zeros((1, 1, 3), np.uint16), np.full((1, 1, 3), 65535, np.uint16)
    assert mix(black, white, 0.5)[0, 0, 0] == 32768
    assert mix(white, white, 0.37)[0, 0, 0] == 65535
    assert np.array_equal(mix(black, white, 1.0), white)
    assert int(np.searchsorted(TO_LINEAR, 32768)) == 188
