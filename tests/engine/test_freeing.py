"""What is deleted, and above all what is not: files on disk, real servers, a card as the camera's link shows it."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from controller.camera.messages import Erased
from controller.engine.freeing import Freeing
from controller.engine.loose_ends import check_copies
from controller.results.report.integrity import Integrity, verify
from controller.words.documents import Frame, FrameState
from controller.words.errors import CameraError
from tests.support.copy_rig import (
    DAY_S,
    SHOOT,
    START,
    Rig,
    files_in,
    hasten,
    jpegs,
    name_places,
    rig_in,
    shot,
    spoilt,
    two_places,
)
from tests.support.far_sides import Line, line, sftp_server


@pytest.fixture(autouse=True)
def hasty(monkeypatch: pytest.MonkeyPatch) -> None:
    hasten(monkeypatch)


async def test_by_default_nothing_is_ever_deleted(tmp_path: Path) -> None:
    async with two_places(tmp_path), rig_in(tmp_path / "rig", START + 3650 * DAY_S) as rig:
        await shot(rig, 3)
        await rig.copied("a", "b", frames=3)
        await rig.freeing.look()
        assert len(jpegs(rig.directory)) == 3
        assert not await rig.notes("rig-freed")


async def test_after_its_days_a_frame_goes_from_the_rig_once_it_is_elsewhere(tmp_path: Path) -> None:
    async with sftp_server(tmp_path / "a") as far:
        name_places(tmp_path / "rig", a=far.settings())
        async with rig_in(tmp_path / "rig", START + 29 * DAY_S) as rig:
            await shot(rig, 3, pair=True, keep="30 days")
            await rig.copied("a", frames=3)
            await rig.freeing.look()
            assert len(jpegs(rig.directory)) == 3  # too young
        async with rig_in(tmp_path / "rig", START + 31 * DAY_S) as rig:
            rig.clock_right = False
            await rig.freeing.look()
            assert len(jpegs(rig.directory)) == 3  # by a clock that may be wrong
            rig.clock_right = True
            (tmp_path / "a" / str((await rig.frame(2)).local_file)).unlink()
            await rig.freeing.look()
            assert jpegs(rig.directory) == ["000002.jpg"]  # its copy is gone, so it stays
            assert len(files_in(rig.directory / "shoots")) == 2
            rows = await rig.store.frames(SHOOT)
            assert [row.state for row in rows] == [FrameState.FETCHED] * 3
            assert [row.rig_freed_utc is not None for row in rows] == [True, False, True]
            assert rows[0].copies == "a"
            assert verify(rig.directory, rows) == Integrity(checked=2, whole=2, damaged=[], freed=2)  # a pair
            (note,) = await rig.store.notes(kind="rig-freed")
            assert note.facts["seqs"] == [1, 3]
            assert await rig.notes("copy-lost")
            await rig.copied("a", frames=3)  # it was copied anew
            await rig.freeing.look()
            assert jpegs(rig.directory) == []
            assert jpegs(tmp_path / "a") == ["000001.jpg", "000002.jpg", "000003.jpg"]


async def test_a_copy_that_rotted_far_away_keeps_the_rigs_own(tmp_path: Path) -> None:
    async with sftp_server(tmp_path / "a") as far:
        name_places(tmp_path / "rig", a=far.settings())
        async with rig_in(tmp_path / "rig", START + 31 * DAY_S) as rig:
            await shot(rig, 1, keep="30 days")
            await rig.copied("a", frames=1)
            copy = tmp_path / "a" / str((await rig.frame(1)).local_file)
            with spoilt(copy):
                await rig.freeing.look()
                assert jpegs(rig.directory) == ["000001.jpg"]


async def test_a_place_that_cannot_be_read_keeps_everything(tmp_path: Path) -> None:
    async with sftp_server(tmp_path / "a") as far, line(far.port) as between:
        name_places(tmp_path / "rig", a=far.settings(between.port))
        async with rig_in(tmp_path / "rig", START + 31 * DAY_S) as rig:
            await shot(rig, 2, keep="30 days")
            await rig.copied("a", frames=2)
            between.down = True
            between.cut()
            await rig.freeing.look()
            assert len(jpegs(rig.directory)) == 2
            assert (await rig.frame(1)).copies == "a"  # that it cannot be read now is no proof that it is gone


async def test_a_copy_on_the_rigs_own_disk_is_none(tmp_path: Path) -> None:
    (tmp_path / "here").mkdir()
    name_places(tmp_path / "rig", a={"kind": "directory", "path": str(tmp_path / "here"), "own_disk": True})
    async with rig_in(tmp_path / "rig", START + 31 * DAY_S) as rig:
        await shot(rig, 1, keep="30 days")
        await rig.copied("a", frames=1)
        await rig.freeing.look()
        assert jpegs(rig.directory) == ["000001.jpg"]


async def test_what_cannot_be_deleted_is_not_said_to_be(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(_: Freeing, frame: Frame) -> None:
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr(Freeing, "_delete", broken)
    async with sftp_server(tmp_path / "a") as far:
        name_places(tmp_path / "rig", a=far.settings())
        async with rig_in(tmp_path / "rig", START + 31 * DAY_S) as rig:
            await shot(rig, 1, keep="30 days")
            await rig.copied("a", frames=1)
            await rig.freeing.look()
            assert (await rig.frame(1)).rig_freed_utc is None
            assert "Read-only" in (await rig.notes("not-freed"))[0]


class Card:
    """A camera's card as the link shows it: path to SHA-256."""

    id = "camera-1"
    opened = object()

    def __init__(self, rows: list[Frame]) -> None:
        self.files = {str(row.camera_file): row.sha256 for row in rows}
        self.files |= {str(row.companion_file): row.companion_sha256 for row in rows if row.companion_file}
        self.broken = False

    async def erase(self, path: str, sha256: str) -> Erased:
        if self.broken:
            raise CameraError("no-camera", "it was just lost", "camera-1")
        if path not in self.files:
            return Erased(1, "File not found", gone=True)
        if self.files[path] != sha256:
            return Erased(1, "the file on the card is another one than was copied")
        del self.files[path]
        return Erased(1)


