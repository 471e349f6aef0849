"""The frame log as CSV (RFC 4180), columns in the order that every export has."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator

from controller.words.documents import EXPORT_COLUMNS, Frame


def csv_lines(frames: Iterable[Frame], *, header: bool = True) -> Iterator[str]:
    """Lines with their CRLF, the first with the names of the columns unless `header` is False."""
    line = io.StringIO()
    writer = csv.writer(line)
    if header:
        writer.writerow(EXPORT_COLUMNS)
        yield line.getvalue()
    for frame in frames:
        line.seek(0)
        line.truncate()
        document = frame.model_dump(mode="json")
        writer.writerow(document[name] for name in EXPORT_COLUMNS)
        yield line.getvalue()
