"""The frame log as a file, CSV or Parquet, written slot by slot and put in place when it is whole."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator

from controller.commands.out_file import in_place
from controller.store import csv_lines
from controller.words.documents import Frame
from controller.words.errors import BadInput

Write = Callable[[Frame], None]


@contextlib.contextmanager
def csv_file(name: str) -> Iterator[Write]:
    """A function that writes one slot; `name` - is standard output, whose trouble is its own
    (OSError). Raises DuskhandError('not-writable')."""
    if name == "-":
        sys.stdout.writelines(csv_lines([]))
        yield lambda frame: sys.stdout.writelines(csv_lines([frame], header=False))
        return
    with in_place(name, "--csv") as path, path.open("w", encoding="utf-8", newline="") as file:
        file.writelines(csv_lines([]))
        yield lambda frame: file.writelines(csv_lines([frame], header=False))


@contextlib.contextmanager
def parquet_file(name: str) -> Iterator[Write]:
    """The same as Parquet. Raises BadInput (no-parquet) too."""
    from controller.store.parquet import ParquetLog

    if name == "-":
        raise BadInput("not-writable", "Parquet goes to a file", "--parquet -", "Name one, or take --csv -")
    with in_place(name, "--parquet") as path:
        log = ParquetLog(path)
        try:
            yield log.add
        except BaseException:
            log.abandon()
            raise
        log.close()
