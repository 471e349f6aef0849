"""Frames whose files were deleted from the rig once they were copied: nothing calls them missing."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from controller.results.clip.pictures import choose
from controller.results.report.integrity import verify
from controller.results.report.make import report
from controller.results.report.text import render
from controller.words.documents import Frame, FrameState
from tests.results.dusk import START, shoot, slots


def fetched(directory: Path, seq: int, **fields: object) -> Frame:
    """A pair on the rig."""
    local = f"shoots/s/2026-12-01/{seq:06d}.jpg"
    contents = b"jpeg" * seq, b"raw" * seq
    for suffix, content in zip((".jpg", ".dng"), contents, strict=True):
        path = (directory / local).with_suffix(suffix)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    known = {
        "state": FrameState.FETCHED,
        "local_file": local,
        "companion_file": f"/card/{seq}.dng",
        "bytes": sum(map(len, contents)),
        "sha256": hashlib.sha256(contents[0]).hexdigest(),
        "companion_sha256": hashlib.sha256(contents[1]).hexdigest(),
    }
    return slots()[seq - 1].but({**known, **fields})


def test_they_are_counted_and_not_called_missing(tmp_path: Path) -> None:
    gone = {"rig_freed_utc": START + 1e6, "copies": "shed office"}
    frames = [fetched(tmp_path, 1), fetched(tmp_path, 2, **gone), fetched(tmp_path, 3, **gone)]
    for frame in frames[1:]:
        for path in (tmp_path / str(frame.local_file)).parent.glob(f"{frame.seq:06d}.*"):
            path.unlink()
    found = verify(tmp_path, frames)
    assert (found.checked, found.whole, found.freed, found.damaged) == (2, 2, 2, [])
    made = report(shoot(frames), frames, [], found)
    assert (made.stored.rig_frames, made.stored.rig_files) == (1, 2)
    assert made.stored.bytes_per_frame == made.stored.rig_bytes == frames[0].bytes
    assert "in 2 files on the rig" in render(made)
    assert "2 of 2 read and found whole; of 2 frames deleted from the rig once copied" in " ".join(render(made).split())
    without = choose(frames, tmp_path).without
    assert without[frames[1].shoot, 2] == "its file was deleted from the rig, and is in shed, office"
    nobody_knows = [frame.but({"copies": None}) for frame in frames]
    assert choose(nobody_knows, tmp_path).without[frames[1].shoot, 2].endswith("from the rig, and is in a second place")


@pytest.mark.parametrize(("spoil", "fault"), [(True, "the checksum differs"), (False, "the file is missing")])
def test_the_second_file_of_a_pair_is_read_too(tmp_path: Path, spoil: bool, fault: str) -> None:
    frame = fetched(tmp_path, 5)
    second = (tmp_path / str(frame.local_file)).with_suffix(".dng")
    content = second.read_bytes()
    second.unlink()
    if spoil:
        second.write_bytes(b"x" + content[1:])
    found = verify(tmp_path, [frame])
    assert (found.checked, found.whole) == (2, 1)
    assert [(damage.local_file, damage.fault) for damage in found.damaged] == [
        (str(Path(str(frame.local_file)).with_suffix(".dng")), fault)
    ]


def test_where_the_log_has_one_checksum_the_other_file_goes_by_its_size(tmp_path: Path) -> None:
    frame = fetched(tmp_path, 5, companion_sha256=None)
    assert verify(tmp_path, [frame]).whole == 2
    second = (tmp_path / str(frame.local_file)).with_suffix(".dng")
    size = second.stat().st_size
    second.write_bytes(second.read_bytes()[1:])
    (damage,) = verify(tmp_path, [frame]).damaged
    assert damage.local_file.endswith(".dng")
    assert damage.fault == f"the file has {size - 1} bytes instead of {size}"
