"""Recovery of tone curves: against the formulas that made the pictures, and against OpenCV's calibrations."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from controller.decide.meter import SRGB, meter, scene_ev
from controller.decide.response import Learned, NotLearned, Shot, cells, from_bracket, from_steps
from tests.decide.brackets import ORDER_EV, STYLES, Eye, bracket, dusk, error_ev


@pytest.mark.parametrize("style", STYLES)
def test_a_bracket_gives_the_curve(style):
    found = from_bracket(bracket(style))
    assert isinstance(found, Learned), found
    assert error_ev(found.curve.linear, style) < 0.05
    assert error_ev(SRGB.linear, style) > 0.1
    assert found.quality_ev < 0.02


@pytest.mark.parametrize("ev_min", [-1.0, 1.0])
def test_light_that_changes_during_the_bracket_is_not_taken_for_the_curve(ev_min):
    """Half a stop from the first picture to the last, as when a cloud passes."""
    found = from_bracket(bracket("standard", ev_min))
    assert isinstance(found, Learned), found
    assert error_ev(found.curve.linear, "standard") < 0.02


@pytest.mark.parametrize("style", STYLES)
def test_opencv_finds_the_same_curve(style):
    """OpenCV 4/5, createCalibrateDebevec and createCalibrateRobertson, on a bracket without drift."""
    eye = Eye(style)
    images = [eye.image(0.0, float(ev)) for ev in ORDER_EV[:-1]]
    times = np.array([2.0**-ev for ev in ORDER_EV[:-1]], np.float32)
    debevec = cv2.createCalibrateDebevec(samples=200).process(images, times)[:, 0, 1]
    robertson = cv2.createCalibrateRobertson().process(images, times)[:, 0, 1]
    found = from_bracket(bracket(style, ev_min=0.0))
    assert isinstance(found, Learned)
    ours = error_ev(found.curve.linear, style)
    theirs = error_ev(debevec, style), error_ev(robertson, style)
    assert min(theirs) < 0.1  # so that the check is one
    assert ours <= max(0.02, min(theirs))


@pytest.mark.parametrize("style", STYLES)
def test_a_dusk_s_own_steps_give_the_curve(style):
    found = from_steps(dusk(style))
    assert isinstance(found, Learned), found
    assert error_ev(found.curve.linear, style) < 0.1


@pytest.mark.parametrize("style", STYLES)
def test_a_plan_s_brackets_give_the_curve(style):
    """`bracket_ev = [-2, 0, 2]`, three frames in ten seconds, while the light falls by 0.3 EV a minute."""
    eye, shots = Eye(style), []
    for i in range(36):
        fall, exposure_ev = -0.3 * i * 10 / 180, (-2.0, 0.0, 2.0)[i % 3]
        shots.append(Shot(cells(eye.thumbnail(fall, exposure_ev), every=6), exposure_ev, i * 10 / 3, 0.9 * fall))
    found = from_steps(shots)
    assert isinstance(found, Learned), found
    assert error_ev(found.curve.linear, style) < 0.05


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("weather", [{"clouds": 0.03}, {"clouds": 0.1}, {"model": 0.6}, {"ev_min": 0.1}])
def test_what_is_kept_is_never_worse_than_no_curve(style, weather):
    found = from_steps(dusk(style, frames=60, **weather))
    if isinstance(found, Learned):
        assert error_ev(found.curve.linear, style) < error_ev(SRGB.linear, style)
    else:
        assert found.why


@pytest.mark.parametrize("style", STYLES)
def test_a_flat_patch_is_metered_right_at_any_brightness(style):
    found = from_bracket(bracket(style))
    assert isinstance(found, Learned)
    even = Eye(style, np.ones((3, 216, 320), np.float32))
    for off in (-3.0, -1.5, 0.0, 1.5, 2.0):
        reading = meter(even.thumbnail(0.0, -off), found.curve)
        assert scene_ev(reading, -off) == pytest.approx(0.0, abs=0.1), off


def test_curves_ascend_from_black_to_one():
    found = from_bracket(bracket("vivid"))
    assert isinstance(found, Learned)
    linear = found.curve.linear
    assert (linear[0], linear[255], linear.shape) == (0.0, 1.0, (256,))
    assert np.all(np.diff(linear) > 0)


def _refused(found: Learned | NotLearned, why: str, *, enough: bool) -> None:
    assert isinstance(found, NotLearned)
    assert why in found.why
    assert found.enough is enough


def test_too_few_pictures():
    _refused(from_bracket(bracket("flat")[:4]), "too few stops", enough=False)
    _refused(from_steps(dusk("flat", frames=20)), "are needed", enough=False)


def test_a_light_that_stands_still_has_no_steps():
    _refused(from_steps(dusk("flat", frames=60, ev_min=0.0)), "0 steps", enough=False)


def test_black_or_clipped_pictures():
    shots = [replace(shot, cells=np.full_like(shot.cells, np.nan)) for shot in bracket("flat")]
    _refused(from_bracket(shots), "neither black nor clipped", enough=False)


def test_a_scene_without_contrast_says_too_little():
    eye = Eye("flat", np.ones((3, 216, 320), np.float32))
    shots = [Shot(cells(eye.thumbnail(ev, ev)), ev * 1.0, i * 4.0, ev * 1.0) for i, ev in enumerate(ORDER_EV)]
    _refused(from_bracket(shots), "hold codes", enough=False)


def test_a_camera_that_exposes_by_itself_is_found_out():
    """As with automatic ISO left on: the pictures stay alike, whatever was set."""
    eye = Eye("standard")
    shots = [Shot(cells(eye.thumbnail(0, 0)), float(ev), i * 4.0, 0.0) for i, ev in enumerate(ORDER_EV)]
    assert isinstance(from_bracket(shots), NotLearned)
    half = [Shot(cells(eye.thumbnail(0, ev / 4)), float(ev), i * 4.0, 0.0) for i, ev in enumerate(ORDER_EV)]
    assert isinstance(from_bracket(half), NotLearned)


def test_wrong_exposures_are_found_out():
    shots = bracket("standard")
    odd = [replace(s, exposure_ev=s.exposure_ev + (0.7 if i % 2 else -0.7)) for i, s in enumerate(shots)]
    assert isinstance(from_bracket(odd), NotLearned)


def test_a_curve_that_is_known_already_is_not_learned_again():
    first = from_bracket(bracket("flat"))
    assert isinstance(first, Learned)
    again = from_bracket(bracket("flat"), first.curve)
    _refused(again, "as well", enough=True)
    assert isinstance(from_bracket(bracket("vivid"), first.curve), Learned)  # another style was chosen on the body
