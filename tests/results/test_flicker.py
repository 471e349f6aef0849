"""Flicker figures against OpenCV: the brightness of pictures, and what differs from frame to frame."""

from __future__ import annotations

import io

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image

from controller.results.clip.tone import histogram, log2_luminance
from controller.results.flicker import Running, flicker
from tests.results.nights import dusk, styled, to_linear


def by_opencv(track: NDArray[np.float64]) -> tuple[float, float, float]:
    """RMS of first and second differences and the largest first one, by its filters and norms."""
    row = track.reshape(1, -1)
    first = cv2.filter2D(row, cv2.CV_64F, np.array([[-1.0, 1.0, 0.0]]))[:, 1:]
    second = cv2.filter2D(row, cv2.CV_64F, np.array([[1.0, -2.0, 1.0]]))[:, 1:-1]
    rms = [cv2.norm(each, cv2.NORM_L2) / np.sqrt(each.size) for each in (first, second)]
    return rms[0], rms[1], cv2.norm(first, cv2.NORM_INF)


@given(st.lists(st.floats(-14, 0), min_size=3, max_size=60))
@settings(max_examples=100, deadline=None)
def test_differences(track: list[float]) -> None:
    told = flicker(track)
    assert told is not None
    assert told.frames == len(track)
    figures = (told.first_rms_ev, told.second_rms_ev, told.largest_step_ev)
    assert figures == pytest.approx(by_opencv(np.array(track)), abs=1e-9)


def test_of_jpegs() -> None:
    """Decoded, made linear (IEC 61966-2-1) and weighted (ITU-R BT.709) by OpenCV alone."""
    night = dusk(40, flicker=0.03, curve=styled)
    table = to_linear(np.arange(256.0)).astype(np.float32)
    ours, theirs = [], []
    for number in range(40):
        file = io.BytesIO()
        Image.fromarray(night.picture(number, (96, 64))).save(file, "JPEG", quality=92)
        with Image.open(file) as image:
            ours.append(log2_luminance(histogram(np.asarray(image))))
        bgr = cv2.imdecode(np.frombuffer(file.getvalue(), np.uint8), cv2.IMREAD_COLOR)
        luminance = cv2.transform(cv2.LUT(bgr, table), np.array([[0.0722, 0.7152, 0.2126]], np.float32))
        theirs.append(float(np.log2(cv2.mean(luminance)[0])))
    assert ours == pytest.approx(theirs, abs=0.002)  # two JPEG decoders
    told = flicker(ours)
    assert told is not None
    assert (told.first_rms_ev, told.second_rms_ev, told.largest_step_ev) == pytest.approx(
        by_opencv(np.array(theirs)), abs=0.002
    )


def test_hand_worked() -> None:
    """0, 3, −1, −1: differences 3, −4, 0; second ones −7, 4."""
    told = flicker([0, 3, -1, -1])
    assert told is not None
    assert told.first_rms_ev == pytest.approx(np.sqrt(25 / 3))
    assert told.second_rms_ev == pytest.approx(np.sqrt(65 / 2))
    assert told.largest_step_ev == 4


def test_too_few_frames_tell_nothing() -> None:
    assert flicker([]) is None
    assert flicker([-3.0, -3.1]) is None


def test_across_a_gap_nothing_follows() -> None:
    """Each part by OpenCV, then together: means of squares weighted by how many there are."""
    dice = np.random.default_rng(4)
    parts = [dice.normal(-5, 0.3, 20), dice.normal(-1, 0.1, 7)]
    running = Running()
    for part in parts:
        running.part()
        for level in part.tolist():
            running.add(level)
    told = running.flicker()
    (first_a, second_a, most_a), (first_b, second_b, most_b) = (by_opencv(part) for part in parts)
    assert told is not None
    assert told.first_rms_ev == pytest.approx(np.sqrt((19 * first_a**2 + 6 * first_b**2) / 25))
    assert told.second_rms_ev == pytest.approx(np.sqrt((18 * second_a**2 + 5 * second_b**2) / 23))
    assert told.largest_step_ev == pytest.approx(max(most_a, most_b))
