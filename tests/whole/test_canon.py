"""A short dusk in the Canon EOS-like dialect: pairs, light that is followed, a cut line."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.words.documents import ShootState
from tests.support.rigs import Evening, camera_there, ended, plan, rows
from tests.whole.truth import HAVE, compare

FOLLOW = {
    "kind": "follow",
    "shutter_s": [0.001, 15],
    "aperture": [2.8, 2.8],
    "iso": [100, 3200],
    "order": ["shutter", "iso"],
}


async def test_a_dusk_with_pairs_and_a_cut_line(tmp_path: Path) -> None:
    """Every frame's files stand together in the log, and a frame in hand when the line is cut is found on the card."""
    evening = Evening(rate=20)
    steady = {"kind": "steady", "interval_s": 20.0, "min_gap_s": 5.0}
    with evening.camera(tmp_path, maker="canon", files="raw+jpeg", faults="ok*6 drop") as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            wanted = plan(pace=steady, light=FOLLOW, when={"start": "now", "frames": 8}, files={"fetch": "preview"})
            shoot = await ended(rig, await rig.start_shoot(wanted))
            log, notes = await rows(rig, shoot), await rig.store.notes(shoot.id)
        compare(log, camera, notes)
        record = camera.record()
        on_card = {path.name for path in camera.card.rglob("DUSK*")}
    assert shoot.state is ShootState.DONE
    have = [frame for frame in log if frame.state in HAVE]
    assert len(have) >= 5  # the cut costs a slot or two, a busy machine some more
    assert on_card == {name.rpartition("/")[2] for shot in record for name in shot["files"]}
    assert len(on_card) == 2 * len(record)
    assert not [note for note in notes if note.facts.get("code") == "release-way"]  # the button's first way served
    by_file = {shot["files"][0].rpartition("/")[2]: shot for shot in record}
    for frame in have:
        shot = by_file[str(frame.camera_file).rpartition("/")[2]]
        assert (shot["shutter_s"], shot["iso"]) == pytest.approx((frame.shutter_s, frame.iso))
        assert str(frame.companion_file) == str(frame.camera_file).removesuffix("JPG") + "DNG"
    assert [frame for frame in have if frame.scene_ev is not None]  # metered from its small picture
