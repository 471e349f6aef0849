"""One SQLite file: a single writer thread behind a queue, and readers beside it.

Jobs that wait together share one transaction and so one fsync; each is a savepoint of its own, so that one that fails
takes no other with it. A job's answer is given only after the commit that holds it.
"""

from __future__ import annotations

import asyncio
import fcntl
import logging
import os
import queue
import sqlite3
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any, TypeVar

from controller.store import damage, schema, spare
from controller.store.files import beside, room
from controller.words.errors import StoreError

log = logging.getLogger(__name__)

T = TypeVar("T")
Job = Callable[[sqlite3.Connection], Any]

READERS = 2
BATCH = 64  # jobs in one transaction at most


class Database:
    """Opened by `open`; `write` and `read` may be awaited from any event loop."""

    def __init__(self, path: Path, *, read_only: bool = False) -> None:
        """Raises StoreError or NotFound, see `schema.prepare` and `schema.inspect`."""
        self.path = path
        self.read_only = read_only
        self.aside: tuple[Path, str] | None = None  # a damaged one that stood here: its new name, and why
        self.unclean = False  # the last one that wrote to it did not close it
        self.damage: StoreError | None = None  # found since it was opened
        self._jobs: queue.SimpleQueue[tuple[Job, Future[Any]] | None] = queue.SimpleQueue()
        self._closed = False
        self._lock: int | None = None
        self._idle: queue.SimpleQueue[sqlite3.Connection] = queue.SimpleQueue()
        self._writer: sqlite3.Connection | None = None
        try:
            self._connect()
        except BaseException:
            self._let_go()
            raise
        self._pool = ThreadPoolExecutor(READERS, thread_name_prefix="frame-log-reader")
        self._thread = threading.Thread(target=self._work, name="frame-log-writer", daemon=True)
        if self._writer is not None:
            self._thread.start()

    def _connect(self) -> None:
        try:
            if self.read_only:
                schema.inspect(self.path)
            else:
                self.path.parent.mkdir(parents=True, exist_ok=True)
                self._lock = _lock(self.path)
                self.unclean = beside(self.path, "-wal").exists()
                self.aside = damage.put_aside(self.path, time.time())
                try:
                    schema.prepare(self.path)
                except sqlite3.Error:
                    if not spare.give(self.path):
                        raise
                    schema.prepare(self.path)
                self._writer = schema.connect(self.path)
            for _ in range(READERS):
                self._add_reader()
            if not self.read_only:
                spare.keep(self.path)
        except sqlite3.Error as error:
            raise explain(error, self.path) from error
        except OSError as error:
            remedy = "Check the directory and its owner"
            if isinstance(error, PermissionError) and self.read_only:
                remedy = "Read it with sudo, or as a member of the group that it belongs to"
            raise StoreError("store-unreachable", error.strerror or str(error), str(self.path), remedy) from error

    async def write(self, job: Callable[[sqlite3.Connection], T]) -> T:
        """Run `job` in the writer's transaction; its answer once that is on the disk. Raises StoreError."""
        if self._writer is None or self._closed:
            raise StoreError("store-read-only", "the frame log is open for reading only", str(self.path))
        future: Future[T] = Future()
        self._jobs.put((job, future))
        return await asyncio.wrap_future(future)

    async def read(self, job: Callable[[sqlite3.Connection], T]) -> T:
        """Run `job` on what has been committed. Raises StoreError."""
        if self._closed:
            raise StoreError("store-closed", "the frame log is closed", str(self.path))
        return await asyncio.get_running_loop().run_in_executor(self._pool, self._read, job)

    async def close(self) -> None:
        """Finish the jobs that wait, fold the log into the database and close."""
        if self._closed:
            return
        self._closed = True
        await asyncio.to_thread(self._close)

    def _close(self) -> None:
        self._pool.shutdown()
        if self._writer is not None:
            self._jobs.put(None)
            self._thread.join()
        self._let_go()

    def _let_go(self) -> None:
        """Of every connection, the writer's last, which folds the log; and of the lock."""
        while not self._idle.empty():
            self._idle.get().close()
        if self._writer is not None:
            self._writer.close()
        if self._lock is not None:
            os.close(self._lock)
            self._lock = None

    def _add_reader(self) -> None:
        connection = schema.connect(self.path, read_only=self.read_only)
        self._idle.put(connection)
        connection.execute("PRAGMA query_only = ON")

    def _read(self, job: Callable[[sqlite3.Connection], T]) -> T:
        connection = self._idle.get()
        try:
            connection.execute("BEGIN")  # one snapshot for all that the job reads
            return job(connection)
        except sqlite3.Error as error:
            raise self._explain(error) from error
        finally:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            self._idle.put(connection)

    def _explain(self, error: sqlite3.Error) -> StoreError:
        told = explain(error, self.path)
        if self.read_only or not damage.is_damage(error) or self.found(told):
            return told
        return StoreError("store-failed", "the disk fails", str(self.path), "Check the disk", True)

    def found(self, error: StoreError) -> bool:
        """It is damaged: the next start puts it aside. False where the disk takes nothing, and is the trouble."""
        if damage.mark(self.path):
            self.damage = error
            return True
        return False

    def _work(self) -> None:
        ending = False
        while not ending:
            batch = [self._jobs.get()]
            while len(batch) < BATCH and not self._jobs.empty():
                batch.append(self._jobs.get())
            ending = None in batch
            waiting = [entry for entry in batch if entry is not None and entry[1].set_running_or_notify_cancel()]
            try:
                self._commit(waiting)
            except Exception as error:  # as a rollback that fails: without this thread nothing is logged any more
                log.exception("the frame log's writer")
                for _, future in waiting:
                    if not future.done():
                        what = f"internal trouble: {error or type(error).__name__}"
                        future.set_exception(StoreError("store-failed", what, str(self.path), "Check the disk", True))

    def _commit(self, batch: list[tuple[Job, Future[Any]]]) -> None:
        """Run the jobs in one transaction; where that fails as a whole, each in one of its own."""
        connection = self._writer
        if not batch or connection is None:
            return
        answers: list[Callable[[], None]] = []
        try:
            connection.execute("BEGIN IMMEDIATE")
            for job, future in batch:
                answers.append(self._step(connection, job, future))
            connection.execute("COMMIT")
        except sqlite3.Error as error:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            if len(batch) > 1:
                for entry in batch:
                    self._commit([entry])
                return
            batch[0][1].set_exception(self._explain(error))
            return
        for answer in answers:
            answer()

    def _step(self, connection: sqlite3.Connection, job: Job, future: Future[Any]) -> Callable[[], None]:
        """Run one job; what to tell its caller after the commit."""
        connection.execute("SAVEPOINT job")
        try:
            result = job(connection)
        except Exception as error:
            if isinstance(error, sqlite3.Error) and not connection.in_transaction:
                raise  # a full disk or an I/O error rolls the whole transaction back
            connection.execute("ROLLBACK TO job")
            connection.execute("RELEASE job")
            told = self._explain(error) if isinstance(error, sqlite3.Error) else error
            return lambda: future.set_exception(told)
        connection.execute("RELEASE job")
        return lambda: future.set_result(result)


