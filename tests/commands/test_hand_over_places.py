"""`hand-over` to second places: what the log calls copied is not sent again, and nothing there is written over."""

from __future__ import annotations

import asyncio
import errno
import hashlib
import json
import os
from collections.abc import AsyncIterator, Awaitable, Callable
from pathlib import Path
from typing import Any

import pytest

from controller.commands import main
from controller.commands.handing.place import disk_failed
from controller.results.handover import sums
from controller.store import Store
from controller.store.files import database_path
from controller.words.documents import Frame
from tests.results.dusk import SHOOT
from tests.results.handover_rig import SIZE, fetched, fill, frame, originals
from tests.support.far_sides import BUCKET, S3, Line, line, s3_server, sftp_server

COPIED = 3  # frames that the log calls copied, and that are there


Told = Callable[..., Awaitable[tuple[int, str, str]]]


@pytest.fixture
def hand_over(rig: Path, capsys: pytest.CaptureFixture[str]) -> Told:
    """The command in a thread, since the server is in this one: exit code, what it says, and what it says is wrong."""

    async def run(*more: str) -> tuple[int, str, str]:
        capsys.readouterr()
        code = await asyncio.to_thread(main, ["hand-over", "last", "--dir", str(rig), *more])
        out, err = capsys.readouterr()
        return code, out, "\n".join(text for text in err.splitlines() if not text.startswith("hand over: "))

    return run


def name_places(rig: Path, **places: dict[str, Any]) -> None:
    text = "".join(
        f"[{name}]\n" + "".join(f"{key} = {json.dumps(value)}\n" for key, value in table.items())
        for name, table in places.items()
    )
    (rig / "places.toml").write_text(text)
    (rig / "places.toml").chmod(0o600)


async def mark(rig: Path, name: str, target: str, frames: list[Frame]) -> None:
    """In the log: so many are copied there."""
    async with await Store.open(database_path(rig)) as store:
        await store.copies.set_places({name: target})
        for number in range(1, len(frames) + 1):
            await store.copies.copied(number, name, frames[0].due_utc)


def lie_there(rig: Path, root: Path, frames: list[Frame]) -> None:
    for each in frames:
        path = root / str(each.local_file)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes((rig / str(each.local_file)).read_bytes())


@pytest.fixture
def rig(tmp_path: Path) -> Path:
    return tmp_path / "rig"


@pytest.fixture
async def office(tmp_path: Path, rig: Path) -> AsyncIterator[Line]:
    """A server that speaks SFTP; three of five frames are there."""
    root = tmp_path / "far"
    frames = [fetched(rig, seq) for seq in range(1, 6)]
    await asyncio.to_thread(fill, rig, [*frames, frame(6)])
    async with sftp_server(root) as far, line(far.port) as between:
        table = far.settings(between.port)
        name_places(rig, office=table)
        await mark(rig, "office", "sftp", frames[:COPIED])
        lie_there(rig, root, frames[:COPIED])
        yield between


def checked(folder: Path) -> set[str]:
    """Names in its SHA256SUMS, each of which is there and whole."""
    found = set()
    for text in (folder / sums.NAME).read_text().splitlines():
        digest, name = text.split("  ", 1)
        assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == digest, name
        found.add(name)
    return found


async def test_under_the_rigs_names_only_the_rest_is_sent(
    tmp_path: Path, rig: Path, office: Line, hand_over: Told
) -> None:
    before = originals(rig)
    code, out, err = await hand_over("--to", "place:office", "--json")
    assert (code, err) == (0, "")
    made = json.loads(out)
    assert (made["copied"], made["there"], made["name"]) == (2, COPIED, None)
    folder = tmp_path / "far/shoots" / SHOOT
    there = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
    assert office.sent < there - SIZE  # two pictures, the lists and what SFTP says; not five pictures
    pictures = {f"2026-12-01/00000{seq}.JPG" for seq in range(1, 6)}
    assert checked(folder) > pictures
    assert (folder / "README.txt").is_file()
    assert "pictures/" not in (folder / "README.txt").read_text()
    assert originals(rig) == before


