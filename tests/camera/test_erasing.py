"""Deleting from the card, by libgphoto2 on the simulated camera: only what is, byte for byte, what was copied."""

from __future__ import annotations

import hashlib
import time
from pathlib import Path

from controller.camera.messages import Fetched, Missed, Released, Written
from tests.camera.ear import connected, listed, order, shoot
from tests.support.simcam import start_simulated_camera


def on_card(card: Path) -> set[str]:
    return {path.name for path in card.rglob("DUSK*")}


def name(path: str) -> str:
    return path.rpartition("/")[2]


async def test_only_what_was_copied_goes_and_frames_go_on_meanwhile(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, files="raw+jpeg") as camera:
        async with connected(camera.address) as (link, ear):
            start = time.monotonic() + 0.3
            orders = [order(n, start + n, tmp_path / "rig") for n in range(1, 5)]
            await shoot(link, orders[:2])
            await ear.count(Fetched, 4)
            pair = ear.of(Written)[1].camera_files
            sums = {each.camera_file: each.sha256 for each in ear.all(Fetched)}

            refused = await link.erase(pair[0], hashlib.sha256(b"another picture").hexdigest())
            assert "another one than was copied" in refused.refusal
            assert not refused.gone
            assert name(pair[0]) in on_card(camera.card)

            await shoot(link, orders[2:3])  # a release is due while the file is read
            erased = [await link.erase(path, sums[path]) for path in pair]
            assert [each.refusal for each in erased] == ["", ""]
            assert not {name(path) for path in pair} & on_card(camera.card)
            assert pair[0] not in [file.path for file in await listed(link)]

            again = await link.erase(pair[0], sums[pair[0]])
            assert again.gone
            assert again.refusal

            await shoot(link, orders[3:])
            await ear.count(Fetched, 8)
            assert set(ear.of(Released)) == {1, 2, 3, 4}
            assert not ear.all(Missed)
            others = {name(path) for seq in (2, 3, 4) for path in ear.of(Written)[seq].camera_files}
            assert on_card(camera.card) == others
