"""The queue of copies and what is deleted after them: a log on disk, files on disk, and a real server far away."""

from __future__ import annotations

import asyncio
import hashlib
import sqlite3
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager
from pathlib import Path
from typing import Any

import pytest

from controller.camera.messages import Erased
from controller.engine import copying as module
from controller.engine.copying import Copying
from controller.engine.freeing import Freeing
from controller.engine.hub import Hub
from controller.results.integrity import verify
from controller.store import Store
from controller.words.clock import VirtualClock
from controller.words.documents import Frame, FrameState, Shoot, ShootState
from controller.words.errors import CameraError
from tests.support.far_sides import PASSWORD, Line, Sftp, line, sftp_server

SHOOT = "2026-12-01-quay"
START, DAY_S = 1_796_140_800.0, 86_400.0


class Rig:
    """As much of one as copies and deletions need. Deletions and their proofs run on the virtual clock's days."""

    def __init__(self, directory: Path, store: Store, utc: float) -> None:
        self.directory, self.store, self.hub = directory, store, Hub("test")
        self.clock = VirtualClock(utc)
        self.copying = Copying(self)
        self.links: list[Any] = []
        self.clock_right = True
        self.freeing = Freeing(self, self.copying, self.links, lambda: self.clock_right)

    async def notes(self, kind: str) -> list[str]:
        return [note.text for note in await self.store.notes(kind=kind)]

    async def frame(self, seq: int) -> Frame:
        return (await self.store.frames(SHOOT, seq - 1, 1))[0]

    async def copied(self, *places: str, frames: int, seconds: float = 60.0) -> None:
        """Wait until so many frames are verified in each of these places."""
        async with asyncio.timeout(seconds):
            for place in places:
                while (await self.store.copies.counts(place)).copied < frames:
                    await asyncio.sleep(0.05)


@asynccontextmanager
async def rig_in(directory: Path, utc: float = START) -> AsyncIterator[Rig]:
    async with await Store.open(directory / "frames.sqlite3") as store:
        rig = Rig(directory, store, utc)
        await rig.copying.open()
        try:
            yield rig
        finally:
            await rig.copying.close()


def name_places(rig: Path, **places: dict[str, Any]) -> None:
    rig.mkdir(parents=True, exist_ok=True)
    path = rig / "places.toml"
    path.touch(mode=0o600)
    tables = [
        f"[{name}]\n" + "\n".join(f"{key} = {json_like(value)}" for key, value in table.items())
        for name, table in places.items()
    ]
    path.write_text("\n".join(tables) + "\n")


def json_like(value: object) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value).lower()


async def shot(rig: Rig, count: int, *, pair: bool = False, first: int = 1, **files: str) -> None:
    """Frames that were fetched, with their files, and the shoot with its rules."""
    if first == 1:
        plan = {"name": "quay", "files": {"fetch": "all", **files}}
        await rig.store.add_shoot(
            Shoot(id=SHOOT, plan_name="quay", plan=plan, state=ShootState.SHOOTING, created_utc=START)
        )
    for seq in range(first, first + count):
        local = f"shoots/{SHOOT}/2026-12-01/{seq:06d}.jpg"
        contents = [f"frame {seq}".encode() * 1000, f"raw of {seq}".encode() * 3000][: 2 if pair else 1]
        for suffix, content in zip(("jpg", "dng"), contents, strict=False):
            path = (rig.directory / local).with_suffix(f".{suffix}")
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        frame = Frame(
            shoot=SHOOT,
            seq=seq,
            camera="camera-1",
            due_utc=START + seq,
            released_utc=START + seq,
            interval_s=1.0,
            camera_file=f"/store/DCIM/100DUSKH/DUSK{seq:04d}.JPG",
            companion_file=f"/store/DCIM/100DUSKH/DUSK{seq:04d}.dng" if pair else None,
        )
        await rig.store.intend(frame)
        await rig.store.change_frame(
            SHOOT,
            seq,
            "camera-1",
            state=FrameState.FETCHED,
            local_file=local,
            bytes=sum(map(len, contents)),
            sha256=hashlib.sha256(contents[0]).hexdigest(),
            companion_sha256=hashlib.sha256(contents[1]).hexdigest() if pair else None,
        )


def jpegs(directory: Path) -> list[str]:
    return sorted(path.name for path in directory.rglob("*.jpg"))


@pytest.fixture(autouse=True)
def hasty(monkeypatch: pytest.MonkeyPatch) -> None:
    """What takes minutes on a rig takes moments here."""
    monkeypatch.setattr(module, "LOOK_EVERY_S", 0.05)
    monkeypatch.setattr(module, "FIRST_AGAIN_S", 0.1)
    monkeypatch.setattr(module, "LONGEST_AGAIN_S", 0.2)