async def test_verify_reads_what_is_said_to_be_there_and_nothing_is_written_over(
    tmp_path: Path, office: Line, hand_over: Told
) -> None:
    folder = tmp_path / "far/shoots" / SHOOT
    spoilt, mine = folder / "2026-12-01/000002.JPG", folder / "plan.toml"
    for path in (spoilt, mine):
        path.write_text("mine")
    code, out, _ = await hand_over("--to", "place:office", "--json", "--verify")
    assert code == 0
    assert json.loads(out)["copied"] == 3
    assert checked(folder)
    for path in (spoilt, mine):
        (kept,) = path.parent.glob(f"{path.name}.was-*")
        assert kept.read_text() == "mine"


async def test_with_names_of_its_own_it_is_another_folder(
    tmp_path: Path, rig: Path, office: Line, hand_over: Told
) -> None:
    code, out, _ = await hand_over("--to", "place:office", "--name", "quay {seq:03}", "--json")
    assert code == 0
    assert json.loads(out)["copied"] == 5
    assert checked(tmp_path / "far/hand-over" / SHOOT) > {f"pictures/quay 00{seq}.JPG" for seq in range(1, 6)}
    before = office.sent
    code, out, _ = await hand_over("--to", "place:office", "--name", "quay {seq:03}")
    assert code == 0
    assert "5 picture files: 0 copied, 5 there already" in out
    assert office.sent - before < 5 * SIZE


async def test_a_place_that_is_away_is_one_line(office: Line, hand_over: Told) -> None:
    office.down = True
    code, out, err = await hand_over("--to", "place:office")
    assert (code, out) == (1, "")
    assert err.count("\n") == 0
    assert "does not answer" in err
    assert "Look whether it is switched on and the network leads there, then run the same command again" in err


async def test_a_disk_that_is_a_second_place(tmp_path: Path, rig: Path, hand_over: Told) -> None:
    shed = tmp_path / "shed"
    shed.mkdir()
    frames = [fetched(rig, seq, ".JPG", ".NEF") for seq in (1, 2)]
    await asyncio.to_thread(fill, rig, frames)
    name_places(rig, shed={"kind": "directory", "path": str(shed), "own_disk": True})
    code, out, err = await hand_over("--to", "place:shed", "--json")
    assert (code, err) == (0, "")
    assert json.loads(out)["copied"] == 4
    assert {"2026-12-01/000001.JPG", "2026-12-01/000001.NEF"} < checked(shed / "shoots" / SHOOT)
    name_places(rig, inside={"kind": "directory", "path": str(rig), "own_disk": True})
    code, _, err = await hand_over("--to", "place:inside")
    assert code == 2
    assert "lies in the rig's directory" in err


async def test_the_remedy_is_that_of_the_cause(tmp_path: Path, rig: Path, hand_over: Told) -> None:
    await asyncio.to_thread(fill, rig, [fetched(rig, 1)])
    own = tmp_path / "own"
    own.mkdir()
    name_places(
        rig,
        away={"kind": "directory", "path": str(tmp_path / "nothing")},
        own={"kind": "directory", "path": str(own)},
    )
    for place, remedy in (
        ("away", "Connect the disk and mount it, then"),
        ("own", "Mount the disk there, or write own_disk = true into places.toml, then"),
    ):
        code, out, err = await hand_over("--to", f"place:{place}")
        assert (code, out, err.count("\n")) == (1, "", 0)
        assert f"{remedy} run the same command again" in err
        assert "Free some space" not in err


