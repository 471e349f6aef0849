"""The report of a shoot, for a phone: of a log of a million frames too, without the daemon feeling it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import Field

from controller.aside.process import Aside
from controller.results.report.documents import Report
from controller.store import Store
from controller.store.files import database_path
from controller.words.documents import Document, Frame, Shoot
from controller.words.errors import BadInput
from controller.words.layout import verified_path

if TYPE_CHECKING:
    from controller.results.report.gather import Gatherer

REPORT_S = 900.0
"""Wall seconds that a report may take: a million frames on a small machine."""

PAGE = 500


class ReportPage(Document):
    """The report as a page that stands alone."""

    html: str = Field(description="UTF-8, HTML")


async def report_aside(aside: Aside, directory: Path, shoot: str, camera: str | None) -> Report:
    """Raises NotFound, BadInput, and as `Aside.answer`."""
    return Report.model_validate(await _answer(aside, directory=str(directory), shoot=shoot, camera=camera))


async def report_page_aside(
    aside: Aside, directory: Path, shoot: str, camera: str | None, theme: str | None, home: str | None
) -> str:
    """The same as a page, see `page`."""
    look = {"theme": theme, "home": home}
    came = await _answer(aside, directory=str(directory), shoot=shoot, camera=camera, page=look)
    return str(came["html"])


async def _answer(aside: Aside, **task: Any) -> dict[str, Any]:
    try:
        return await aside.answer(**task)
    except BadInput as error:
        if error.code != "too-long":
            raise
        remedy = "Let `duskhand report` make it on the rig, which takes the time that it needs"
        raise BadInput("too-long", error.what, task["shoot"], remedy) from error


async def gathered(store: Store, shoot: Shoot, also: Callable[[Frame], None] = lambda frame: None) -> Gatherer:
    """All slots of a shoot, a page at a time; `also` gets each of them too."""
    from controller.results.report.gather import Gatherer  # not in the daemon, which needs none of it

    gather, after = Gatherer(shoot), 0
    while page := await store.frames(shoot.id, after=after, limit=PAGE):
        for frame in page:
            gather(frame)
            also(frame)
        after = page[-1].seq
    return gather


def work_out(task: dict[str, Any]) -> Report | ReportPage:
    """In the process of its own, which alone loads what it needs for that. Raises NotFound, BadInput, StoreError."""
    return asyncio.run(_told(Path(task["directory"]), task["shoot"], task["camera"], task.get("page")))


async def _told(directory: Path, name: str, camera: str | None, wanted: dict[str, Any] | None) -> Report | ReportPage:
    from controller.results.report.clips import clips
    from controller.results.report.integrity import kept

    async with await Store.open(database_path(directory), read_only=True) as store:
        shoot = await store.shoot(name)
        gather, notes = await gathered(store, shoot), await store.notes(shoot.id)
    integrity = kept(directory / verified_path(shoot.id))
    made = clips(directory, shoot.id)
    if wanted is None:
        return gather.report(notes, integrity, camera, made)
    from controller.results.report.page import page

    return ReportPage(html=page(*gather.drawn(notes, integrity, camera, made), **wanted))
