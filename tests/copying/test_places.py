"""The same of every kind of place, each against a real far side: what is sent arrives whole, once, under its name."""

from __future__ import annotations

import asyncio
import os
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from controller.copying.process import PlaceProcess
from controller.words.errors import CopyError
from tests.copying.conftest import NAME, Side, write
from tests.support.rigs import until

BIG = 9_500_000  # two parts of an upload to S3


async def put(process: PlaceProcess, *files: dict[str, Any]) -> dict[str, Any]:
    return await process.ask(do="put", files=list(files))


def content(file: dict[str, Any]) -> bytes:
    return Path(file["path"]).read_bytes()


def spoil(file: dict[str, Any], *, gone: bool = False) -> None:
    """One byte of the rig's own file, or all of it."""
    path = Path(file["path"])
    whole = bytearray(path.read_bytes())
    whole[-1] ^= 1
    path.unlink()
    if not gone:
        path.write_bytes(whole)


async def fails(process: PlaceProcess, *files: dict[str, Any]) -> CopyError:
    with pytest.raises(CopyError) as caught:
        await put(process, *files)
    assert "\n" not in str(caught.value)
    return caught.value


@pytest.fixture
async def processes() -> Any:
    made: list[PlaceProcess] = []
    yield made
    for process in made:
        await process.close()


async def test_a_file_arrives_whole_and_is_read_back(side: Side, processes: list[PlaceProcess]) -> None:
    processes.append(process := side.process())
    small, big = write(side.rig), write(side.rig, BIG, NAME.replace("jpg", "nef"))
    await put(process, small, big)
    assert side.files() == {each["name"]: content(each) for each in (small, big)}
    looked = await process.ask(do="look", files=[small, big])
    assert looked["whole"]
    assert looked["on_rig"]
    assert looked["elsewhere"] == (side.kind != "directory")


async def test_bit_rot_is_seen_and_what_rotted_is_kept_beside_the_new_copy(
    side: Side, processes: list[PlaceProcess]
) -> None:
    processes.append(process := side.process())
    file = write(side.rig)
    await put(process, file)
    rotten = bytearray(side.files()[NAME])
    rotten[1234] ^= 1
    side.put(NAME, bytes(rotten))
    assert not (await process.ask(do="look", files=[file]))["whole"]
    await put(process, file)
    there = side.files()
    assert there.pop(NAME) == content(file)
    assert list(there.values()) == [bytes(rotten)]  # nothing is ever written over, whoever's it may be
    assert (await process.ask(do="look", files=[file]))["whole"]


async def test_a_copy_that_is_there_already_is_not_sent_again(side: Side, processes: list[PlaceProcess]) -> None:
    processes.append(process := side.process())
    file = write(side.rig, 3_000_000)
    await put(process, file)
    assert (await put(process, file))["moved"] == 3_000_000  # read back, and no more


async def test_a_file_that_is_not_what_the_log_says_gets_no_name(side: Side, processes: list[PlaceProcess]) -> None:
    processes.append(process := side.process())
    file = write(side.rig)
    spoil(file)
    error = await fails(process, file)
    assert (error.code, error.file) == ("rig-file-damaged", True)
    assert side.files() == {}
    spoil(file, gone=True)
    assert (await fails(process, file)).file


async def test_one_that_was_interrupted_goes_on_from_where_it_was(side: Side, processes: list[PlaceProcess]) -> None:
    file = write(side.rig, BIG)
    slow = side.process(rate_kb_s=4000)
    sending = asyncio.create_task(put(slow, file))

    def some_are_there() -> bool:
        if side.store is None:
            return sum(map(len, side.files().values())) > 4_000_000
        uploads = side.store.client.list_multipart_uploads(Bucket="frames").get("Uploads", [])
        ids = [u["UploadId"] for u in uploads if u["Key"].startswith(str(side.table["prefix"]))]
        key = f"{side.table['prefix']}{NAME}"
        return any(side.store.client.list_parts(Bucket="frames", Key=key, UploadId=i).get("Parts") for i in ids)

    await until(some_are_there)
    sending.cancel()  # which ends the process, as a power cut would
    with suppress(asyncio.CancelledError):
        await sending
    assert NAME not in side.files()
    processes.append(process := side.process())
    moved = (await put(process, file))["moved"]
    assert side.files() == {NAME: content(file)}
    assert moved <= (BIG - 4_000_000) + BIG  # what was left to send, and all of it read back