@pytest.mark.parametrize(
    ("number", "remedy"),
    [
        (errno.ENOSPC, "Free some space there"),
        (errno.EROFS, "Let this user write there"),
        (errno.EACCES, "Let this user write there"),
        (errno.EIO, "Look at the disk and its cable"),
    ],
)
def test_so_is_that_of_a_folder_on_a_disk(number: int, remedy: str) -> None:
    told = disk_failed(OSError(number, os.strerror(number)), "/media/quay")
    assert str(told).startswith(f"/media/quay: cannot be written: {os.strerror(number)}. {remedy}, then run")


async def test_a_full_place_asks_for_room(tmp_path: Path, rig: Path, hand_over: Told) -> None:
    await asyncio.to_thread(fill, rig, [fetched(rig, 1)])
    async with sftp_server(tmp_path / "far") as far:
        far.full = True
        name_places(rig, office=far.settings(far.port))
        code, _, err = await hand_over("--to", "place:office")
    assert code == 1
    assert "Free some space there, then run the same command again" in err


def in_store(store: S3) -> dict[str, bytes]:
    """Objects of the store by their keys, read by a client of its own."""
    found = store.client.list_objects_v2(Bucket=BUCKET).get("Contents", [])
    return {each["Key"]: store.client.get_object(Bucket=BUCKET, Key=each["Key"])["Body"].read() for each in found}


async def test_a_store_that_speaks_s3(rig: Path, hand_over: Told) -> None:
    """Under the rig's names, what the log calls copied is not sent again; under names of their own all are; what lies
    there and has changed is kept; all of it whole, by the checksums that come along."""
    frames = [fetched(rig, seq) for seq in range(1, 6)]
    await asyncio.to_thread(fill, rig, [*frames, frame(6)])
    before = originals(rig)
    with s3_server() as store:
        async with line(store.port) as between:
            name_places(rig, depot={**store.settings(between.port), "prefix": "quay/"})
            await mark(rig, "depot", f"s3 {BUCKET}", frames[:COPIED])
            for each in frames[:COPIED]:
                content = (rig / str(each.local_file)).read_bytes()
                store.client.put_object(Bucket=BUCKET, Key=f"quay/{each.local_file}", Body=content)
            code, out, err = await hand_over("--to", "place:depot", "--json")
            assert (code, err) == (0, "")
            made = json.loads(out)
            assert (made["copied"], made["there"]) == (2, COPIED)
            whole_under(store, f"quay/shoots/{SHOOT}/", {f"2026-12-01/00000{seq}.JPG" for seq in range(1, 6)})

            store.client.put_object(Bucket=BUCKET, Key=f"quay/shoots/{SHOOT}/plan.toml", Body=b"mine")
            code, out, _ = await hand_over("--to", "place:depot", "--name", "quay {seq:03}", "--json")
            assert (code, json.loads(out)["copied"]) == (0, 5)
            whole_under(store, f"quay/hand-over/{SHOOT}/", {f"pictures/quay 00{seq}.JPG" for seq in range(1, 6)})
            code, out, _ = await hand_over("--to", "place:depot")
            assert code == 0
            kept = [key for key in in_store(store) if "plan.toml.was-" in key]
            assert [in_store(store)[key] for key in kept] == [b"mine"]

            between.down = True
            code, out, err = await hand_over("--to", "place:depot")
            assert (code, out, err.count("\n")) == (1, "", 0)
            assert "does not answer" in err
        name_places(rig, depot=store.settings(secret_key="another"))
        code, out, err = await hand_over("--to", "place:depot")
        assert (code, out, err.count("\n")) == (1, "", 0)
        assert "another" not in err
    assert originals(rig) == before


def whole_under(store: S3, prefix: str, pictures: set[str]) -> None:
    lies = {key.removeprefix(prefix): body for key, body in in_store(store).items() if key.startswith(prefix)}
    listed = dict(line.split("  ", 1)[::-1] for line in lies[sums.NAME].decode().splitlines())
    assert pictures < set(listed)
    for name, digest in listed.items():
        assert hashlib.sha256(lies[name]).hexdigest() == digest, name