@asynccontextmanager
async def with_card(tmp_path: Path, count: int) -> AsyncIterator[tuple[Rig, Card, Line]]:
    async with sftp_server(tmp_path / "a") as far, line(far.port) as between:
        name_places(tmp_path / "rig", a=far.settings(between.port))
        async with rig_in(tmp_path / "rig") as rig:
            await shot(rig, count, pair=True, free_card="after two copies")
            await rig.copied("a", frames=count)
            card = Card(await rig.store.frames(SHOOT))
            rig.links.append(card)
            yield rig, card, between


async def test_the_card_is_freed_of_old_frames_that_are_on_the_rig_and_far_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep_on_card(monkeypatch, 2)
    async with with_card(tmp_path, 5) as (rig, card, _):
        local = rig.directory / str((await rig.frame(2)).local_file)
        with spoilt(local):  # of frame 2 the rig has no whole copy
            await rig.freeing.look()
        left = sorted({Path(path).stem for path in card.files})
        assert left == ["DUSK0002", "DUSK0004", "DUSK0005"]
        assert len(card.files) == 6
        assert [note.facts["seqs"] for note in await rig.store.notes(kind="card-freed")] == [[1], [3]]
        rows = await rig.store.frames(SHOOT)
        assert [row.seq for row in rows if row.card_freed_utc is not None] == [1, 3]
        assert all(row.camera_file for row in rows)
        await rig.freeing.look()
        assert (await rig.frame(2)).card_freed_utc is not None


async def test_a_card_that_holds_other_pictures_under_those_names_is_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep_on_card(monkeypatch, 1)
    async with with_card(tmp_path, 3) as (rig, card, _):
        card.files = dict.fromkeys(card.files, "0" * 64)
        await rig.freeing.look()
        assert len(card.files) == 6
        assert (await rig.frame(1)).card_freed_utc is None
        assert "another one" in (await rig.notes("not-freed"))[0]
        card.files.clear()
        notes = len(await rig.notes("not-freed"))
        await rig.freeing.look()
        assert len(await rig.notes("not-freed")) == notes  # not asked again and again


async def test_a_camera_that_is_lost_meanwhile_leaves_the_frame_on_its_card(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep_on_card(monkeypatch, 1)
    async with with_card(tmp_path, 2) as (rig, card, _):
        card.broken = True
        await rig.freeing.look()
        assert (await rig.frame(1)).card_freed_utc is None
        card.broken = False
        await rig.freeing.look()
        assert (await rig.frame(1)).card_freed_utc is not None
        assert {Path(path).stem for path in card.files} == {"DUSK0002"}


def keep_on_card(monkeypatch: pytest.MonkeyPatch, newest: int) -> None:
    for name in ("controller.decide.retention.CARD_KEEPS", "controller.engine.freeing.CARD_KEEPS"):
        monkeypatch.setattr(name, newest)


async def test_what_was_deleted_by_the_rule_is_not_missed_after_a_power_cut(tmp_path: Path) -> None:
    async with rig_in(tmp_path / "rig") as rig:
        await shot(rig, 3)
        now = rig.clock.utc()
        await rig.store.change_frame(SHOOT, 1, "camera-1", rig_freed_utc=now)
        await rig.store.change_frame(SHOOT, 2, "camera-1", card_freed_utc=now)
        for seq in (1, 2, 3):
            (rig.directory / str((await rig.frame(seq)).local_file)).unlink()
        await check_copies(rig.store, rig.directory, rig.clock)
        states = [row.state for row in await rig.store.frames(SHOOT)]
        assert states == [FrameState.FETCHED, FrameState.FETCHED, FrameState.WRITTEN]  # only the card has the third
        assert len(await rig.notes("copy-damaged")) == 2
