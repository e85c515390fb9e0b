"""A drawn picture as cells: one character and one role each; and the mutable canvas it is drawn on."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sandlab.drawing.glyphs import ROLE_CODE, ROLES


class Cell(NamedTuple):
    """One character cell."""

    char: str
    role: str


class Run(NamedTuple):
    """Neighbouring cells of one role, as a screen writes them."""

    text: str
    role: str


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """A finished picture: `codes` (code points) and `roles` (positions in ROLES), both height x width."""

    codes: NDArray[np.uint32]
    roles: NDArray[np.uint8]

    @property
    def width(self) -> int:
        """Cells in a row."""
        return int(self.codes.shape[1])

    @property
    def height(self) -> int:
        """Rows."""
        return int(self.codes.shape[0])

    def lines(self) -> tuple[str, ...]:
        """The rows as plain text, all equally wide."""
        return tuple(row.astype("<u4").tobytes().decode("utf-32-le") for row in self.codes)

    def text(self) -> str:
        """The picture as plain text, blanks at the ends of rows removed."""
        return "\n".join(line.rstrip() for line in self.lines())

    def runs(self) -> tuple[tuple[Run, ...], ...]:
        """Each row cut where the role changes."""
        return tuple(_runs(line, codes) for line, codes in zip(self.lines(), self.roles, strict=True))

    def cells(self) -> tuple[tuple[Cell, ...], ...]:
        """Each row cell by cell."""
        return tuple(
            tuple(Cell(char, ROLES[code]) for char, code in zip(line, codes, strict=True))
            for line, codes in zip(self.lines(), self.roles.tolist(), strict=True)
        )


def _runs(line: str, codes: NDArray[np.uint8]) -> tuple[Run, ...]:
    edges = [0, *(np.flatnonzero(codes[1:] != codes[:-1]) + 1).tolist(), len(line)]
    return tuple(Run(line[a:b], ROLES[int(codes[a])]) for a, b in pairwise(edges) if b > a)


class Canvas:
    """Cells being drawn; whatever falls outside is cut off."""

    def __init__(self, width: int, height: int) -> None:
        self.codes: NDArray[np.uint32] = np.full((height, width), ord(" "), dtype=np.uint32)
        self.roles: NDArray[np.uint8] = np.zeros((height, width), dtype=np.uint8)

    def put(self, row: int, column: int, text: str, role: str) -> None:
        """Write text to the right from a cell."""
        height, width = self.codes.shape
        if not 0 <= row < height:
            return
        text = text[max(0, -column) : max(0, width - column)]
        column = max(0, column)
        self.codes[row, column : column + len(text)] = [ord(char) for char in text]
        self.roles[row, column : column + len(text)] = ROLE_CODE[role]

    def mark(self, rows: NDArray[np.int64], columns: NDArray[np.int64], char: str, role: str) -> None:
        """The same character in many cells, all of them inside."""
        self.codes[rows, columns] = ord(char)
        self.roles[rows, columns] = ROLE_CODE[role]

    def frame(self) -> Frame:
        """The finished picture."""
        return Frame(self.codes, self.roles)
