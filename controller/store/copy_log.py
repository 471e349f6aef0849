"""What the log has of copies in second places, as the engine sees it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Literal

from controller.store import copies as jobs
from controller.store import shoots
from controller.store.copies import PlaceCounts
from controller.store.database import Database
from controller.words.documents import Frame, Note

Where = Literal["rig", "card"]


class CopyLog:
    """Part of `Store`: what a writing call answers is on the disk when it answers; every call raises StoreError."""

    def __init__(self, database: Database) -> None:
        self._database = database

    async def set_places(self, places: Mapping[str, str]) -> None:
        """Have these places, name to where it is, and no others; whatever is fetched is to be copied to new ones."""
        await self._database.write(lambda c: jobs.set_places(c, places))

    async def waiting(self, place: str, limit: int) -> list[Frame]:
        """The oldest frames that are to be copied there, without those that cannot be."""
        return await self._database.read(lambda c: jobs.waiting(c, place, limit))

    async def waiting_count(self, place: str) -> int:
        return await self._database.read(lambda c: jobs.waiting_count(c, place))

    async def copied(self, frame: int, place: str, utc: float) -> None:
        """The copy is verified."""
        await self._database.write(lambda c: jobs.set_copy(c, frame, place, utc, None))

    async def stuck(self, frame: int, place: str, why: str) -> None:
        """The copy cannot be made, and the place is not to blame."""
        await self._database.write(lambda c: jobs.set_copy(c, frame, place, None, why))

    async def not_there(self, frame: int, place: str) -> None:
        """A copy that was verified is not there any more, or not whole: it waits again."""
        await self._database.write(lambda c: jobs.set_copy(c, frame, place, None, None))

    async def unstick(self) -> None:
        """Have what could not be copied tried once more."""
        await self._database.write(jobs.unstick)

    async def counts(self, place: str) -> PlaceCounts:
        """Goes through all of the place's rows."""
        return await self._database.read(lambda c: jobs.counts(c, place))

    async def freed(self) -> tuple[int, int]:
        """Frames whose files were deleted from the rig, and from a card."""
        return await self._database.read(jobs.freed)

    async def verified_in(self, frame: int) -> set[str]:
        """Places of now that have a verified copy, as far as the log knows."""
        return await self._database.read(lambda c: jobs.verified_in(c, frame))

    async def ruled_shoots(self) -> dict[str, dict[str, Any]]:
        """Shoots whose plans let anything be deleted: id -> the plan's table `files`."""
        return await self._database.read(jobs.ruled_shoots)

    async def fetched_frames(
        self, shoot: str, where: Where, *, before_utc: float, copies: int, after: int, limit: int
    ) -> list[Frame]:
        """Frames numbered above `after`, due before a moment, whose fetched files are still there; of those the ones
        that are in so many places as far as the log knows. By number."""
        given: dict[str, Any] = {"before_utc": before_utc, "copies": copies, "after": after, "limit": limit}
        return await self._database.read(lambda c: jobs.fetched_frames(c, shoot, on_card=where == "card", **given))

    async def newer_on_card(self, frame: Frame, at_most: int) -> int:
        """Frames of its camera after this one that are on the card, counted up to `at_most`."""
        return await self._database.read(lambda c: jobs.newer_on_card(c, frame, at_most))

    async def free(self, frames: Sequence[int], where: Where, note: Note) -> Note:
        """Keep that these frames' files go from there, with the note that says so, in one transaction."""

        def job(c: Any) -> Note:
            jobs.mark_freed(c, frames, where, note.utc)
            return shoots.note(c, note)

        return await self._database.write(job)

    async def not_freed(self, frame: int, where: Where) -> None:
        """The files are still there."""
        await self._database.write(lambda c: jobs.mark_freed(c, [frame], where, None))
