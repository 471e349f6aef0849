"""How far a command has come, on standard error: a bar on a terminal, a line every tenth elsewhere."""

from __future__ import annotations

import shutil
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import TracebackType
from typing import TextIO

_REDRAW_S = 0.1


@contextmanager
def stopped_midway() -> Iterator[None]:
    """Around work that goes on where it was: Ctrl-C says so."""
    try:
        yield
    except KeyboardInterrupt:
        print("stopped; the same command goes on from there", file=sys.stderr)
        raise


class Progress:
    """Call `step(done, of)` as often as you like; used as a context, it leaves the terminal tidy."""

    def __init__(self, what: str, stream: TextIO | None = None) -> None:
        self.what = what
        self._stream = sys.stderr if stream is None else stream
        self._bar = self._stream.isatty()
        self._drawn_mono = 0.0
        self._began_mono = time.monotonic()
        self._tenth = 0

    def __enter__(self) -> Progress:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.clear()

    def step(self, done: int, of: int) -> None:
        """`done` of `of` parts are behind us."""
        if self._bar:
            now = time.monotonic()
            if done >= of or now - self._drawn_mono >= _REDRAW_S:
                self._drawn_mono = now
                self._show("\r\x1b[K" + self._line(done, of, now))
        elif (tenth := 10 * done // max(of, 1)) > self._tenth:
            self._tenth = tenth
            self._show(f"{self.what}: {10 * tenth} %\n")

    def clear(self) -> None:
        """Take the bar off the terminal, so that a line can be printed."""
        if self._bar:
            self._show("\r\x1b[K")

    def _show(self, text: str) -> None:
        """The work goes on where a full disk takes no word of it; who has stopped reading has stopped it."""
        try:
            self._stream.write(text)
            self._stream.flush()
        except BrokenPipeError:
            raise
        except OSError:
            pass

    def _line(self, done: int, of: int, now_mono: float) -> str:
        rate = done / max(now_mono - self._began_mono, 1e-6)
        left = f"{(of - done) / rate:.0f} s left" if done and done < of else ""
        tail = f" {100 * done // max(of, 1):3d} %  {done}/{of}  {rate:.0f}/s  {left}"
        room = shutil.get_terminal_size().columns - len(self.what) - len(tail) - 2
        if room < 4:
            return f"{self.what}{tail}"
        full = room * done // max(of, 1)
        return f"{self.what} {'█' * full}{'░' * (room - full)}{tail}"
