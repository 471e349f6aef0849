"""The frame log as CSV (RFC 4180), columns in the order that every export has."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence

from controller.words.documents import EXPORT_COLUMNS, Frame


def csv_lines(frames: Iterable[Frame], *, header: bool = True) -> Iterator[str]:
    """Lines with their CRLF, the first with the names of the columns unless `header` is False."""
    lines = CsvLines()
    if header:
        yield lines.head()
    for frame in frames:
        yield lines.row(frame)


class CsvLines:
    """Lines one by one, where further columns of text stand at the end."""

    def __init__(self, more: Sequence[str] = ()) -> None:
        self._more = tuple(more)
        self._line = io.StringIO()
        self._writer = csv.writer(self._line)

    def head(self) -> str:
        return self._spelt((*EXPORT_COLUMNS, *self._more))

    def row(self, frame: Frame, *more: str | None) -> str:
        document = frame.model_dump(mode="json")
        return self._spelt((*(document[name] for name in EXPORT_COLUMNS), *more))

    def _spelt(self, cells: Iterable[object]) -> str:
        self._line.seek(0)
        self._line.truncate()
        self._writer.writerow(cells)
        return self._line.getvalue()
