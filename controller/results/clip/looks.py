"""The first pass: how each picture lies, how light it is, what its Exif tells. Looked at once, and kept.

Histograms stay on disk, 3 kB each: memory does not grow with them.
"""

from __future__ import annotations

import contextlib
import math
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from controller.results.clip.exif import ExifExposure, true_exposure
from controller.results.clip.geometry import Shape
from controller.results.clip.pictures import Picture
from controller.results.clip.reader import Reader
from controller.results.clip.tone import Shares, histogram, log2_luminance
from controller.words.errors import DuskhandError

_EDGE = 200  # pixels that are enough to know how light a picture is
_TABLE = """
create table if not exists look_1 (
  number integer primary key, file text unique,
  width integer, height integer, orientation integer,
  level real, shutter_s real, aperture real, iso real, shares blob
)"""
_COLUMNS = "width, height, orientation, level, shutter_s, aperture, iso"
_INSERT = f"""
insert into look_1 (file, {_COLUMNS}, shares) values (?, ?, ?, ?, ?, ?, ?, ?, ?)
on conflict (file) do update set level = level returning number"""  # the same file twice is seen once
_FIND = f"select number, {_COLUMNS} from look_1 where file = ?"
_TOGETHER = 50  # looks that are written in one go


@dataclass(frozen=True, slots=True)
class Look:
    """A picture that can be shown."""

    picture: Picture
    shape: Shape
    told: ExifExposure | None
    level: float  # log2 of the mean linear luminance
    number: int  # of the row that holds its histogram

    @classmethod
    def unmeasured(cls, picture: Picture, shape: Shape) -> Look:
        """Of a picture that is shown as it is."""
        return cls(picture, shape, None, math.nan, 0)


Seen = tuple[Shape, ExifExposure | None, Shares]


def identity(picture: Picture) -> str:
    """A picture's file as it is now, and as it is read: a changed one is another. Raises OSError."""
    state = picture.path.stat()
    kind = picture.kind.value if picture.how is None else picture.how
    if picture.between is not None:
        kind = f"{kind} within {picture.between:.3f}"
    return f"{kind} {state.st_size} {state.st_mtime_ns} {picture.path}"


def look_at(reader: Reader, picture: Picture) -> Seen:
    """Raises Unreadable. Threads may share the reader."""
    own, small = reader.look(picture, _EDGE)
    return own, true_exposure(picture.path), histogram(np.asarray(small))


class Looks:
    """A context: looks in a file that a killed make leaves whole. Raises DuskhandError('clip-failed')."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._new = 0
        with self._told():
            self._rows = self._opened()

    def find(self, picture: Picture) -> Look | None:
        """What was seen of this very file before."""
        with self._told(), contextlib.suppress(OSError):
            row = self._rows.execute(_FIND, (identity(picture),)).fetchone()
            if row is not None:
                number, width, height, orientation, level, *told = row
                exposure = ExifExposure(*told) if any(value is not None for value in told) else None
                return Look(picture, Shape(width, height, orientation), exposure, level, number)
        return None

    def add(self, picture: Picture, seen: Seen) -> Look:
        """Raises OSError where the file has gone meanwhile."""
        own, told, shares = seen
        level = log2_luminance(shares)
        exposure = (told.written_s, told.written_aperture, told.written_iso) if told else (None, None, None)
        row = (identity(picture), own.width, own.height, own.orientation, level, *exposure, shares.tobytes())
        with self._told():
            done = self._rows.execute(_INSERT, row).fetchone()
            self._new += 1
            if self._new % _TOGETHER == 0:
                self._rows.commit()
        return Look(picture, own, told, level, done[0])

    def shares(self, look: Look) -> Shares:
        """Its histogram, (3, 256)."""
        with self._told():
            (content,) = self._rows.execute("select shares from look_1 where number = ?", (look.number,)).fetchone()
        return np.frombuffer(content, np.float32).reshape(3, 256)

    def keep(self) -> None:
        """What was added is on disk."""
        with self._told():
            self._rows.commit()

    def __enter__(self) -> Looks:
        return self

    def __exit__(self, *_: object) -> None:
        with contextlib.suppress(sqlite3.Error):
            self._rows.commit()
        self._rows.close()

    def _opened(self) -> sqlite3.Connection:
        rows = sqlite3.connect(self._path)
        try:
            rows.execute(_TABLE)
        except sqlite3.DatabaseError as error:
            rows.close()
            if isinstance(error, sqlite3.OperationalError):
                raise
            self._path.unlink()  # not a database any more: a disk's fault; all is looked at again
            rows = sqlite3.connect(self._path)
            rows.execute(_TABLE)
        return rows

    @contextlib.contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as error:
            remedy = "Free some space there, or choose another file with --out"
            raise DuskhandError("clip-failed", str(error), str(self._path), remedy) from error
