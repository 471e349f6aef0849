"""kill -9 on a process that logs frames: what was acknowledged is there, and nothing is torn."""

# ruff: noqa: ASYNC220, ASYNC251 - each test has its event loop to itself

from __future__ import annotations

import random
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

from controller.store import Store
from controller.words.documents import FrameState
from tests.store.samples import SHOOT, shoot

ROUNDS = 12
RANK = {FrameState.DUE: 0, FrameState.RELEASED: 1, FrameState.FETCHED: 2}


async def test_nothing_acknowledged_is_lost_to_kill_9(path: Path) -> None:
    async with await Store.open(path) as store:
        await store.add_shoot(shoot())
    acknowledged: dict[int, int] = {}
    dice = random.Random()
    for _ in range(ROUNDS):
        first = max(acknowledged, default=0) + 10
        command = [sys.executable, "-m", "tests.store.writer", str(path), str(first)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
            assert process.stdout is not None
            said = [process.stdout.readline()]  # it is under way
            time.sleep(dice.uniform(0, 0.08))
            process.kill()
            said += process.stdout.readlines()
        assert process.returncode == -signal.SIGKILL
        for line in said:
            if line.endswith("\n"):  # the last one may be torn by the kill
                word, seq = line.split()
                acknowledged[int(seq)] = ["intent", "released", "fetched"].index(word)
        await _check(path, acknowledged)
    assert len(acknowledged) > ROUNDS


async def _check(path: Path, acknowledged: dict[int, int]) -> None:
    async with await Store.open(path, read_only=True) as reader:  # beside what the killed process left
        found = {frame.seq: frame.state for frame in await reader.open_frames(SHOOT)}
        found |= {frame.seq: frame.state for frame in await reader.frames(SHOOT, limit=100_000)}
        lost = {seq for seq, rank in acknowledged.items() if seq not in found or RANK[found[seq]] < rank}
        assert not lost
        counts = await reader.counts(SHOOT)
        assert counts.fetched == sum(state == FrameState.FETCHED for state in found.values())
        assert counts.released == sum(state == FrameState.RELEASED for state in found.values())
    raw = sqlite3.connect(path)
    assert raw.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert raw.execute("PRAGMA foreign_key_check").fetchall() == []
    raw.close()


async def test_commits_are_synced_in_full(store: Store) -> None:
    """A kill cannot show a missing fsync; SQLite says itself what it does: 2 is FULL (sqlite.org/pragma.html)."""
    assert await store._database.write(lambda c: c.execute("PRAGMA synchronous").fetchone()[0]) == 2
    assert await store._database.write(lambda c: c.execute("PRAGMA journal_mode").fetchone()[0]) == "wal"
