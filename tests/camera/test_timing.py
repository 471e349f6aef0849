"""Estimates of how long calls take."""

from __future__ import annotations

import pytest

from controller.camera.worker.timing import Durations


def test_follows_the_slowest_and_forgets_it_slowly() -> None:
    took = Durations({"poll": 0.01})
    assert took.expected("poll", 5.0) == 0.01
    took.took("poll", 0.2, 5.0)
    assert took.expected("poll", 5.0) == 0.2
    took.took("poll", 0.01, 5.1)
    assert 0.1 < took.expected("poll", 5.1) < 0.2
    for n in range(20):
        took.took("poll", 0.01, 5.2 + n / 10)
    assert 0.009 < took.expected("poll", 8.0) < 0.02


def test_what_is_seldom_done_is_not_forgotten() -> None:
    """A new session reads the whole card, which takes as long after hours as it did before."""
    took = Durations({"reopen": 1.0}, frozenset({"reopen"}))
    took.took("reopen", 30.0, 100.0)
    assert took.expected("reopen", 20_000.0) == 30.0
    took.took("reopen", 10.0, 20_000.0)
    assert took.expected("reopen", 40_000.0) == pytest.approx(24.0)


def test_one_slow_call_does_not_shut_its_kind_out() -> None:
    took = Durations({"preview": 0.05})
    took.took("preview", 2.0, 100.0)
    assert took.expected("preview", 100.0) == 2.0
    assert took.expected("preview", 160.0) == 1.0
    assert took.expected("preview", 500.0) < 0.05