@asynccontextmanager
async def two_places(tmp_path: Path) -> AsyncIterator[tuple[Sftp, Sftp]]:
    async with sftp_server(tmp_path / "a") as a, sftp_server(tmp_path / "b") as b:
        name_places(tmp_path / "rig", a=a.settings(), b=b.settings())
        yield a, b


@contextmanager
def spoilt(path: Path) -> Iterator[None]:
    whole = path.read_bytes()
    path.write_bytes(b"!" + whole[1:])
    yield
    path.write_bytes(whole)


# ---- copies


async def test_whatever_is_fetched_is_copied_with_both_files_of_a_pair(tmp_path: Path) -> None:
    async with two_places(tmp_path), rig_in(tmp_path / "rig") as rig:
        await shot(rig, 3, pair=True)
        await rig.copied("a", "b", frames=3)
        for side in ("a", "b"):
            there = {str(p.relative_to(tmp_path / side)): p.read_bytes() for p in files_in(tmp_path / side)}
            here = {str(p.relative_to(rig.directory)): p.read_bytes() for p in files_in(rig.directory / "shoots")}
            assert there == here
            assert len(there) == 6
        assert (await rig.frame(1)).copies == "a b"
        told = await rig.copying.all()
        assert [(place.name, place.copied, place.waiting) for place in told.places] == [("a", 3, 0), ("b", 3, 0)]
        assert all(place.free_bytes for place in told.places)


def files_in(directory: Path) -> list[Path]:
    """Frames' files; beside them the log keeps words of its own."""
    return [path for path in directory.rglob("*") if path.suffix in (".jpg", ".dng")]


async def test_a_place_that_is_away_over_restarts_loses_nothing(tmp_path: Path) -> None:
    async with sftp_server(tmp_path / "a") as far, line(far.port) as between:
        between.down = True
        name_places(tmp_path / "rig", a=far.settings(between.port))
        for start in range(3):
            async with rig_in(tmp_path / "rig", START + start * 7 * DAY_S) as rig:
                await shot(rig, 2, first=1 + 2 * start)
                await until_noted(rig, "copies-trouble", 1 + start)
                assert rig.copying.now()[0].by_itself
        assert jpegs(tmp_path / "a") == []
        between.down = False
        async with rig_in(tmp_path / "rig", START + 21 * DAY_S) as rig:
            await rig.copied("a", frames=6)
            notes = await rig.notes("copies-trouble")
        assert jpegs(tmp_path / "a") == [f"{seq:06d}.jpg" for seq in range(1, 7)]
        assert len(notes) == 3  # once for each start, however often it was tried
        assert all("wait" in text and "\n" not in text for text in notes)


async def until_noted(rig: Rig, kind: str, times: int = 1) -> None:
    async with asyncio.timeout(60):
        while len(await rig.notes(kind)) < times:
            await asyncio.sleep(0.02)


async def test_trouble_is_told_once_and_that_it_is_over(tmp_path: Path) -> None:
    async with sftp_server(tmp_path / "a") as far, line(far.port) as between:
        name_places(tmp_path / "rig", a=far.settings(between.port))
        async with rig_in(tmp_path / "rig") as rig:
            between.down = True
            await shot(rig, 1)
            await until_noted(rig, "copies-trouble")
            await asyncio.sleep(0.5)
            between.down = False
            await rig.copied("a", frames=1)
            await until_noted(rig, "copies-again")
            assert len(await rig.notes("copies-trouble")) == 1
            assert rig.copying.now()[0].trouble is None


async def test_a_file_that_rotted_on_the_rig_holds_nothing_else_up(tmp_path: Path) -> None:
    async with sftp_server(tmp_path / "a") as far, line(far.port) as between:
        between.down = True
        name_places(tmp_path / "rig", a=far.settings(between.port))
        async with rig_in(tmp_path / "rig") as rig:
            await shot(rig, 3)
            bad = rig.directory / str((await rig.frame(2)).local_file)
            with spoilt(bad):
                between.down = False
                await rig.copied("a", frames=2)
                await until_noted(rig, "copy-stuck")
                told = (await rig.copying.all()).places[0]
                assert told.waiting == 1
                assert "frame 2" in told.stuck[0]
                assert jpegs(tmp_path / "a") == ["000001.jpg", "000003.jpg"]
            await rig.copying.again()
            await rig.copied("a", frames=3)


async def test_a_place_that_is_named_later_gets_what_was_fetched_before(tmp_path: Path) -> None:
    async with sftp_server(tmp_path / "a") as far, rig_in(tmp_path / "rig") as rig:
        await shot(rig, 3)
        assert (await rig.copying.all()).places == []
        name_places(tmp_path / "rig", a=far.settings())
        await rig.copying.again()
        await rig.copied("a", frames=3)


