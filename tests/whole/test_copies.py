"""Frames from the shutter to a server far away, and off the card: on real parts, by the plan's own words."""

from __future__ import annotations

import asyncio
import hashlib
from pathlib import Path

import pytest

from controller.daemon import Rig
from controller.engine import copying
from controller.words.documents import FrameState, Shoot
from tests.support.copy_rig import name_places
from tests.support.far_sides import Line, line, sftp_server
from tests.support.rigs import Evening, camera_there, ended, plan, rows, until
from tests.support.serving import serving
from tests.whole.truth import compare, taken

FRAMES, STAY = 6, 2


def sums(directory: Path, pattern: str) -> set[str]:
    return {hashlib.sha256(path.read_bytes()).hexdigest() for path in directory.rglob(pattern) if path.is_file()}


async def copied(rig: Rig, count: int) -> None:
    async with asyncio.timeout(120):
        while (await rig.store.copies.counts("office")).copied < count:
            await asyncio.sleep(0.05)


async def freed(rig: Rig, shoot: Shoot, count: int) -> None:
    """Have what may go from the card go, as the chore does it once a minute."""
    async with asyncio.timeout(120):
        while sum(row.card_freed_utc is not None for row in await rows(rig, shoot)) < count:
            await rig.freeing.look()


async def shot_while_away(rig: Rig, between: Line) -> Shoot:
    """A shoot during which the far side cannot be reached."""
    between.down = True
    await camera_there(rig)
    files = {"fetch": "all", "free_card": "after two copies"}
    shoot = await rig.start_shoot(plan(files=files, when={"start": "now", "frames": FRAMES}))
    return await ended(rig, shoot)


async def test_pairs_are_copied_once_the_line_is_back_and_old_ones_go_from_the_card(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("controller.decide.retention.CARD_KEEPS", "controller.engine.freeing.CARD_KEEPS"):
        monkeypatch.setattr(name, STAY)
    monkeypatch.setattr(copying, "LOOK_EVERY_S", 0.1)
    monkeypatch.setattr(copying, "FIRST_AGAIN_S", 0.2)
    monkeypatch.setattr(copying, "LONGEST_AGAIN_S", 0.5)
    evening = Evening()
    async with sftp_server(tmp_path / "office") as far, line(far.port) as between:
        name_places(tmp_path / "rig", office=far.settings(between.port))
        with evening.camera(tmp_path, files="raw+jpeg") as camera:
            async with evening.rig(tmp_path, camera.address) as rig, serving(rig) as (url, _):
                shoot = await shot_while_away(rig, between)
                before = taken(await rows(rig, shoot))
                compare(await rows(rig, shoot), camera)
                assert {row.state for row in before} == {FrameState.FETCHED}
                assert all(row.copies is None and row.companion_sha256 for row in before)
                await until(lambda: rig.copying.now()[0].waiting == len(before))
                (place,) = (await rig.now()).places
                assert (place.name, place.by_itself) == ("office", True)
                card = sums(camera.card, "DUSK*")
                await rig.freeing.look()
                assert sums(camera.card, "DUSK*") == card  # nothing goes while the far side cannot be read

                between.down = False
                await copied(rig, len(before))
                assert sums(tmp_path / "office", "*.*") == card
                await freed(rig, shoot, len(before) - STAY)
                log = await rows(rig, shoot)
                told = await asyncio.to_thread(ask, url)
                notes = await rig.store.notes(shoot.id, kind="card-freed")
        left = [row for row in taken(log) if row.card_freed_utc is None]
        assert [row.seq for row in left] == [row.seq for row in before][-STAY:]
        assert sums(camera.card, "DUSK*") == {sum_ for row in left for sum_ in (row.sha256, row.companion_sha256)}
        assert sums(tmp_path / "office", "*.*") == card  # whatever left the card is far away, and on the rig
        assert sums(tmp_path / "rig/shoots", "*/*.[JD][PN]G") == card
        assert {seq for note in notes for seq in note.facts["seqs"]} == {row.seq for row in before[:-STAY]}
        assert told["card_freed"] == len(before) - STAY
        assert [(p["name"], p["copied"], p["waiting"]) for p in told["places"]] == [("office", len(before), 0)]


def ask(url: str) -> dict[str, object]:
    from controller.commands.asking import call

    call(url, "/api/v1/copies/again", {})
    answer: dict[str, object] = call(url, "/api/v1/copies")
    return answer
