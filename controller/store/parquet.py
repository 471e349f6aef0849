"""The frame log as Parquet: the columns of every export, typed, written a group of rows at a time.

Memory is that of one group, whatever the number of frames: frames are turned into columns a few at a time, which take a
tenth of their room. The library is loaded where a file is begun, and nowhere else.
"""

from __future__ import annotations

import contextlib
import typing
from collections.abc import Iterable, Sequence
from enum import Enum
from operator import attrgetter
from pathlib import Path
from typing import TYPE_CHECKING, Any

from controller.words.documents import EXPORT_COLUMNS, Frame
from controller.words.errors import BadInput

if TYPE_CHECKING:
    import pyarrow

GROUP = 1 << 15
"""Rows of one group: some MB in memory, and few enough that a reader may skip most of a long log."""

_AT_ONCE = 1 << 10
"""Frames that are held as they are."""

_OFTEN = frozenset({"shoot", "camera"})
"""Texts of which a log has few: written once each and numbered, as states are."""


class ParquetLog:
    """A file that takes frames page by page; whole once it is closed. Further columns of text may stand at the end.

    Raises BadInput (no-parquet) where the library is not installed, OSError where the disk takes nothing.
    """

    def __init__(self, path: Path, more: Sequence[str] = ()) -> None:
        arrow, parquet = _library()
        self._arrow = arrow
        self._schema = schema(more)
        self._more = len(more)
        self._rows: list[tuple[Frame, tuple[str | None, ...]]] = []
        self._batches: list[Any] = []
        self._file = path.open("wb")
        try:
            self._writer = parquet.ParquetWriter(self._file, self._schema, compression="zstd")
        except BaseException:
            self._file.close()
            raise

    def add(self, frame: Frame, *more: str | None) -> None:
        """One row; `more` are its further texts."""
        if len(more) != self._more:
            raise TypeError(f"{len(more)} further texts instead of {self._more}")
        self._rows.append((frame, more))
        if len(self._rows) >= min(_AT_ONCE, GROUP):
            self._turn()

    def extend(self, frames: Iterable[Frame]) -> None:
        """Rows without further texts."""
        for frame in frames:
            self.add(frame)

    def close(self) -> None:
        """The last group and the foot, without which no reader takes the file."""
        try:
            self._turn()
            self._flush()
            self._writer.close()
        finally:
            self._file.close()

    def abandon(self) -> None:
        """Let go of a file that will not be whole."""
        self._rows.clear()
        with contextlib.suppress(OSError, ValueError):  # the disk that took nothing before takes no foot either
            self._writer.close()
        self._file.close()

    def _turn(self) -> None:
        """Frames into columns."""
        frames = [frame for frame, _ in self._rows]
        columns = [
            self._arrow.array(_cells(name, frames), field.type)
            for name, field in zip(EXPORT_COLUMNS, self._schema, strict=False)
        ]
        for place in range(self._more):
            field = self._schema.field(len(EXPORT_COLUMNS) + place)
            columns.append(self._arrow.array([more[place] for _, more in self._rows], field.type))
        self._batches.append(self._arrow.record_batch(columns, schema=self._schema))
        self._rows.clear()
        if sum(map(len, self._batches)) >= GROUP:
            self._flush()

    def _flush(self) -> None:
        """One group to the disk."""
        table = self._arrow.Table.from_batches(self._batches, self._schema)
        if len(table) > 0:
            self._writer.write_table(table, row_group_size=GROUP)
        self._batches.clear()


def schema(more: Sequence[str] = ()) -> pyarrow.Schema:
    """Times in UTC to the microsecond, figures as they are in memory, states and names numbered. Raises BadInput."""
    arrow, _ = _library()
    fields = [arrow.field(name, _type(arrow, name), nullable=not _needed(name)) for name in EXPORT_COLUMNS]
    return arrow.schema([*fields, *(arrow.field(name, arrow.string()) for name in more)])


def _library() -> tuple[Any, Any]:
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError as error:
        remedy = "`.venv/bin/pip install '.[parquet]'` in Duskhand's directory, or take the log as CSV"
        raise BadInput("no-parquet", "Parquet needs pyarrow, which is not installed", "", remedy) from error
    return pyarrow, pyarrow.parquet


def _type(arrow: Any, name: str) -> Any:
    """By the field's own type, so that a new column needs no line here."""
    kinds = _kinds(name)
    if name.endswith("_utc"):
        return arrow.timestamp("us", tz="UTC")
    if name in _OFTEN or any(issubclass(kind, Enum) for kind in kinds):
        return arrow.dictionary(arrow.int32(), arrow.string())
    return {float: arrow.float64(), int: arrow.int64(), str: arrow.string(), bool: arrow.bool_()}[kinds[0]]


def _kinds(name: str) -> list[type]:
    annotation = Frame.model_fields[name].annotation
    return [kind for kind in typing.get_args(annotation) or (annotation,) if kind is not type(None)]


def _needed(name: str) -> bool:
    return Frame.model_fields[name].default is not None


def _cells(name: str, frames: Sequence[Frame]) -> list[Any]:
    values = map(attrgetter(name), frames)
    if name.endswith("_utc"):
        return [None if value is None else round(value * 1e6) for value in values]
    return list(values)