async def test_a_place_that_is_away_is_named_and_taken_up_when_it_is_back(
    side: Side, processes: list[PlaceProcess]
) -> None:
    processes.append(process := side.process())
    file = write(side.rig)
    if side.line is None:
        side.root.rename(side.root.with_name("elsewhere"))
    else:
        side.line.down = True
    error = await fails(process, file)
    assert error.code == "place-away"
    assert error.remedy
    if side.line is None:
        side.root.with_name("elsewhere").rename(side.root)
    else:
        side.line.down = False
    await put(process, file)
    assert NAME in side.files()


@pytest.mark.parametrize("side", ["sftp", "s3"], indirect=True)
async def test_a_line_that_is_cut_in_the_middle_is_gone_on_with(side: Side, processes: list[PlaceProcess]) -> None:
    assert side.line is not None
    processes.append(process := side.process())
    file = write(side.rig, BIG)
    side.line.cut_after = 8_900_000
    error = await fails(process, file)
    assert error.code == "place-away"
    before, side.line.cut_after = side.line.sent, None
    await put(process, file)
    assert side.files() == {NAME: content(file)}
    assert side.line.sent - before < BIG


@pytest.mark.parametrize("side", ["sftp"], indirect=True)
async def test_a_full_place_says_so_and_goes_on_once_there_is_room(side: Side, processes: list[PlaceProcess]) -> None:
    processes.append(process := side.process())
    file = write(side.rig)
    side.far.full = True
    assert (await fails(process, file)).code == "place-full"
    assert NAME not in side.files()
    side.far.full = False
    await put(process, file)
    assert NAME in side.files()


@pytest.mark.parametrize("side", ["sftp", "s3"], indirect=True)
async def test_wrong_credentials_are_said_without_saying_them(side: Side, processes: list[PlaceProcess]) -> None:
    secret = "not-the-one"
    wrong = {"secret_key": secret} if side.kind == "s3" else {"password": secret}
    processes.append(process := side.process(**wrong))
    error = await fails(process, write(side.rig))
    assert error.code == "place-refused"
    assert "places.toml" in error.remedy
    assert secret not in str(error)
    assert side.files() == {}


@pytest.mark.parametrize("side", ["directory"], indirect=True)
async def test_a_capped_place_takes_its_time(side: Side, processes: list[PlaceProcess]) -> None:
    """A lower bound only: what is capped may take longer on a busy machine, never less."""
    processes.append(process := side.process(rate_kb_s=1000))
    loop = asyncio.get_running_loop()
    begun = loop.time()
    moved = (await put(process, write(side.rig, 1_500_000)))["moved"]
    assert loop.time() - begun >= moved / 1_000_000 - 0.6  # the last piece is not waited for


@pytest.mark.parametrize("side", ["sftp", "s3"], indirect=True)
async def test_keys_stand_in_no_command_line_and_no_environment(side: Side, processes: list[PlaceProcess]) -> None:
    processes.append(process := side.process())
    await put(process, write(side.rig))
    assert process._process is not None
    proc = Path(f"/proc/{process._process.pid}")
    told = (proc / "cmdline").read_bytes() + (proc / "environ").read_bytes()
    secret = side.table.get("password") or side.table["secret_key"]
    assert secret.encode() not in told
    assert os.getpriority(os.PRIO_PROCESS, process._process.pid) >= 15
