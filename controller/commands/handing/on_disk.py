"""A folder on a disk: what is there and whole is left, and nothing that another wrote is written over."""

from __future__ import annotations

import contextlib
import errno
import fcntl
import hashlib
import json
import os
import shlex
from pathlib import Path
from typing import Any

from controller.commands.handing.place import MARKER, NoRoom, NotSent, Sent, disk_failed, failed, sent
from controller.copying.process import PlaceProcess
from controller.results.handover import sums
from controller.store.files import room
from controller.words.documents import Frame
from controller.words.errors import BadInput
from controller.words.no_room import FULL
from controller.words.synced import sync_directory

_HELD = ".room.part"
_BEGUN = (_HELD, f"{MARKER}.part")  # what a run leaves that was killed at its very beginning
_MARGIN = 1 << 20  # bytes that stay free after a picture: lists and a sidecar are written before the next is tried


class OnDisk:
    """Implements place.Folder. Pictures go through the process that copies to second places, which reads each back."""

    renames = True

    def __init__(self, directory: Path, rig: Path, *, verify: bool) -> None:
        """`verify`: what an earlier run wrote is read, too, not only looked at. Raises BadInput (bad-hand-over)."""
        self._root, self._verify = directory.expanduser().resolve(), verify
        self.where = str(self._root)
        rig = rig.resolve()
        if self._root == rig or self._root.is_relative_to(rig) or rig.is_relative_to(self._root):
            what = "lies in the rig's directory" if self._root.is_relative_to(rig) else "holds the rig's directory"
            raise bad(what, self.where, "Name a folder elsewhere")
        settings = {"kind": "directory", "path": self.where, "own_disk": True, "rate_kb_s": None}
        self._process = PlaceProcess(settings, rig)
        self._known = sums.known(self._root / sums.NAME)
        self._made: set[Path] = set()
        self._lock: int | None = None

    def earlier(self, shoot: str) -> str | None:
        try:
            told = json.loads((self._root / MARKER).read_bytes())
        except (OSError, ValueError):
            return None
        name = told.get("name") if isinstance(told, dict) and told.get("shoot") == shoot else None
        return name if isinstance(name, str) else None

    async def open(self, marker: bytes, hold: int) -> None:
        path = self._root / MARKER
        try:
            self._root.mkdir(parents=True, exist_ok=True)
            there = path.read_bytes() if path.is_file() else None
            others = there is None and any(path.name not in _BEGUN for path in self._root.iterdir())
        except (FileExistsError, NotADirectoryError):
            raise bad("is no folder", self.where, "Name one that is new or empty") from None
        except OSError as error:
            remedy = "Name another folder, or let this user write there"
            raise bad(f"cannot be used: {error.strerror or error}", self.where, remedy) from error
        if there is not None and there != marker:
            name = self.earlier(json.loads(marker)["shoot"])
            if name is None:
                raise bad("holds what is no hand-over of this shoot", self.where, "Name another folder")
            remedy = f"Name another folder, or give --name {shlex.quote(name)}, or none"
            raise bad("holds a hand-over of this shoot with other names", self.where, remedy)
        if others:
            remedy = f"Name a new one, such as {self._root / 'hand-over'}"
            raise bad("holds other files already", self.where, remedy)
        self._alone()
        self._hold(hold)

    async def picture(self, name: str, file: dict[str, Any], frame: Frame, *, send: bool) -> Sent:
        if _lies(self._root / name):
            return self._there(name, self._root / name, file)
        if not send or self._free() < (_size(Path(file["path"])) or 0) + _MARGIN:
            raise NoRoom
        return await sent(self._process, {**file, "name": name}, self.where)

    def part(self, name: str) -> Path:
        path = self._root / (name + ".part")
        if path.parent not in self._made:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._made.add(path.parent)
        return path

    async def put(self, name: str, *, keep_theirs: bool = False) -> str | None:
        part, target = self.part(name), self._root / name
        try:
            sha256 = _digest(part)
            old = _digest(target) if target.exists() else None
            if old == sha256:
                part.unlink()
                return sha256
            if old is not None and name != sums.NAME and not sums.was(self._known, old, name):
                if keep_theirs:
                    part.unlink()
                    return None
                target.rename(_unused(target, old))
            with part.open("rb+") as file:
                os.fsync(file.fileno())
            part.replace(target)
        except OSError as error:
            raise disk_failed(error, str(target)) from error
        return sha256

    async def drop(self, name: str) -> None:
        target = self._root / name
        try:
            if target.is_file() and sums.was(self._known, _digest(target), name):
                target.unlink()
        except OSError as error:
            raise disk_failed(error, str(target)) from error

    async def room_again(self) -> None:
        (self._root / _HELD).unlink(missing_ok=True)

    async def close(self) -> None:
        await self._process.close()
        with contextlib.suppress(OSError):
            for directory in self._made:
                sync_directory(directory)
        if self._lock is not None:
            with contextlib.suppress(OSError):
                await self.room_again()
            os.close(self._lock)

    # ---- on the disk

    def _there(self, name: str, target: Path, file: dict[str, Any]) -> Sent:
        """What lies there is the picture, or stays as it is."""
        wanted = file["sha256"]
        try:
            if wanted is not None and not self._verify and sums.was(self._known, wanted, name):
                size = _size(Path(file["path"]))
                if size is None or target.stat().st_size == size:
                    return Sent(wanted, False)
            found = _digest(target)
            if wanted is None:
                wanted = _digest(Path(file["path"]))
        except OSError as error:
            raise NotSent(f"cannot be read in the folder: {error.strerror}") from None
        if found != wanted:
            raise NotSent("another file of this name is in the folder; move it away, then run the same command again")
        return Sent(found, False)

    def _alone(self) -> None:
        """Two at a time would write into one another's lists; the kernel lets go when the process ends."""
        lock = os.open(self._root, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            os.close(lock)
            raise bad("is being written by another hand-over", self.where, "Wait for its end") from None
        except OSError as error:
            if error.errno not in (errno.ENOLCK, errno.EOPNOTSUPP):  # else a file system without locks
                os.close(lock)
                raise disk_failed(error, str(self._root)) from error
        self._lock = lock

    def _free(self) -> int:
        return room(self._root)[0]

    def _hold(self, size: int) -> None:
        path = self._root / _HELD
        try:
            with path.open("wb") as file:
                os.posix_fallocate(file.fileno(), 0, size)
        except OSError as error:
            path.unlink(missing_ok=True)
            if error.errno in FULL:
                raise failed("no room is left, not even for the lists", self.where) from error
            raise disk_failed(error, str(path)) from error


def bad(what: str, where: str, remedy: str) -> BadInput:
    return BadInput("bad-hand-over", what, where, remedy)


def _lies(path: Path) -> bool:
    return os.path.lexists(path)  # a link that leads nowhere is something, too


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _size(path: Path) -> int | None:
    try:
        return path.stat().st_size
    except OSError:
        return None


def _unused(target: Path, sha256: str) -> Path:
    """The name under which what another wrote is kept, as in second places."""
    first = tried = target.with_name(f"{target.name}.was-{sha256[:12]}")
    number = 1
    while tried.exists():
        number += 1
        tried = first.with_name(f"{first.name}-{number}")
    return tried