def _lock(path: Path) -> int:
    """Hold the directory for one daemon; the kernel lets go when the process ends, however it ends."""
    lock = os.open(beside(path, "-lock"), os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        os.close(lock)
        raise StoreError(
            "store-in-use",
            "another duskhand writes to this frame log",
            str(path),
            "Stop it first, or choose another directory with --dir",
        ) from error
    return lock


def explain(error: sqlite3.Error, path: Path) -> StoreError:
    """SQLite's error as one that a person can act on."""
    name = getattr(error, "sqlite_errorname", "")
    where = str(path)
    if name == "SQLITE_FULL":
        return _full(where)
    if damage.is_damage(error):
        return explain_damage(str(error), path)
    if name.startswith("SQLITE_IOERR") and _no_room(path):  # as where its index finds no room
        return _full(where)
    if name.startswith(("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM")):
        return StoreError("store-unreachable", str(error), where, "Check the directory, its owner and its permissions")
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return StoreError("store-busy", "another program holds the frame log", where, "End that program", True)
    return StoreError("store-failed", str(error), where, "Check the disk", True)


def _full(where: str) -> StoreError:
    what = "the disk is full, the frame log cannot grow"
    return StoreError("disk-full", what, where, "Free some space on that disk", True)


def _no_room(path: Path) -> bool:
    try:
        return room(path)[0] < spare.BYTES
    except OSError:
        return False


def explain_damage(what: str, path: Path) -> StoreError:
    remedy = "Start `duskhand serve` again: it puts the file aside and makes the log anew from pictures and card"
    return StoreError("store-damaged", f"the frame log is damaged: {what}", str(path), remedy)
