"""What the rig learns of a body while it shoots, against the card that the simulated camera wrote."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support.rigs import Evening, camera_there, ended, plan, until


def of_frames(card: Path) -> float:
    """Mean bytes of a frame on the card, a pair counted whole."""
    sizes: dict[str, int] = {}
    for file in card.rglob("*.*"):
        sizes[file.stem] = sizes.get(file.stem, 0) + file.stat().st_size
    return sum(sizes.values()) / len(sizes)


@pytest.mark.parametrize(("files", "kinds"), [("jpeg", "JPG"), ("raw+jpeg", "DNG+JPG")])
async def test_sizes_of_frames_that_were_fetched(tmp_path: Path, files: str, kinds: str):
    evening = Evening()
    with evening.camera(tmp_path, files=files, readout=0.1, write=0.15) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(plan(0.8, when={"start": "now", "frames": 6}, files={"fetch": "all"}))
            await ended(rig, shoot)
            (seen,) = await rig.bodies.known(rig.store)
        assert seen.basis == "fetched files"
        assert seen.files == kinds
        assert seen.frame_bytes == pytest.approx(of_frames(camera.card), rel=0.02)
        assert seen.preview_bytes is not None
        assert 0 < seen.preview_bytes < seen.frame_bytes
        (times,) = seen.timings
        assert times.files == kinds
        for measure in (times.set, times.call, times.late, times.write, times.preview, times.fetch):
            assert measure is not None
            assert measure.count == 6
        assert times.write is not None
        assert times.write.p50 >= 0.25  # what the camera is told to take to read out and to write, at least


async def test_sizes_by_the_room_on_the_card_where_nothing_is_fetched(tmp_path: Path):
    """The card's room shrinks by the frames that it takes; the camera counts it in blocks."""
    evening = Evening()
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(plan(0.6, when={"start": "now", "frames": 14}))
            await until(lambda: rig.cameras()[0].card_free_bytes is not None)
            await ended(rig, shoot)
            await rig._look_at_cameras()
            (kept,) = await rig.store.bodies()
        assert kept.basis == "room on the card"
        assert kept.frames is not None
        assert kept.frames >= 10
        assert kept.frame_bytes == pytest.approx(of_frames(camera.card), rel=0.1)
