"""Fetching files from the card in pieces small enough to end before the next release."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from controller.camera.messages import Fetched, Trouble
from controller.camera.worker.disk import BROKEN, Copy, Disk
from controller.camera.worker.faults import Fault, Kind
from controller.camera.worker.session import Session
from controller.words.no_room import FULL

LARGEST_PIECE = 1 << 20
_SMALLEST = 1 << 16
_QUEUED = 8 << 20  # bytes that may wait for the disk before fetching waits too
_LONGEST_S = 0.1  # one piece takes no longer, so that commands and events are heard in between
_SHARE = 0.7  # of the time that there is: the line may be slower than it was
_FIRST_RATE = 2e6  # bytes/s until it is known
_CALL_S = 0.002  # what a call costs beside the bytes
_TRIES = 3
_AGAIN_S, _DISK_AGAIN_S = 0.1, 10.0


@dataclass(slots=True)
class Job:
    seq: int
    camera_file: str
    path: Path
    tries: int = 0
    offset: int = 0
    copy: Copy | None = None


class Fetcher:
    """`report` takes Fetched and Trouble. Faults of a lost session pass through; all others end in a report."""

    def __init__(self, disk: Disk, report: Callable[[Fetched | Trouble], None]) -> None:
        self._disk, self._report = disk, report
        self._jobs: deque[Job] = deque()
        self._syncing: list[Job] = []
        self._buffer = memoryview(bytearray(LARGEST_PIECE))
        self._rate = _FIRST_RATE
        self._in_pieces = True
        self._not_before = 0.0
        self._held = False  # by the daemon
        self._refused = False  # by the disk itself

    def want(self, seq: int, camera_file: str, directory: str, stem: str) -> None:
        suffix = camera_file.rpartition(".")[2]
        self._jobs.append(Job(seq, camera_file, Path(directory) / f"{stem}.{suffix}"))

    def pause(self, paused: bool) -> None:
        self._held = paused
        if not paused:
            self._refused, self._not_before = False, 0.0

    def abandon(self) -> None:
        """The session is gone: what has come in part is taken away, what is whole is still synced."""
        for job in self._jobs:
            if job.copy is not None:
                job.copy.abandon()

    @property
    def syncing(self) -> bool:
        """The disk is busy with a file that has come."""
        return bool(self._syncing)

    def cost(self, now_mono: float) -> float | None:
        """Seconds to keep free for the next step at least; None where there is nothing to do now."""
        if self._held or not self._jobs or now_mono < self._not_before:
            return None
        job = self._jobs[0]
        if job.copy is not None and job.copy.waiting > _QUEUED:
            return None
        if self._in_pieces or job.copy is None:
            return _CALL_S + _SMALLEST / self._rate / _SHARE
        return _CALL_S + 1.3 * job.copy.size / self._rate

    def step(self, session: Session, room_s: float) -> None:
        """One piece of the next file, in no more than about `room_s` seconds."""
        job = self._jobs[0]
        try:
            if job.copy is None:
                job.copy, job.offset = Copy(self._disk, job.path, session.info(job.camera_file).size), 0
            elif self._in_pieces:
                self._piece(session, job, job.copy, room_s)
            else:
                self._whole(session, job, job.copy)
        except Fault as fault:
            self._failed(job, fault)

    def _piece(self, session: Session, job: Job, copy: Copy, room_s: float) -> None:
        wanted = int(self._rate * (_SHARE * min(room_s, _LONGEST_S) - _CALL_S))
        wanted = min(max(wanted, _SMALLEST), LARGEST_PIECE)
        begun = time.monotonic()
        try:
            came = session.read(job.camera_file, job.offset, self._buffer[:wanted])
        except Fault as fault:
            if fault.kind is Kind.UNSUPPORTED and job.offset == 0:
                self._in_pieces = False
                return
            raise
        self._measure(came, time.monotonic() - begun)
        if came:
            copy.write(bytes(self._buffer[:came]))
            job.offset += came
        if came < wanted:
            self._all_came(job, copy)

    def _whole(self, session: Session, job: Job, copy: Copy) -> None:
        begun = time.monotonic()
        data, owner = session.whole(job.camera_file)
        self._measure(len(data), time.monotonic() - begun)
        copy.write(data, owner)
        self._all_came(job, copy)

    def _measure(self, size: int, took_s: float) -> None:
        if size >= _SMALLEST:
            self._rate += 0.3 * (size / max(took_s, 1e-4) - self._rate)

    def _all_came(self, job: Job, copy: Copy) -> None:
        copy.finish()
        self._jobs.popleft()
        self._syncing.append(job)

    def collect(self, now_mono: float) -> None:
        """Report what the disk has finished, and take up what it could not do."""
        for job in [*self._syncing, *([self._jobs[0]] if self._jobs else [])]:
            copy = job.copy
            if copy is None or (copy.sha256 is None and copy.error is None):
                continue
            if job in self._syncing:
                self._syncing.remove(job)
            else:
                self._jobs.popleft()
            if copy.sha256 is not None:
                self._refused = False
                done = Fetched(job.seq, job.camera_file, str(copy.path), copy.written, copy.sha256, now_mono)
                self._report(done)
            elif copy.error is not None:
                self._disk_refused(job, copy.error, now_mono)

    def _disk_refused(self, job: Job, error: OSError, now_mono: float) -> None:
        job.copy = None
        self._jobs.appendleft(job)
        if error.errno not in FULL | BROKEN:
            self._again(job, f"could not be written: {error.strerror or error}", "Look at the rig's disk", now_mono)
            return
        self._not_before = now_mono + _DISK_AGAIN_S
        if self._refused:
            return
        self._refused = True
        rest = f"({job.path.parent}); frames stay on the card, releases go on"
        if error.errno in FULL:
            self._report(Trouble("disk-full", f"the rig's disk is full {rest}", "Make room on the rig's disk", job.seq))
        else:
            what = f"the rig's disk takes nothing, {error.strerror} {rest}"
            self._report(Trouble("disk-broken", what, "Look at the rig's disk; fetching goes on by itself", job.seq))

    def _failed(self, job: Job, fault: Fault) -> None:
        now_mono = time.monotonic()
        if fault.kind is Kind.LOST:
            raise fault
        if fault.kind is Kind.BUSY:
            self._not_before = now_mono + _AGAIN_S
            return
        if job.copy is not None:
            job.copy.abandon()
            job.copy = None
        self._again(job, str(fault), "The frame is still on the card", now_mono)

    def _again(self, job: Job, why: str, remedy: str, now_mono: float) -> None:
        """After the other files, and not for ever."""
        self._jobs.remove(job)
        job.tries += 1
        if job.tries < _TRIES:
            self._not_before = now_mono + _AGAIN_S * 5**job.tries
            self._jobs.append(job)
        else:
            self._report(Trouble("not-fetched", f"{job.camera_file} was not fetched: {why}", remedy, job.seq))
