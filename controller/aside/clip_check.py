"""Whether a film can be made as it is asked for, before anybody waits for it: by a process that loads what it takes."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

from controller.aside.clip import shown
from controller.results.clip.make import check_clip
from controller.results.clip.options import ClipOptions
from controller.results.series.asked import FramesAsked
from controller.results.series.wanted import HourBest, SameSun
from controller.words.documents import Document


class ClipFits(Document):
    """It can, as far as the log and the files' names tell."""

    pictures: int  # that it shows at most


def work_out(task: dict[str, Any]) -> ClipFits:
    """`task` is a ClipRecord's fields and `directory`. Raises NotFound, BadInput."""
    directory, options = Path(task["directory"]), ClipOptions.model_validate(task["options"])
    asked = FramesAsked.model_validate(task["asked"])
    best = None if (wanted := asked.wanted()) is None else wanted.series
    if asked.measured:  # which of them are shown takes a look at every picture
        asked = asked.model_copy(update={"skip": ()} | ({} if isinstance(best, SameSun) else {"series": None}))
    shoot, frames, _ = asyncio.run(shown(directory, task, asked, lambda done, of: None))
    pictures = check_clip(shoot, frames, directory, options).pictures
    if isinstance(best, HourBest):
        return ClipFits(pictures=len({picture.frame.due_utc // 3600 for picture in pictures}))
    return ClipFits(pictures=len(pictures))
