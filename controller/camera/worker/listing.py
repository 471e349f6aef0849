"""The card's listing for the daemon, made in steps: thousands of files take seconds to look at on a small machine."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

from controller.camera.messages import CardFile, Files
from controller.camera.worker.session import Session

_STEP_S = 0.02
_SEND_S = 5e-5  # to put one file into the answer


class Listing:
    """Of the files that the library knows. `step` until it says that it is done, then `answer`.

    Files that are not told yet are left out: the daemon would give one to another slot before it hears whose it is.
    """

    def __init__(self, request: int, fresh: bool, is_told: Callable[[str], bool]) -> None:
        self._request, self._is_told = request, is_told
        self.fresh, self.asked_mono = fresh, time.monotonic()
        self._paths: Iterator[str] | None = None
        self._files: list[CardFile] = []
        self._done = False

    @property
    def cost_s(self) -> float:
        """Seconds that the next step takes."""
        return _SEND_S * len(self._files) + 0.002 if self._done else _STEP_S

    def step(self, session: Session) -> Files | None:
        """Look at some more files; the answer once all are looked at. Raises Fault."""
        if self._done:
            return Files(self._request, self._files)
        if self._paths is None:
            self._paths = iter([path for path in session.walk() if self._is_told(path)])
        ends = time.monotonic() + _STEP_S * 0.8
        while time.monotonic() < ends:
            path = next(self._paths, None)
            if path is None:
                self._done = True
                break
            info = session.info(path)
            self._files.append(CardFile(path, info.size, info.mtime_s))
        return None
