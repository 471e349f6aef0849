"""What stands beside the pictures: gains and sidecars, clips, the report, the plan, and what all of it is."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from controller.commands.handing.place import MARKER, Folder, failed
from controller.results.handover import readme, sums
from controller.results.handover.document import HandedOver
from controller.results.handover.toml import plan_toml
from controller.store import Store
from controller.words.documents import Frame, Shoot
from controller.words.layout import clip_path


class Beside:
    """Told of every frame, it writes a sidecar for those that have a gain, and at the end all that is one file each."""

    def __init__(self, store: Store, shoot: Shoot, rig: Path, folder: Folder, made: HandedOver) -> None:
        self._store, self._shoot, self._rig, self._folder, self._made = store, shoot, rig, folder, made
        self._cameras: list[str] = []

    def frame(self, frame: Frame) -> None:
        """Each slot of the log, before its sidecar is asked for."""
        if frame.camera not in self._cameras:
            self._cameras.append(frame.camera)

    async def sidecar(self, frame: Frame, stem: str) -> str | None:
        """Its SHA-256; None where the frame has no gain, or another program has changed the one that is there."""
        return None

    async def close(self, lists: list[str], add: Callable[[str, str], None]) -> None:
        """All other files; `lists` are those that stand there, `add` takes each one's checksum and name."""
        names = [*lists]
        clips = await self._clips(add)
        await self._text("plan.toml", plan_toml(self._shoot.plan), add)
        names += ["plan.toml", MARKER]
        self._made.documents = sorted([*names, *clips, readme.NAME, sums.NAME])
        what = [name for name in readme.WHAT if self._stands(name, names, clips)]
        await self._text(readme.NAME, readme.readme(self._shoot, self._made, what), add)

    def _stands(self, name: str, names: list[str], clips: list[str]) -> bool:
        if name == "pictures/":
            return self._made.pictures > 0 and self._folder.renames
        if name == ".xmp":
            return self._made.sidecars + self._made.sidecars_kept > 0
        return name in names or name == sums.NAME or (name == "clips/" and bool(clips))

    async def _clips(self, add: Callable[[str, str], None]) -> list[str]:
        """Films of the shoot that lie on the rig."""
        names: list[str] = []
        root = self._rig / "shoots" / self._shoot.id
        for camera in self._cameras:
            path = self._rig / clip_path(self._shoot.id, camera)
            if path.is_file():
                name = f"clips/{path.relative_to(root)}"
                with self._told(name):
                    shutil.copyfile(path, self._folder.part(name))
                add(await self._folder.put(name) or "", name)
                names.append(name)
        return names

    async def _text(self, name: str, text: str, add: Callable[[str, str], None]) -> None:
        with self._told(name):
            self._folder.part(name).write_text(text, encoding="utf-8", newline="")
        add(await self._folder.put(name) or "", name)

    @contextmanager
    def _told(self, name: str) -> Any:
        try:
            yield
        except OSError as error:
            raise failed(f"cannot be written: {error.strerror or error}", f"{self._folder.where}/{name}") from error
