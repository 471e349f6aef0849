"""The frame log as CSV and Parquet, and a shoot handed over: memory by the number of rows, and speed beside a floor.

`python -m tests.bench.hand_over [ROWS] [PICTURES] [MB]` makes logs of a hundredth, a tenth and all of ROWS by SQL, and
runs each command as a process of its own; printed is what it held at most and how long it took. Then PICTURES of so
many MB are handed over to a folder, beside what `cp` and twice `sha256sum` of the same files take: a copy that is
verified reads what it copies and what it wrote.
"""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pyarrow.parquet as pq

from controller.store.files import database_path
from tests.bench.log_pages import filled
from tests.bench.rigs import machine, ratio
from tests.results.dusk import SHOOT
from tests.results.handover_rig import SIZE, fetched, fill

TOLD = """
import re, sys, time
from controller.commands import main
code = main(sys.argv[1:])
print(time.process_time())
print(re.search(r"VmHWM:\\s+(\\d+)", open("/proc/self/status").read())[1])
raise SystemExit(code)
"""


def main(rows: int, pictures: int, megabytes: float) -> None:
    print(machine())
    for count in (rows // 100, rows // 10, rows):
        with tempfile.TemporaryDirectory() as scratch:
            rig = Path(scratch) / "rig"
            rig.mkdir()
            filled(database_path(rig), count, 1000).close()
            floor_mb = 0.0
            for name, command in commands(rig, Path(scratch)).items():
                seconds, cpu_s, held_mb = run(*command)
                floor_mb = floor_mb or held_mb
                told = f"{held_mb:5.0f} MB at most, {ratio(held_mb, floor_mb)}, {cpu_s:6.1f} s of a processor"
                print(f"{count:9,} rows  {name:10s} {told}, {seconds:6.1f} s by the wall", flush=True)
            assert pq.ParquetFile(Path(scratch) / "log.parquet").metadata.num_rows == count
            sizes = {path.name: path.stat().st_size / count for path in Path(scratch).glob("log.*")}
            print(
                f"{'':9s}       " + ", ".join(f"{name} {size:.0f} bytes a row" for name, size in sorted(sizes.items()))
            )
    copies(pictures, megabytes)


def commands(rig: Path, scratch: Path) -> dict[str, list[str]]:
    where = ["--dir", str(rig)]
    return {
        "nothing": ["--version"],
        "CSV": ["frames", "last", *where, "--csv", str(scratch / "log.csv")],
        "Parquet": ["frames", "last", *where, "--parquet", str(scratch / "log.parquet")],
        "hand-over": ["hand-over", "last", *where, "--no-files", "--to", str(scratch / "out")],
    }


def run(*words: str) -> tuple[float, float, float]:
    """Wall and processor seconds, and MB that the command's own process held at most."""
    began = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", TOLD, *words], capture_output=True, text=True, check=False)
    seconds = time.perf_counter() - began
    *said, cpu_s, held_kb = done.stdout.splitlines()
    assert done.returncode == 0, (words, said, done.stderr)
    return seconds, float(cpu_s), int(held_kb) / 1024


def copies(pictures: int, megabytes: float) -> None:
    with tempfile.TemporaryDirectory() as scratch:
        rig, out, plain = (Path(scratch) / name for name in ("rig", "out", "plain"))
        frames = [fetched(rig, seq) for seq in range(1, pictures + 1)]
        random_bytes = random.Random(1).randbytes(int(megabytes * 1e6) - SIZE)
        for frame in frames:
            with (rig / str(frame.local_file)).open("ab") as file:
                file.write(random_bytes)
        fill(rig, [frame.but({"sha256": None, "bytes": None}) for frame in frames])
        total_mb = pictures * megabytes
        script = 'cp -r "$1/shoots" "$2" && find "$1/shoots" "$2" -name "*.JPG" -exec sha256sum {} + && sync -f "$2"'
        began = time.perf_counter()
        floor = ["nice", "-n", "15", "sh", "-c", script, "sh", str(rig), str(plain)]  # which copies are niced by, too
        subprocess.run(floor, stdout=subprocess.DEVNULL, check=True)
        floor_s = time.perf_counter() - began
        print(f"floor: cp and sha256sum of both, {pictures} × {megabytes:g} MB: {total_mb / floor_s:.0f} MB/s")
        for what in ("copied", "again"):
            seconds, *_ = run("hand-over", SHOOT, "--dir", str(rig), "--to", str(out))
            print(f"{what}: {total_mb / seconds:.0f} MB/s, {pictures / seconds:.1f} pictures a second, {seconds:.1f} s,"
                  f" {ratio(floor_s, seconds)}")  # fmt: skip


if __name__ == "__main__":
    given = dict(enumerate(sys.argv[1:]))
    main(int(given.get(0, 1_000_000)), int(given.get(1, 200)), float(given.get(2, 10)))
