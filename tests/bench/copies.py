"""What copies to second places take: speed of one file after the other, and memory of the process that makes them.

    python -m tests.bench.copies [FILES] [MB]

Far sides run on this machine and take their share of it. The floor copies the same files, synced, and reads them back.
"""

from __future__ import annotations

import asyncio
import hashlib
import os
import random
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from controller.copying.process import PlaceProcess
from controller.decide.places import KINDS
from tests.bench.rigs import ratio
from tests.support.far_sides import s3_server, sftp_server


def write(directory: Path, count: int, size: int) -> list[dict[str, Any]]:
    files = []
    for n in range(count):
        content = random.Random(n).randbytes(size)
        path = directory / "shoots" / f"{n:06d}.jpg"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        told = {"path": str(path), "name": f"shoots/{path.name}", "bytes": size}
        files.append({**told, "sha256": hashlib.sha256(content).hexdigest()})
    return files


def floor(files: list[dict[str, Any]], to: Path) -> float:
    begun = time.monotonic()
    for file in files:
        copy = to / Path(file["path"]).name
        with copy.open("wb") as out:
            out.write(Path(file["path"]).read_bytes())
            out.flush()
            os.fsync(out.fileno())
        assert hashlib.sha256(copy.read_bytes()).hexdigest() == file["sha256"]
    return time.monotonic() - begun


def most_mb(pid: int) -> float:
    status = Path(f"/proc/{pid}/status").read_text()
    return int(status.split("VmHWM:")[1].split()[0]) / 1000


async def measure(table: dict[str, Any], rig: Path, files: list[dict[str, Any]]) -> tuple[float, float]:
    """Seconds for all files, and the most memory that the process had, MB."""
    process = PlaceProcess(KINDS[table["kind"]].model_validate(table).settings(), rig)
    try:
        await process.ask(do="look", files=[])  # started and connected
        begun = time.monotonic()
        for file in files:
            await process.ask(do="put", files=[file])
        took_s = time.monotonic() - begun
        assert process._process is not None
        return took_s, most_mb(process._process.pid)
    finally:
        await process.close()


async def main(count: int = 20, megabytes: float = 12.0) -> None:
    with tempfile.TemporaryDirectory() as made:
        root = Path(made)
        files = write(root / "rig", count, int(megabytes * 1e6))
        for name in ("floor", "directory", "sftp"):
            (root / name).mkdir()
        total = count * megabytes
        took_s = floor(files, root / "floor")
        floor_s = took_s
        print(f"{'floor':<10} {total / took_s:8.0f} MB/s")
        async with sftp_server(root / "sftp") as sftp:
            with s3_server() as s3:
                here = {"kind": "directory", "path": str(root / "directory"), "own_disk": True}
                for table in (here, sftp.settings(), s3.settings()):
                    took_s, memory_mb = await measure(table, root / "rig", files)
                    told = f"{memory_mb:6.0f} MB of memory, {ratio(took_s, floor_s)}"
                    print(f"{table['kind']:<10} {total / took_s:8.0f} MB/s   {told}")


if __name__ == "__main__":
    asyncio.run(main(*map(int, sys.argv[1:3])))
