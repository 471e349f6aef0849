"""The plans kept on a rig, and what its plans leave to it."""

from __future__ import annotations

from typing import Any, Protocol

from pydantic import ValidationError

from controller.decide.plan import Plan, plan_from
from controller.decide.plan.one_table import read_table
from controller.decide.plan.tables import Site
from controller.store import Store
from controller.words.clock import Clock
from controller.words.documents import PlanVersion
from controller.words.errors import BadInput

DEFAULT_TABLES = ("site", "files", "clip", "optics", "view", "power")
"""Tables of a plan that may stand among the rig's defaults: they tell of the rig and its place, not of a night."""

Document = dict[str, Any]


class _Rig(Protocol):
    store: Store
    clock: Clock


class Shelf:
    """Plans by name. A table that a plan leaves out is taken from the rig's defaults, and kept with the plan."""

    def __init__(self, rig: _Rig) -> None:
        self._rig = rig
        self.site: Site | None = None  # where the rig stands, by its defaults

    async def open(self) -> None:
        """Look where the rig stands."""
        self.site = site_in(await self._rig.store.defaults())

    async def read(self, document: Document) -> Plan:
        """A plan from a document, the rig's defaults filled in. Raises BadInput."""
        return plan_from({**await self._rig.store.defaults(), **document})

    async def chosen(self, plan: str | Document) -> Plan:
        """A plan kept here by its name, or the one in a document. Raises BadInput, NotFound."""
        return plan_from(await self._rig.store.get_plan(plan)) if isinstance(plan, str) else await self.read(plan)

    async def put(self, name: str, document: Document, expected: str | None = None) -> Document:
        """Keep a plan under its name; the plan as it is kept.

        Raises BadInput, and Changed where `expected` is not the hash of the version that it replaces.
        """
        plan = await self.read({**document, "name": document.get("name", name)})
        if plan.name != name:
            raise BadInput("bad-plan", f"the plan calls itself {plan.name!r}", where="name", remedy=f"Name it {name!r}")
        await self._rig.store.put_plan(name, plan.document(), self._rig.clock.utc(), expected)
        return plan.document()

    async def keep_new(self, plan: Plan) -> None:
        """Keep a plan unless there is one of its name."""
        if plan.name not in await self._rig.store.plans():
            await self._rig.store.put_plan(plan.name, plan.document(), self._rig.clock.utc())

    async def get(self, name: str) -> Document:
        """Raises NotFound."""
        return await self._rig.store.get_plan(name)

    async def all(self) -> dict[str, Document]:
        """Every plan, by name."""
        return await self._rig.store.plans()

    async def delete(self, name: str, expected: str | None = None) -> None:
        """Raises NotFound, and Changed where `expected` is not the hash of the version that is there."""
        await self._rig.store.delete_plan(name, expected)

    async def copy(self, name: str, new: str) -> Document:
        """The copy. Raises BadInput for a name that is none, NotFound, Conflict where it is taken."""
        await self._named(name, new)
        return await self._rig.store.copy_plan(name, new, self._rig.clock.utc())

    async def rename(self, name: str, new: str) -> Document:
        """The plan under its new name. Raises BadInput for a name that is none, NotFound, Conflict."""
        await self._named(name, new)
        return await self._rig.store.rename_plan(name, new, self._rig.clock.utc())

    async def _named(self, name: str, new: str) -> None:
        plan_from({**await self._rig.store.get_plan(name), "name": new})

    async def versions(self, name: str) -> list[PlanVersion]:
        """Newest first. Raises NotFound."""
        return await self._rig.store.plan_versions(name)

    async def version(self, name: str, sha256: str) -> Document:
        """The plan as it was. Raises NotFound."""
        return await self._rig.store.plan_version(name, sha256)

    async def defaults(self) -> Document:
        """What plans leave to the rig."""
        return await self._rig.store.defaults()

    async def put_defaults(self, document: Document) -> Document:
        """Keep whole tables for the plans that leave them out; the defaults as they are kept. Raises BadInput."""
        kept: Document = {}
        for table, keys in document.items():
            if table not in DEFAULT_TABLES:
                known = ", ".join(DEFAULT_TABLES)
                raise BadInput("bad-defaults", f"{table[:60]!r} is no table of the defaults", "body", f"Use {known}")
            read = read_table(table, keys)
            kept[table] = read.model_dump(mode="json", by_alias=True, exclude_none=True)
        await self._rig.store.put_defaults(kept)
        self.site = site_in(kept)
        return kept


def site_in(document: Document) -> Site | None:
    """The site of a plan or of the rig's defaults; None without one, or where another version wrote it."""
    try:
        return Site.model_validate(document.get("site"))
    except ValidationError:
        return None
