"""Far sides and files to copy to them."""

from __future__ import annotations

import hashlib
import random
from collections.abc import AsyncIterator, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from controller.copying.process import PlaceProcess
from controller.decide.places import KINDS
from tests.support.far_sides import BUCKET, S3, Line, line, s3_server, sftp_server

NAME = "shoots/2026-12-01-quay/2026-12-01/000001.jpg"


@pytest.fixture(scope="session")
def store_of_s3() -> Iterator[S3]:
    with s3_server() as server:
        yield server


def write(directory: Path, size: int = 300_000, name: str = NAME) -> dict[str, Any]:
    """A file on the rig, and what the process is told of it."""
    content = random.Random(size).randbytes(size)
    path = directory / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    return {"path": str(path), "name": name, "bytes": size, "sha256": hashlib.sha256(content).hexdigest()}


@dataclass
class Side:
    """One kind of place, with a way to see and to spoil what lies there. `line` is None for a directory."""

    kind: str
    rig: Path
    table: dict[str, Any]
    root: Path
    store: S3 | None = None
    line: Line | None = None
    far: Any = None

    def process(self, **other: Any) -> PlaceProcess:
        return PlaceProcess(KINDS[self.kind].model_validate({**self.table, **other}).settings(), self.rig)

    def files(self) -> dict[str, bytes]:
        if self.store is not None:
            client, prefix = self.store.client, str(self.table["prefix"])
            keys = [o["Key"] for o in client.list_objects_v2(Bucket=BUCKET, Prefix=prefix).get("Contents", [])]
            bodies = {key: client.get_object(Bucket=BUCKET, Key=key)["Body"].read() for key in keys}
            return {key.removeprefix(prefix): body for key, body in bodies.items()}
        return {str(p.relative_to(self.root)): p.read_bytes() for p in self.root.rglob("*") if p.is_file()}

    def put(self, name: str, content: bytes) -> None:
        if self.store is not None:
            self.store.client.put_object(Bucket=BUCKET, Key=f"{self.table['prefix']}{name}", Body=content)
            return
        path = self.root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


@pytest.fixture(params=["directory", "sftp", "s3"])
async def side(request: pytest.FixtureRequest, tmp_path: Path) -> AsyncIterator[Side]:
    rig, root = tmp_path / "rig", tmp_path / "far"
    rig.mkdir()
    if request.param == "directory":
        root.mkdir()
        yield Side("directory", rig, {"kind": "directory", "path": str(root), "own_disk": True}, root)
    elif request.param == "sftp":
        async with sftp_server(root) as far, line(far.port) as between:
            yield Side("sftp", rig, far.settings(between.port), root, line=between, far=far)
    else:
        store: S3 = request.getfixturevalue("store_of_s3")
        async with line(store.port) as between:
            table = {**store.settings(between.port), "prefix": f"{tmp_path.name}/"}
            yield Side("s3", rig, table, root, store=store, line=between)
