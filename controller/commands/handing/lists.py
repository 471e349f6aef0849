"""The lists of a hand-over, written row by row while pictures are copied: the log, what is missing, the checksums."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from typing import BinaryIO, TextIO

from controller.commands.handing.place import Folder, writing
from controller.results.handover import missing, sums
from controller.store.export import CsvLines
from controller.store.parquet import ParquetLog
from controller.words.documents import Frame
from controller.words.errors import BadInput

CSV, PARQUET = "frames.csv", "frames.parquet"
COLUMNS = ("folder_file", "folder_companion_file", "folder_preview")


class Lists:
    """`close` gives them their names; until then they are parts that the next run replaces."""

    def __init__(self, folder: Folder, remark: Callable[[str], None]) -> None:
        """Without the library for Parquet that one is left out, with a remark."""
        self._folder = folder
        self._log, self._missing = CsvLines(COLUMNS), missing.MissingLines()
        self._parquet: ParquetLog | None = None
        self._missed = False
        with writing(self._folder, CSV):
            self._csv_file: TextIO = folder.part(CSV).open("w", encoding="utf-8", newline="")
            self._missing_file: TextIO = folder.part(missing.NAME).open("w", encoding="utf-8", newline="")
            self._sums_file: BinaryIO = folder.part(sums.NAME).open("wb")
            self._csv_file.write(self._log.head())
            self._missing_file.write(self._missing.head())
            try:
                self._parquet = ParquetLog(folder.part(PARQUET), COLUMNS)
            except BadInput as error:
                remark(f"The log is here as CSV alone: {error}")

    def row(
        self, frame: Frame, file: str | None = None, companion: str | None = None, preview: str | None = None
    ) -> None:
        """One slot, with its names in the folder."""
        with writing(self._folder, CSV):
            self._csv_file.write(self._log.row(frame, file, companion, preview))
            if self._parquet is not None:
                self._parquet.add(frame, file, companion, preview)

    def missing(self, frame: Frame, file: str | None, why: str) -> None:
        """A file that is not in the folder, by the name that it would have there."""
        with writing(self._folder, missing.NAME):
            self._missing_file.write(self._missing.row(frame, file, why))
        self._missed = True

    def sum(self, sha256: str, name: str) -> None:
        with writing(self._folder, sums.NAME):
            self._sums_file.write(sums.line(sha256, name))

    async def close(self) -> list[str]:
        """All but the checksums, which follow when everything else is there; their names."""
        names = [CSV]
        with writing(self._folder, CSV):
            self._csv_file.close()
            self._missing_file.close()
            if self._parquet is not None:
                self._parquet.close()
                names.append(PARQUET)
        if self._missed:
            names.append(missing.NAME)
        else:
            self._folder.part(missing.NAME).unlink(missing_ok=True)
            await self._folder.drop(missing.NAME)
        for name in names:
            self.sum(await self._folder.put(name) or "", name)
        return names

    async def close_sums(self) -> None:
        with writing(self._folder, sums.NAME):
            self._sums_file.close()
        await self._folder.put(sums.NAME)

    def abandon(self) -> None:
        """Let go of all of them, unfinished."""
        for file in (self._csv_file, self._missing_file, self._sums_file):
            with suppress(OSError):
                file.close()
        if self._parquet is not None:
            self._parquet.abandon()
        for name in (CSV, PARQUET, missing.NAME, sums.NAME):
            with suppress(OSError):
                self._folder.part(name).unlink(missing_ok=True)
