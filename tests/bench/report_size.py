"""Memory and time of a report: of a thousand frames, and of a million.

`python -m tests.bench.report_size [FRAMES]` makes a log by SQL in which evenings of two hours at 5.1 s follow each
other, every thousandth slot was missed, every frame is as late, as bright and as exposed as a random number says, and
half of them are copied to a second place. Then the process that the service starts for a report works out the document,
and the page. Printed are the processor's seconds and the most memory that the process had, beside two floors: the same
process with nothing to tell, and the log's pages read in a process of their own and let go. The percentiles are held
against SQLite's.
"""

from __future__ import annotations

import json
import os
import resource
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import suppress
from pathlib import Path

from controller.results.report.documents import Report
from controller.store.files import database_path
from tests.bench.log_pages import filled
from tests.bench.rigs import machine, ratio
from tests.store.samples import SHOOT

EVENINGS = """
UPDATE frames SET
  due_utc = 1796140800.0 + 86400.0 * (seq / 1412) + 5.1 * (seq % 1412),
  sun_altitude_deg = 3.0 - 0.0085 * (seq % 1412), sun_azimuth_deg = 221.0 + 0.01 * (seq % 1412),
  exposure_ev = 9.0 - ((seq % 1412) / 100) / 3.0,
  scene_ev = 9.0 - ((seq % 1412) / 300.0) + (random() % 1000) / 20000.0
"""
LATE = "UPDATE frames SET late_ms = exp((random() % 1000000) / 400000.0) WHERE state <> 'missed'"
PLACE = "INSERT INTO places (key, name, target, active) VALUES (1, 'shed', '/mnt/shed', 1)"
COPIED = "INSERT INTO copies (frame, place, verified_utc) SELECT id, 1, due_utc FROM frames WHERE seq % 2 = 0"

READ = """
import asyncio, os, sys
from pathlib import Path
from controller.store import Store
async def read():
    async with await Store.open(Path(sys.argv[1]), read_only=True) as store:
        after = 0
        while page := await store.frames(sys.argv[2], after=after, limit=500):
            after = page[-1].seq
os.nice(10)
asyncio.run(read())
"""


def evenings(directory: Path, count: int) -> None:
    connection = filled(database_path(directory), count, 1000)
    connection.execute("BEGIN")
    for job in (EVENINGS, LATE, PLACE, COPIED):
        connection.execute(job)
    connection.execute("COMMIT")
    connection.close()


def ran(*command: str, given: str = "") -> tuple[str, float, float]:
    """What it said, seconds of the processor's time, and the most memory that it had, megabytes."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    pipe = subprocess.PIPE
    most_kb = 0
    with subprocess.Popen([sys.executable, *command], stdin=pipe, stdout=pipe, text=True) as process:
        assert process.stdin is not None
        assert process.stdout is not None

        def watch() -> None:  # what wait4 tells begins with the memory of the process that started it
            nonlocal most_kb
            while process.returncode is None:
                with suppress(OSError, IndexError):
                    most_kb = max(most_kb, int(status.read_text().partition("VmHWM:")[2].split()[0]))
                time.sleep(0.02)

        status = Path(f"/proc/{process.pid}/status")
        watching = threading.Thread(target=watch)
        watching.start()
        said, _ = process.communicate(given)
        watching.join()
    assert process.returncode == 0, said
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return said, spent_s, most_kb / 1024


def aside(directory: Path, shoot: str, page: bool) -> tuple[str, float, float]:
    task = {"job": "report", "directory": str(directory), "shoot": shoot, "camera": None}
    if page:
        task["page"] = {"theme": None, "home": None}
    return ran("-m", "controller.aside", str(os.getpid()), given=json.dumps(task))


def percentile(path: Path, share: float) -> float:
    """By SQLite's own sorting, between ranks as the report does it."""
    connection = sqlite3.connect(path)
    late = "FROM frames WHERE late_ms IS NOT NULL AND state <> 'missed'"
    count = connection.execute(f"SELECT count(*) {late}").fetchone()[0]
    place = (count - 1) * share
    rows = connection.execute(f"SELECT late_ms {late} ORDER BY late_ms LIMIT 2 OFFSET ?", (int(place),)).fetchall()
    return float(rows[0][0] + (place - int(place)) * (rows[-1][0] - rows[0][0]))


def line(what: str, took: tuple[str, float, float], count: int, floor_s: float = 0.0) -> None:
    said, seconds, megabytes = took
    each = 1e6 * seconds / count
    against = f"  {ratio(seconds, floor_s)}" if floor_s else ""
    costs = f"{seconds:7.1f} s  {each:6.0f} µs a frame  {megabytes:6.1f} MB  {len(said) / 1000:6.0f} kB out"
    print(f"  {what:28} {costs}{against}")


def main(count: int) -> None:
    print(machine())
    for frames in (1000, count):
        with tempfile.TemporaryDirectory() as name:
            directory = Path(name)
            evenings(directory, frames)
            path = database_path(directory)
            print(f"\n{frames:,} frames, {path.stat().st_size / 1e6:.0f} MB of log")
            line("floor: nothing to tell", aside(directory, "no-such-shoot", page=False), frames)
            read = ran("-c", READ, str(path), SHOOT)
            line("floor: pages read", read, frames)
            document = aside(directory, SHOOT, page=False)
            line("document", document, frames, read[1])
            line("page", aside(directory, SHOOT, page=True), frames, read[1])
            late = Report.model_validate_json(document[0]).lateness
            assert late is not None
            for share, ms in ((0.5, late.p50_ms), (0.99, late.p99_ms), (0.999, late.p999_ms)):
                exact = percentile(path, share)
                print(
                    f"  {100 * share:g} %: {ms:.5f} ms, exactly {exact:.5f}: off by {abs(ms / exact - 1):.5%}", end=""
                )
                print(f", told {late.within:.5%}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
