"""What only a directory has: a disk that is full, and one that is not there although its directory is."""

from __future__ import annotations

import asyncio
import resource
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from controller.copying.directory import Directory
from controller.copying.pace import Pace
from controller.copying.process import PlaceProcess
from controller.copying.source import Source
from controller.copying.transfer import put
from controller.decide.places import DirectoryPlace
from controller.words.errors import CopyError
from tests.copying.conftest import NAME, write


@contextmanager
def files_of_at_most(size: int) -> Iterator[None]:
    """The kernel refuses whatever is longer, as a full disk would (setrlimit(2), RLIMIT_FSIZE)."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def far(path: Path, rig: Path, *, own_disk: bool = True) -> Directory:
    return Directory(str(path), rig, Pace(None), lambda size: None, own_disk=own_disk)


def source(file: dict[str, object]) -> Source:
    return Source(Path(str(file["path"])), int(str(file["bytes"])), str(file["sha256"]))


def test_a_disk_that_gets_full_says_so_and_goes_on_from_there(tmp_path: Path) -> None:
    rig, there = tmp_path / "rig", tmp_path / "far"
    there.mkdir()
    file = write(rig, 900_000)
    place = far(there, rig)
    with files_of_at_most(400_000), pytest.raises(CopyError) as caught:
        asyncio.run(put(place, NAME, source(file)))
    assert (caught.value.code, caught.value.file) == ("place-full", False)
    assert not (there / NAME).exists()
    assert (there / f"{NAME}.part").stat().st_size == 400_000
    asyncio.run(put(place, NAME, source(file)))
    assert (there / NAME).read_bytes() == Path(str(file["path"])).read_bytes()
    assert not (there / f"{NAME}.part").exists()


def test_a_mount_point_without_its_disk_is_no_second_place(tmp_path: Path) -> None:
    rig, there = tmp_path / "rig", tmp_path / "mnt"
    rig.mkdir()
    there.mkdir()
    with pytest.raises(CopyError) as caught:
        far(there, rig, own_disk=False)
    assert caught.value.code == "place-away"
    assert "nothing is mounted" in caught.value.what


def test_a_disk_that_is_taken_away_in_between_gets_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rig, there = tmp_path / "rig", tmp_path / "far"
    there.mkdir()
    file = write(rig)
    place = far(there, rig)
    monkeypatch.setattr(place, "_device", -1)  # as it looks once another file system lies under the same path
    with pytest.raises(CopyError) as caught:
        asyncio.run(put(place, NAME, source(file)))
    assert caught.value.code == "place-away"
    assert not (there / NAME).exists()


async def test_a_place_that_was_let_go_starts_no_process_again(tmp_path: Path) -> None:
    (tmp_path / "far").mkdir()
    table = {"kind": "directory", "path": str(tmp_path / "far"), "own_disk": True}
    process = PlaceProcess(DirectoryPlace.model_validate(table).settings(), tmp_path)
    await process.ask(do="look", files=[])
    await process.rest()
    await process.ask(do="look", files=[])
    await process.close()
    with pytest.raises(CopyError):
        await process.ask(do="look", files=[])
    assert process._process is None
