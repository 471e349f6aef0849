"""The frames of a film of months, and the shoot that it is named after."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from controller.results.series.choose import Rows, choose
from controller.results.series.wanted import Wanted
from controller.words.documents import Frame, Shoot


async def film_of(
    asked: Wanted | None,
    shoots: Sequence[Shoot],
    rows: Rows,
    directory: Path,
    camera: str | None,
    progress: Callable[[int, int], None],
) -> tuple[Shoot, list[Frame], list[str]]:
    """The oldest of `shoots`, the frames of all by time, and for people what is not among them.

    `progress(done, of)` counts rows of the log. Raises BadInput as `choose` does.
    """
    shoots = sorted(shoots, key=lambda shoot: shoot.created_utc)
    whole = sum(sum(shoot.counts.model_dump().values()) for shoot in shoots)
    choice = await choose(
        asked or Wanted(), shoots, rows, directory, camera, lambda done: progress(min(done, whole), whole)
    )
    light = {key: value for key, value in shoots[0].plan.get("light", {}).items() if key != "bracket_ev"}
    plain = shoots[0].model_copy(update={"plan": shoots[0].plan | {"light": light}})  # one of each bracket is chosen
    return plain, choice.frames, choice.remarks
