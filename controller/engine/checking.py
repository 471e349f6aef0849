"""A check of the rig: facts are gathered, looked at, and mended where that is wished."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

from controller.camera.link import CameraLink
from controller.decide.checks import look, summed_up
from controller.decide.checks.facts import PlanFacts, RigFacts
from controller.engine.dials import Dials
from controller.engine.facts.cameras import camera_facts
from controller.engine.facts.machine import machine
from controller.wiring.document import wiring_in
from controller.words.bodies import BodySeen
from controller.words.checks import Checked, Mended
from controller.words.documents import PlaceNow
from controller.words.errors import BadInput, DuskhandError
from controller.words.phrases import with_remedy
from controller.words.settings import Finding, Level


class Checking:
    """Looks at the cameras of `links` and at the machine under `directory`."""

    def __init__(
        self,
        links: list[CameraLink],
        dials: Dials,
        directory: Path,
        seen: list[BodySeen],
        troubles: Iterable[str] = (),
        places: Iterable[PlaceNow] = (),
        places_trouble: str | None = None,
    ) -> None:
        """`troubles` is what does not work of the wiring, where a service drives it; `places` are its second places."""
        self._places: dict[str, Any] = {"places": tuple(places), "places_trouble": places_trouble}
        self._links, self._dials, self._directory, self._seen = links, dials, directory, seen
        self._troubles = tuple(troubles)

    async def check(self, plan: PlanFacts | None, *, fix: bool = False) -> Checked:
        """Every finding; with `fix` what can be set is set, and all is looked at again."""
        found = look(await self._facts(), plan)
        mended = [done for finding in found for done in await self._mend(finding)] if fix else []
        if mended:
            found = look(await self._facts(), plan)
        return Checked(
            plan=None if plan is None else plan.name,
            ready=all(finding.level is not Level.FAIL for finding in found),
            summary=summed_up(found, plan),
            findings=found,
            mended=mended,
        )

    async def _facts(self) -> RigFacts:
        rig = await asyncio.to_thread(machine, self._directory)
        cameras = [await camera_facts(link, self._dials, self._seen, rig.synchronised) for link in self._links]
        return replace(rig, cameras=tuple(cameras), **self._wiring(), **self._places)

    def _wiring(self) -> dict[str, Any]:
        """What hangs on the rig's pins, as its document has it now."""
        try:
            wiring = wiring_in(self._directory)
        except BadInput as error:
            return {"wired": True, "wiring_refusal": str(error)}
        return {
            "wired": wiring.wants_pins,
            "motion_s": wiring.moves_s,
            "has_trigger": wiring.trigger is not None,
            "contacts_of": wiring.wired_release and wiring.wired_release.camera,
            "wiring_troubles": self._troubles,
        }

    async def _mend(self, finding: Finding) -> list[Mended]:
        done = []
        for setting, value in (finding.fix or {}).items():
            assert finding.camera is not None
            refusal = None
            try:
                await self._dials.set(finding.camera, setting, value)
            except DuskhandError as error:
                refusal = with_remedy(error.what, error.remedy)
            done.append(Mended(camera=finding.camera, setting=setting, value=value, refusal=refusal))
        return done
