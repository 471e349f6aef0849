"""Measures of weather against values known beforehand, and what is left out on drawn scenes."""

from __future__ import annotations

import math
from pathlib import Path

import cv2
import numpy as np
import pytest

from controller.results.series.hours import best_of_each, score
from controller.results.series.judge import Table, judge
from controller.results.series.measure import Measures, luminance, measure, measured, tile_values
from tests.results.nights import srgb
from tests.results.scenes import DAY_EV, save, scene


def grating(depth: float, periods: int = 12) -> np.ndarray:
    across = 0.4 * (1 + depth * np.sin(2 * np.pi * periods * np.arange(320) / 320))
    return np.broadcast_to(across, (216, 320)).astype(np.float32)


@pytest.mark.parametrize("depth", [0.1, 0.4, 0.9])
def test_contrasts_of_a_grating_are_those_of_the_definitions(depth: float) -> None:
    """Of 1 + m·sin: Michelson's contrast is m (between percentiles a little less), the root mean square's m/√2."""
    found = measured(grating(depth), None)
    assert 2**found.michelson == pytest.approx(depth, rel=0.01)
    assert 2**found.rms == pytest.approx(depth / math.sqrt(2), rel=0.001)


def test_sharpness_is_the_variance_of_the_laplacian() -> None:
    """By OpenCV's own, which takes the same four neighbours; its outermost line is left out."""
    light = scene(3).astype(np.float32)
    other = cv2.Laplacian(light / light.mean(), cv2.CV_32F, ksize=1)[1:-1, 1:-1]
    assert 2 ** measured(light, None).sharp == pytest.approx(float(other.var()), rel=1e-4)


def test_measures_are_taken_in_linear_light(tmp_path: Path) -> None:
    save(tmp_path / "a.jpg", grating(0.4).astype(float))
    found = measure(tmp_path / "a.jpg", None)
    assert found is not None
    assert 2**found.rms == pytest.approx(0.4 / math.sqrt(2), rel=0.03)
    codes = np.round(srgb(np.array([[[0.2, 0.5, 0.1]]]))).astype(np.uint8)
    assert float(luminance(codes)[0, 0]) == pytest.approx(0.2126 * 0.2 + 0.7152 * 0.5 + 0.0722 * 0.1, abs=0.003)


def test_exposure_alone_changes_nothing_but_the_light() -> None:
    light = scene(1) * 0.5
    one, two = measured(light.astype(np.float32), 12.0), measured((2 * light).astype(np.float32), 11.0)
    assert (two.rms, two.sharp, two.michelson) == pytest.approx((one.rms, one.sharp, one.michelson), abs=0.01)
    assert two.light == pytest.approx(one.light, abs=0.01)  # the same scene, exposed by a stop more


def test_a_file_that_is_none_measures_nothing(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(b"no picture")
    assert measure(tmp_path / "a.jpg", None) is None
    assert measure(tmp_path / "b.jpg", None) is None


def of(number: int, exposure_ev: float = DAY_EV, **weather: object) -> Measures:
    return measured(scene(number, **weather).astype(np.float32), exposure_ev)  # type: ignore[arg-type]


def site(days: int = 11) -> tuple[Table, list[str | None]]:
    """Four frames a day in sun or under cloud, and among them what is to be found."""
    table, truth = Table(), []
    dice = np.random.default_rng(11)
    number = 0

    def add(day: int, measures: Measures, word: str | None) -> None:
        table.add(day, measures)
        truth.append(word)

    for day in range(days):
        sun = float(dice.choice([1.0, 0.8, 0.62]))  # sun, thin cloud, overcast
        for _ in range(4):
            number += 1
            add(day, of(number, DAY_EV + float(dice.normal(0, 0.5)), sun=sun), None)
        if day in (3, 9):
            add(day, of(number + 500, fog=0.9), "fog")
            add(day, of(number + 600, fog=2.5), "fog")
        if day in (5, 10):
            add(day, of(number + 700, drops=4), "drops")
        if day % 2:
            add(day, of(number + 800, 1.0, lamps=True), "night")
    return table, truth


def test_fog_drops_and_night_are_told_from_days_that_are_usual() -> None:
    table, truth = site()
    said = judge(table)
    wrong = [(truth[place], said[place]) for place in range(len(truth)) if truth[place] != said[place]]
    assert wrong == []
    assert {"fog", "drops", "night", None} == set(truth)


def test_an_overcast_sky_after_sunny_days_is_no_fog() -> None:
    table = Table()
    for day in range(9):
        table.add(day, of(day, sun=0.55 if day in (3, 7) else 1.0))
    assert judge(table) == [None] * 9


def test_a_site_that_is_always_soft_is_no_fog() -> None:
    """Lines are the site's own: the same haze every day is what is usual there."""
    table = Table()
    for day in range(12):
        table.add(day, of(day, fog=0.5))
    assert judge(table) == [None] * 12


def test_a_shadow_that_leaves_a_plain_wall_is_no_rain() -> None:
    """What a plain part shows is the sensor's noise, which against its brightness falls by 2.6 in log2 where a shadow
    goes that left it 0.4 of its light."""
    dice = np.random.default_rng(5)
    table = Table()
    for day in range(9):
        light = grating(0.5, 40).astype(float).copy()
        light[:, 213:] = 0.4 if day == 4 else 0.16
        light[:, 206:220] = 0.02  # a corner between the two that no light changes
        table.add(day, measured((light + dice.normal(0, 0.0018, light.shape)).astype(np.float32), DAY_EV))
    usual, lit = (tile_values(table.tiles[day]).reshape(9, 12)[:, 9:] for day in (0, 4))
    assert float(np.median(usual - lit)) > 2  # as much as a drop takes
    assert judge(table) == [None] * 9


@pytest.mark.parametrize("fog", [0.25, 0.3, 0.4])
def test_thin_fog_that_blurs_what_is_far_is_called_fog(fog: float) -> None:
    """Under thin cloud on usual days: what is far has lost its tiles, as under drops, but all the rest its contrast."""
    table = Table()
    for day in range(11):
        table.add(day, of(day, sun=0.8))
        table.add(day, of(100 + day, fog=fog) if day in (3, 8) else of(100 + day, sun=0.8))
    assert [word for word in judge(table) if word is not None] == ["fog", "fog"]


def test_days_of_fog_in_a_month_is_found() -> None:
    table = Table()
    for day in range(22):
        table.add(day, of(day, fog=0.9 if 8 <= day < 13 else 0.0))
    assert [day for day, word in enumerate(judge(table)) if word == "fog"] == list(range(8, 13))


def test_nothing_is_usual_in_the_first_days() -> None:
    table = Table()
    for day in range(3):
        table.add(day, of(day, fog=2.5 if day == 1 else 0.0))
    assert judge(table) == [None] * 3
    assert judge(Table()) == []


def test_the_best_of_an_hour_is_sharp_and_well_lit() -> None:
    sharp, soft = of(1), of(2, blur=1)
    burnt = measured(np.clip(scene(3) * 3, 0, 1).astype(np.float32), DAY_EV)
    scores = [score(each) for each in (soft, sharp, burnt)]
    assert scores[1] == max(scores)
    assert best_of_each([7, 7, 7, 8, 9], [*scores, 0.0, 0.0], [True, True, True, True, False]) == [1, 3]
    assert best_of_each([7, 7, 7], scores, [True, False, True]) == [0 if scores[0] > scores[2] else 2]
