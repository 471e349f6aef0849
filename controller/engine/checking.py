"""A check of the rig: facts are gathered, looked at, and mended where that is wished."""

from __future__ import annotations

import asyncio
from dataclasses import replace
from pathlib import Path

from controller.camera.link import CameraLink
from controller.decide.checks import look, summed_up
from controller.decide.checks.facts import PlanFacts, RigFacts
from controller.engine.dials import Dials
from controller.engine.facts.cameras import camera_facts
from controller.engine.facts.machine import machine
from controller.words.bodies import BodySeen
from controller.words.checks import Checked, Mended
from controller.words.errors import DuskhandError
from controller.words.settings import Finding, Level


class Checking:
    """Looks at the cameras of `links` and at the machine under `directory`."""

    def __init__(self, links: list[CameraLink], dials: Dials, directory: Path, seen: list[BodySeen]) -> None:
        self._links, self._dials, self._directory, self._seen = links, dials, directory, seen

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
        cameras = [await camera_facts(link, self._dials, self._seen) for link in self._links]
        return replace(rig, cameras=tuple(cameras))

    async def _mend(self, finding: Finding) -> list[Mended]:
        done = []
        for setting, value in (finding.fix or {}).items():
            assert finding.camera is not None
            refusal = None
            try:
                await self._dials.set(finding.camera, setting, value)
            except DuskhandError as error:
                refusal = f"{error.what}. {error.remedy}"
            done.append(Mended(camera=finding.camera, setting=setting, value=value, refusal=refusal))
        return done
