"""The log against what the camera itself recorded: nothing unknown, nothing claimed."""

from __future__ import annotations

from collections.abc import Sequence

from controller.camera.messages import BUSY_WRITING, STILL_EXPOSING, TOO_SLOW
from controller.engine.book import BESIDE, BETWEEN
from controller.words.documents import Frame, FrameState, Note
from tests.support.simcam import SimulatedCamera

HAVE = (FrameState.RELEASED, FrameState.WRITTEN, FrameState.FETCHED)

LATE = frozenset(
    {"the camera was still busy with the frame before", "ordered too late", TOO_SLOW, STILL_EXPOSING, BUSY_WRITING}
)
"""Causes of slots that a machine which is busy with other things may miss."""


def missed(log: list[Frame]) -> list[Frame]:
    """Slots that were missed for another cause than that the machine was late."""
    return [frame for frame in log if frame.state is FrameState.MISSED and frame.cause not in LATE]


def taken(log: list[Frame], late: float = 0.25) -> list[Frame]:
    """The frames that were released; for tests of something else than cadence, which is why a busy machine may have
    been late for a share of the slots."""
    frames = [frame for frame in log if frame.state is not FrameState.MISSED]
    assert missed(log) == []
    assert len(log) - len(frames) <= late * len(log), [frame.cause for frame in log]
    return frames


def compare(log: list[Frame], camera: SimulatedCamera, notes: Sequence[Note] = ()) -> None:
    """Every frame that the camera wrote is in the log once, and every frame that the log claims is on the card.

    Frames that belong to no slot stand in `notes`.
    """
    on_card = {path.name for path in camera.card.rglob("*.JPG")}  # of a pair the log tells the JPEG
    claimed = [frame.camera_file.rpartition("/")[2] for frame in log if frame.camera_file and frame.state in HAVE]
    assert len(claimed) == len(set(claimed)), "a file stands in the log twice"
    nobodys = [note for note in notes if note.kind in (*BESIDE, *BETWEEN)]
    beside = {file.rpartition("/")[2] for note in nobodys for file in note.facts.get("files", ())}
    beside = {name for name in beside if name.endswith(".JPG")}
    assert not beside & set(claimed), "a frame of no slot was given to one"
    assert beside | set(claimed) == on_card
    assert all(
        frame.state in (FrameState.WRITTEN, FrameState.FETCHED, FrameState.LOST, FrameState.MISSED) for frame in log
    )
    assert all(frame.cause for frame in log if frame.state in (FrameState.LOST, FrameState.MISSED))
    assert [frame.seq for frame in log] == list(range(1, len(log) + 1)), "a slot is neither shot nor said to be missed"
    in_order = [frame.camera_file for frame in log if frame.camera_file]
    assert in_order == sorted(in_order), "a file was given to the wrong slot"
