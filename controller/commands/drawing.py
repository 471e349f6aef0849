"""Lines drawn with characters: braille where the terminal has it, marks where it has not."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Self

BOLD, PLAIN = "\x1b[1m", "\x1b[0m"  # no colours: a terminal's theme decides what of them can be read
DASH = 3  # a dashed line is drawn three points on, three off, so that it is told from a full one without bold
_DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))  # of a braille character, by row and column
ASCII = str.maketrans({"°": "", "−": "-", "–": "-", "…": ".", "·": ".", "×": "x"})


@dataclass(frozen=True, slots=True)
class Style:
    """What a terminal can show."""

    braille: bool
    bold: bool

    @classmethod
    def of(cls, encoding: str | None, environment: Mapping[str, str], terminal: bool) -> Self:
        """From the encoding of the output, the environment (TERM, NO_COLOR) and whether it is a terminal at all.

        The Linux console has no braille in its font, and a dumb terminal promises nothing.
        """
        try:
            "⣿█−".encode(encoding or "ascii")
        except (UnicodeEncodeError, LookupError):
            return cls(False, False)
        term = environment.get("TERM", "")
        poor = terminal and term in ("", "dumb", "linux")
        return cls(not poor, terminal and not poor and "NO_COLOR" not in environment)

    @property
    def grain(self) -> tuple[int, int]:
        """Points across and down within a character."""
        return (2, 4) if self.braille else (1, 1)

    def text(self, line: str) -> str:
        """A line with nothing that the terminal cannot show."""
        return line if self.braille else line.translate(ASCII).encode("ascii", "replace").decode()


class Canvas:
    """`width` × `rows` characters between the values `bottom` and `top`; a line has `points` values."""

    def __init__(self, width: int, rows: int, bottom: float, top: float, style: Style) -> None:
        self.width, self.rows, self.style = width, rows, style
        self.bottom, self.top = bottom, top
        self.points = width * style.grain[0]
        self._cells = [[0] * width for _ in range(rows)]
        self._marks = [[" "] * width for _ in range(rows)]
        self._tints = [[""] * width for _ in range(rows)]

    def level(self, value: float) -> int:
        """The row of characters in which a value lies."""
        return self._row(value) // self.style.grain[1]

    def _row(self, value: float) -> int:
        down = self.rows * self.style.grain[1]
        return max(0, min(down - 1, int((self.top - value) / (self.top - self.bottom) * down)))

    def line(self, values: Sequence[float | None], mark: str, tint: str = "", *, dashed: bool = False) -> None:
        """A line through `values`, one a point; broken where there is none. Later lines lie over earlier ones."""
        across, down = self.style.grain
        dash = DASH if self.style.braille else 1
        before: int | None = None
        for k, value in enumerate(values):
            if value is None:
                before = None
                continue
            here = self._row(value)
            start = here if before is None else before
            if not dashed or k // dash % 2 == 0:
                for y in range(min(start, here) + (start < here), max(start, here) + 1 - (start > here)) or (here,):
                    self._cells[y // down][k // across] |= _DOTS[y % down][k % across] if self.style.braille else 1
                    self._marks[y // down][k // across] = mark
                    self._tints[y // down][k // across] = tint
            before = here

    def lines(self, label: Callable[[int], str], level: int | None = None, columns: int = 4) -> list[str]:
        """The drawing, each row behind its label; the row `level` is ruled where nothing is drawn."""
        return [
            (
                self.style.text(f"{label(y):>{columns}} ")
                + "".join(self._cell(y, x, y == level) for x in range(self.width))
            ).rstrip()
            for y in range(self.rows)
        ]

    def _cell(self, y: int, x: int, ruled: bool) -> str:
        if not self._cells[y][x]:
            return ("─" if self.style.braille else "-") if ruled else " "
        drawn = chr(0x2800 + self._cells[y][x]) if self.style.braille else self._marks[y][x]
        tint = self._tints[y][x]
        return f"{tint}{drawn}{PLAIN}" if self.style.bold and tint else drawn


def hours(
    start: float, end: float, clock: Callable[[float], tuple[int, int]], width: int, every: int | None = None
) -> str:
    """A scale of full hours of the clock, each under its place; by default as many as there is room for."""
    if every is None:
        fit = (end - start) / 3600 / max(1, width // 5)
        every = next((n for n in (1, 2, 3, 4, 6, 12) if n >= fit), 24)
    line = [" "] * (width + 2)
    for k in range(int((end - start) / 60)):
        utc = start + 60.0 * k
        hour, minute = clock(utc)
        x = int((utc - start) / (end - start) * width)
        if minute == 0 and hour % every == 0 and x + 2 <= width:
            line[x : x + 2] = f"{hour:02}"
    return "".join(line).rstrip()
