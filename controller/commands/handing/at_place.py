"""A second place of the rig's as the folder: an SFTP server, a store that speaks S3, a disk that is mounted.

Under the rig's own names the pictures lie there already, or will: then the folder is that of the shoot, and what the
log calls copied there is not sent. With names of its own a hand-over is a folder beside that, and everything is sent.
"""

from __future__ import annotations

import hashlib
import tempfile
from pathlib import Path, PurePosixPath
from typing import Any

from controller.commands.handing.on_disk import bad
from controller.commands.handing.place import NoRoom, Sent, place_failed, sent
from controller.copying.process import PlaceProcess
from controller.decide.places import DirectoryPlace
from controller.engine.places import places_in
from controller.words.documents import Frame
from controller.words.errors import CopyError

WORD = "place:"


class AtPlace:
    """Implements place.Folder. Nothing there is written over or deleted: what differs is kept under another name."""

    def __init__(self, name: str, rig: Path, shoot: str, *, renames: bool, verify: bool) -> None:
        """Raises BadInput (bad-hand-over, bad-places)."""
        places = places_in(rig)
        place = places.get(name)
        if place is None:
            there = ", ".join(f"{WORD}{each}" for each in places)
            remedy = f"There are: {there}" if there else "Write it into places.toml, see docs/storage.md"
            raise bad("is no second place of this rig", f"{WORD}{name}", remedy)
        if isinstance(place, DirectoryPlace) and _meet(Path(place.path), rig):
            raise bad("lies in the rig's directory, or holds it", f"{WORD}{name}", "Name another place")
        self._name, self.renames, self._verify = name, renames, verify
        self._root = PurePosixPath("hand-over" if renames else "shoots") / shoot
        self.where = f"{WORD}{name}, {self._root}"
        self._process = PlaceProcess(place.settings(), rig)
        self._staged = tempfile.TemporaryDirectory(prefix="duskhand-hand-over-")

    def earlier(self, shoot: str) -> str | None:
        return None

    async def open(self, marker: bytes, hold: int) -> None:
        """The place itself is told of when the first file goes there."""

    async def picture(self, name: str, file: dict[str, Any], frame: Frame, *, send: bool) -> Sent:
        target = str(self._root / name)
        there = not self.renames and self._name in (frame.copies or "").split() and file["sha256"] is not None
        if there and (not self._verify or await self._whole({**file, "name": target})):
            return Sent(file["sha256"], False)
        if not send:
            raise NoRoom
        return await sent(self._process, {**file, "name": target}, self.where)

    def part(self, name: str) -> Path:
        path = Path(self._staged.name) / name
        path.parent.mkdir(parents=True, exist_ok=True)
        return path

    async def put(self, name: str, *, keep_theirs: bool = False) -> str | None:
        part = self.part(name)
        with part.open("rb") as file:
            sha256 = hashlib.file_digest(file, "sha256").hexdigest()
        told = {"path": str(part), "name": str(self._root / name), "bytes": part.stat().st_size, "sha256": sha256}
        try:
            await self._process.ask(do="put", files=[told])
        except CopyError as error:
            raise place_failed(error, f"{self.where}/{name}") from error
        part.unlink()
        return sha256

    async def drop(self, name: str) -> None:
        """Nothing is deleted in a second place."""

    async def room_again(self) -> None:
        """Nothing is held back there."""

    async def close(self) -> None:
        await self._process.close()
        self._staged.cleanup()

    async def _whole(self, file: dict[str, Any]) -> bool:
        try:
            return bool((await self._process.ask(do="look", files=[file]))["whole"])
        except CopyError as error:
            raise place_failed(error, self.where) from error


def _meet(path: Path, rig: Path) -> bool:
    path, rig = path.resolve(), rig.resolve()
    return path.is_relative_to(rig) or rig.is_relative_to(path)
