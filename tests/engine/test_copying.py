"""The queue of copies: it outlasts everything, tells once what is the matter, and shows no secret."""

from __future__ import annotations

import asyncio
import contextlib
import sqlite3
from pathlib import Path

import pytest

from tests.support.copy_rig import (
    DAY_S,
    START,
    files_in,
    hasten,
    jpegs,
    name_places,
    rig_in,
    shot,
    spoilt,
    two_places,
    until_noted,
)
from tests.support.far_sides import PASSWORD, line, sftp_server


@pytest.fixture(autouse=True)
def hasty(monkeypatch: pytest.MonkeyPatch) -> None:
    hasten(monkeypatch)


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
            (place,) = rig.copying.now()
            assert place.trouble is None
            assert place.failures >= 1
            assert place.last_utc is not None


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


async def test_the_queue_takes_few_bytes(tmp_path: Path) -> None:
    """A row of the queue is no second frame: below 40 bytes, beside the frame's own (docs/write-order.md)."""
    async with rig_in(tmp_path / "rig") as rig:
        await rig.store.copies.set_places({"a": "directory /a"})
        await shot(rig, 1)
        path = rig.store.path
    with contextlib.closing(sqlite3.connect(path)) as c:
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


async def test_a_log_that_lost_its_checksums_gets_them_back_with_the_copies(tmp_path: Path) -> None:
    async with sftp_server(tmp_path / "a") as far, rig_in(tmp_path / "rig") as rig:
        await shot(rig, 1, pair=True)
        before = await rig.frame(1)
        await rig.store.change_frame(before.shoot, 1, before.camera, sha256=None, companion_sha256=None)
        name_places(tmp_path / "rig", a=far.settings())
        await rig.copying.again()
        await rig.copied("a", frames=1)
        after = await rig.frame(1)
        assert (after.sha256, after.companion_sha256) == (before.sha256, before.companion_sha256)
        assert len(files_in(tmp_path / "a")) == 2