async def test_a_name_that_comes_to_stand_for_another_place_begins_anew(tmp_path: Path) -> None:
    async with two_places(tmp_path) as (a, b):
        name_places(tmp_path / "rig", a=a.settings())
        async with rig_in(tmp_path / "rig") as rig:
            await shot(rig, 2)
            await rig.copied("a", frames=2)
            name_places(tmp_path / "rig", a=b.settings())
            await rig.copying.again()
            await rig.copied("a", frames=2)
        assert jpegs(tmp_path / "b") == jpegs(tmp_path / "a") == ["000001.jpg", "000002.jpg"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[a]\nkind = "sftp"\nhost = "h"\nuser = "u"\npassword = s3cret', "not TOML"),
        ('[a]\nkind = "sftp"\nhost = "h"\nuser = "u"\npasword = "s3cret"', "Did you mean password?"),
        ('[a]\nkind = "sftp"\nhost = "h"\nuser = "u"\npassword = ["s3cret"]', "[a] password: cannot be used"),
        ('[a]\nkind = "ftp"', "'ftp' is no kind of place"),
        ('[rig]\nkind = "directory"\npath = "/x"', "cannot be a place's name"),
        ('[a]\nkind = "directory"\npath = "/x"\n[b]\nkind = "directory"\npath = "/x"', "the same place as [a]"),
        ('[a]\nkind = "s3"\nendpoint = "https://s"\nbucket = "bbb"\naccess_key = "k"', "[a] secret_key: is missing"),
        ('[a]\nkind = "directory"\npath = "mnt"', "line 3, [a] path"),
    ],
)
async def test_a_bad_document_stops_copies_alone_and_shows_no_secret(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "rig").mkdir()
    document = tmp_path / "rig" / "places.toml"
    document.touch(mode=0o600)
    document.write_text(text)
    async with rig_in(tmp_path / "rig") as rig:
        trouble = rig.copying.trouble or ""
        notes = await rig.notes("copies-trouble")
    assert said in trouble
    assert "s3cret" not in trouble + str(notes)
    assert "\n" not in trouble


async def test_a_document_that_others_may_read_is_not_used(tmp_path: Path) -> None:
    name_places(tmp_path / "rig", a={"kind": "directory", "path": str(tmp_path)})
    (tmp_path / "rig" / "places.toml").chmod(0o640)
    async with rig_in(tmp_path / "rig") as rig:
        assert "chmod 600" in (rig.copying.trouble or "")


async def test_no_secret_gets_into_the_log(tmp_path: Path) -> None:
    async with two_places(tmp_path), rig_in(tmp_path / "rig") as rig:
        await shot(rig, 1)
        await rig.copied("a", "b", frames=1)
        document = (await rig.copying.all()).model_dump_json()
    everything = b"".join(path.read_bytes() for path in (tmp_path / "rig").glob("frames.sqlite3*"))
    assert PASSWORD.encode() not in everything
    assert PASSWORD not in document


# ---- deleting


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
            assert verify(rig.directory, rows).model_dump() == {"checked": 1, "whole": 1, "damaged": [], "freed": 2}
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
async def with_card(tmp_path: Path, count: int, *, copied: int | None = None) -> AsyncIterator[tuple[Rig, Card, Line]]:
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


async def test_the_queue_takes_few_bytes(tmp_path: Path) -> None:
    """A row of the queue is no second frame: below 40 bytes, beside the frame's own (docs/write-order.md)."""
    async with rig_in(tmp_path / "rig") as rig:
        await rig.store.copies.set_places({"a": "directory /a"})
        await shot(rig, 1)
        path = rig.store.path
    with sqlite3.connect(path) as c:
        columns = [row[1] for row in c.execute("PRAGMA table_info(frames)")]
        rest = ", ".join(column for column in columns if column not in ("id", "seq"))
        c.execute(
            f"WITH RECURSIVE n(i) AS (SELECT 2 UNION ALL SELECT i + 1 FROM n WHERE i < 5001)"
            f" INSERT INTO frames (seq, {rest}) SELECT i, {rest} FROM n, frames WHERE seq = 1"
        )
        c.execute("UPDATE copies SET verified_utc = 1796140800.5")
        c.commit()
        used = "SELECT sum(pgsize) FROM dbstat WHERE name IN ('copies', 'copies_waiting')"
        assert c.execute("SELECT count(*) FROM copies").fetchone()[0] == 5001
        try:
            total = c.execute(used).fetchone()[0]
        except sqlite3.OperationalError:
            pytest.skip("this SQLite was built without dbstat")
    assert total / 5000 <= 40
