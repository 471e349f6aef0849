"""A camera that sleeps, fills its card or is slow, as the engine logs it."""

from __future__ import annotations

import itertools

import pytest

from controller.camera.messages import BUSY_WRITING, STILL_EXPOSING, STORE_FULL, TOO_SLOW
from controller.rehearsal import CameraModel, Spread
from controller.words.documents import EXPORT_COLUMNS, FrameState
from controller.words.errors import BadInput
from tests.rehearsal import EXACT, NOW, plan, played


def sleepy(wakes_in_s: float) -> CameraModel:
    return CameraModel(
        release_latency_s=0.0, readout_s=0.0, write_s=Spread(0.2), sleeps_after_s=5.0, wakes_in_s=wakes_in_s
    )


def test_a_camera_that_is_awake_is_on_time():
    came, frames = played(plan())
    assert [frame.late_ms for frame in frames] == [0.0] * 20
    assert {frame.state for frame in frames} == {FrameState.WRITTEN}
    assert [b.kind for b in came.summary.binds] == []
    assert frames[0].due_utc == pytest.approx(NOW + 0.5, abs=1e-3)
    assert frames[-1].due_utc == pytest.approx(NOW + 0.5 + 190, abs=1e-3)


def test_one_that_wakes_within_the_orders_lead_is_on_time():
    """Orders go out 3 s ahead (engine.slots.ORDER_EARLIEST_S)."""
    came, frames = played(plan(), sleepy(2.5))
    assert max(frame.late_ms or 0.0 for frame in frames[1:]) == 0.0
    assert [(b.kind, b.frames) for b in came.summary.binds] == [("sleep", 19)]


def test_one_that_wakes_later_makes_slots_late():
    _, frames = played(plan(20.0), sleepy(5.0))
    late = [frame.late_ms or 0.0 for frame in frames[1:]]
    assert late == pytest.approx([2050.0] * 19, abs=1)  # 5 s and 50 ms for the settings, less the lead of 3 s
    assert {frame.state for frame in frames} == {FrameState.WRITTEN}
    assert all(f.released_utc == pytest.approx(f.due_utc + (f.late_ms or 0.0) / 1000, abs=1e-3) for f in frames)
    assert {round(b.due_utc - a.due_utc, 6) for a, b in itertools.pairwise(frames)} == {20.0}


def test_one_that_wakes_too_late_costs_slots():
    _, frames = played(plan(when={"start": "now", "duration": "2min"}), sleepy(9.0))
    missed = [frame for frame in frames if frame.state is FrameState.MISSED]
    assert {frame.cause for frame in missed} == {TOO_SLOW}
    assert [frame.state for frame in frames[:4]] == [FrameState.WRITTEN, "missed", "written", "missed"]


def test_one_that_is_mute_for_long_is_lost_and_opened_again():
    came, frames = played(plan(when={"start": "now", "duration": "5min"}), sleepy(25.0))
    kinds = [note.kind for note in came.notes]
    assert kinds.count("camera-gone") == kinds.count("camera-back") > 2
    assert len(frames) == 30
    assert all(frame.cause for frame in frames if frame.state is FrameState.MISSED)
    assert sum(came.summary.missed.values()) + came.summary.frames == 30


def test_exposures_that_run_into_the_next_slot():
    slow = CameraModel(release_latency_s=0.0, readout_s=20.0, write_s=Spread(0.2))
    came, frames = played(plan(), slow)
    assert came.summary.missed == {STILL_EXPOSING: sum(f.state is FrameState.MISSED for f in frames)}
    assert came.summary.frames == 20  # a counted plan goes on until it has them


def test_a_slow_card_fills_the_buffer():
    slow = CameraModel(release_latency_s=0.0, readout_s=0.0, write_s=Spread(40.0), buffer=2)
    came, _ = played(plan(when={"start": "now", "duration": "10min"}), slow)
    assert set(came.summary.missed) == {BUSY_WRITING}
    assert came.summary.frames == pytest.approx(600 / 40, abs=1)  # as many as the card can write


def test_times_of_writing_vary_by_their_seed_only():
    varied = CameraModel(write_s=Spread(0.5, 0.5), sleeps_after_s=5.0, wakes_in_s=6.0)
    one, again, other = (played(plan(), varied, seed=seed)[1] for seed in (1, 1, 2))
    assert one == again
    assert [f.due_utc for f in one] == [f.due_utc for f in other]


def test_a_full_card_costs_every_slot_after_it():
    """That the real engine tells the same is in tests/whole/test_rehearsed.py."""
    came, frames = played(plan(when={"start": "now", "duration": "2min"}), CameraModel(card_bytes=155_000_000))
    assert [frame.state for frame in frames] == ["written"] * 5 + ["missed"] * 7
    assert came.summary.missed == {STORE_FULL: 7}
    assert came.summary.bytes == 150_000_000
    assert [note.facts["code"] for note in came.notes if note.kind == "camera-trouble"] == ["card-full"]


def test_rows_have_the_columns_of_a_real_shoot():
    _, frames = played(plan(files={"fetch": "every 5"}, when={"start": "now", "frames": 10}))
    assert set(EXPORT_COLUMNS) <= set(frames[0].model_dump())
    assert [f.seq for f in frames if f.state is FrameState.FETCHED] == [5, 10]
    assert [f.bytes for f in frames if f.state is FrameState.FETCHED] == [EXACT.bytes_per_frame] * 2
    assert len({f.camera_file for f in frames}) == 10


@pytest.mark.parametrize("wrong", [{"readout_s": -1.0}, {"wakes_in_s": float("nan")}, {"bytes_per_frame": 0}])
def test_a_camera_that_makes_no_sense_is_refused(wrong):
    with pytest.raises(BadInput) as error:
        CameraModel(**wrong)
    assert error.value.code == "bad-camera-model"
