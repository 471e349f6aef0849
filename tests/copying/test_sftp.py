"""What only SFTP has: a server that is not the one that it should be."""

from __future__ import annotations

from pathlib import Path

import asyncssh
import pytest

from controller.copying.process import PlaceProcess
from controller.decide.places import SftpPlace
from controller.words.errors import CopyError
from tests.copying.conftest import write
from tests.support.far_sides import Sftp, sftp_server


async def refused(far: Sftp, rig: Path, host_key: str) -> CopyError:
    file = write(rig)
    process = PlaceProcess(SftpPlace.model_validate(far.settings(host_key=host_key)).settings(), rig)
    try:
        with pytest.raises(CopyError) as caught:
            await process.ask(do="put", files=[file])
        return caught.value
    finally:
        await process.close()


async def test_a_server_with_another_host_key_gets_nothing(tmp_path: Path) -> None:
    other = asyncssh.generate_private_key("ssh-ed25519").export_public_key().decode()
    async with sftp_server(tmp_path / "far") as far:
        error = await refused(far, tmp_path / "rig", other)
    assert error.code == "place-host-key"
    assert "another host key" in error.what
    assert not list((tmp_path / "far").iterdir())


async def test_an_unknown_host_key_is_shown_to_compare_and_not_believed(tmp_path: Path) -> None:
    async with sftp_server(tmp_path / "far") as far:
        error = await refused(far, tmp_path / "rig", "")
    key = asyncssh.import_public_key(far.host_key)
    assert error.code == "place-host-key"
    assert key.get_fingerprint() in error.what
    assert far.host_key in error.remedy
    assert not list((tmp_path / "far").iterdir())
