"""What stands beside the pictures: gains and sidecars, clips, the report, the plan, and what all of it is."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from controller.commands.handing.gains import ShootGains
from controller.commands.handing.place import MARKER, Folder, writing
from controller.results.clip.sidecar import gains_csv, xmp
from controller.results.handover import readme, sums
from controller.results.handover.document import HandedOver
from controller.results.handover.toml import plan_toml
from controller.results.report.clips import clips
from controller.results.report.documents import ClipMade
from controller.results.report.gather import Gatherer
from controller.results.report.integrity import kept
from controller.results.report.page import page
from controller.store import Store
from controller.words.documents import Frame, Shoot
from controller.words.errors import DuskhandError
from controller.words.layout import shoot_directory, verified_path

REPORT, PLAN = "report.html", "plan.toml"


class Beside:
    """Told of every frame, it writes a sidecar for those that have a gain, and at the end all that is one file each."""

    def __init__(self, store: Store, shoot: Shoot, rig: Path, folder: Folder, made: HandedOver) -> None:
        self._store, self._shoot, self._rig, self._folder, self._made = store, shoot, rig, folder, made
        self._gather = Gatherer(shoot)
        self._gains = ShootGains(rig, shoot)
        made.remarks += self._gains.remarks
        self.gains = len(self._gains)

    def frame(self, frame: Frame) -> None:
        """Each slot of the log, before its sidecar is asked for."""
        self._gather(frame)

    async def sidecar(self, frame: Frame, stem: str) -> str | None:
        """Its SHA-256; None where the frame has no gain, or another program has changed the one that is there."""
        row = self._gains.of(frame)
        if row is None:
            return None
        name = f"{stem}.xmp"
        with writing(self._folder, name):
            self._folder.part(name).write_bytes(xmp(self._shoot.id, row))
        sha256 = await self._folder.put(name, keep_theirs=True)
        self._made.sidecars += sha256 is not None
        self._made.sidecars_kept += sha256 is None
        return sha256

    async def close(self, lists: list[str], add: Callable[[str, str], None]) -> None:
        """All other files; `lists` are those that stand there, `add` takes each one's checksum and name."""
        films = clips(self._rig, self._shoot.id)
        names = [*lists, *await self._tables(add), REPORT, PLAN, MARKER, sums.NAME]
        await self._text(REPORT, await self._report(films), add)
        await self._text(PLAN, plan_toml(self._shoot.plan), add)
        there = [await self._film(film, add) for film in films]
        self._made.documents = sorted([*names, *filter(None, there), readme.NAME])
        if self._made.sidecars_kept:
            kept_ = f"{self._made.sidecars_kept} sidecars were changed by another program since, and are left so"
            self._made.remarks.append(kept_)
        what = [name for name in readme.WHAT if self._stands(name)]
        await self._text(readme.NAME, readme.readme(self._shoot, self._made, what), add)

    def _stands(self, name: str) -> bool:
        """Whether something of a line of `readme.WHAT` is there."""
        if name == "pictures/":
            return self._made.pictures > 0 and self._folder.renames
        if name == "previews/":
            return self._made.previews > 0
        if name == ".xmp":
            return self._made.sidecars + self._made.sidecars_kept > 0
        there = self._made.documents
        if name.endswith("/"):
            return any(each.startswith(name) for each in there)
        of_cameras = name.startswith("gains.") and any(each.startswith("gains-") for each in there)
        return name in there or of_cameras

    async def _tables(self, add: Callable[[str, str], None]) -> list[str]:
        """All gains of each camera, in two forms."""
        names = []
        for stem, gains in self._gains.tables():
            await self._text(f"{stem}.csv", gains_csv(self._shoot.id, gains.frames), add)
            await self._text(f"{stem}.json", gains.model_dump_json(indent=1) + "\n", add)
            names += [f"{stem}.csv", f"{stem}.json"]
        return names

    async def _report(self, films: list[ClipMade]) -> str:
        notes = await self._store.notes(self._shoot.id)
        integrity = kept(self._rig / verified_path(self._shoot.id))
        return page(*self._gather.drawn(notes, integrity, None, films))

    async def _film(self, film: ClipMade, add: Callable[[str, str], None]) -> str | None:
        """A film of the shoot that lies on the rig; its name. None where it cannot be copied, which is told."""
        path = Path(film.path).relative_to(shoot_directory(self._shoot.id))
        name = f"clips/{path.relative_to('clips') if path.parts[0] == 'clips' else path}"
        try:
            shutil.copyfile(self._rig / film.path, self._folder.part(name))
            add(await self._folder.put(name) or "", name)
        except (OSError, DuskhandError) as error:
            with suppress(OSError):
                self._folder.part(name).unlink(missing_ok=True)
            self._made.failed += 1
            why = error.what if isinstance(error, DuskhandError) else error.strerror or str(error)
            self._made.remarks.append(f"{name} is not here: {why}")
            return None
        return name

    async def _text(self, name: str, text: str, add: Callable[[str, str], None]) -> None:
        with writing(self._folder, name):
            self._folder.part(name).write_text(text, encoding="utf-8", newline="")
        add(await self._folder.put(name) or "", name)
