"""A drawn picture as cells: one character and one role each; and the mutable canvas it is drawn on."""

from __future__ import annotations

from dataclasses import dataclass
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
    """A finished picture: `chars` and `roles` (positions in ROLES), both height x width."""

    chars: NDArray[np.str_]
    roles: NDArray[np.uint8]

    @property
    def width(self) -> int:
        """Cells in a row."""
        return int(self.chars.shape[1])

    @property
    def height(self) -> int:
        """Rows."""
        return int(self.chars.shape[0])

    def lines(self) -> tuple[str, ...]:
        """The rows as plain text, all equally wide."""
        return tuple("".join(row) for row in self.chars.tolist())

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
    return tuple(
        Run(line[a:b], ROLES[int(codes[a])]) for a, b in zip(edges, edges[1:], strict=False) if b > a
    )


class Canvas:
    """Cells being drawn; whatever falls outside is cut off."""

    def __init__(self, width: int, height: int) -> None:
        self.chars: NDArray[np.str_] = np.full((height, width), " ", dtype="<U1")
        self.roles: NDArray[np.uint8] = np.zeros((height, width), dtype=np.uint8)

    def put(self, row: int, column: int, text: str, role: str) -> None:
        """Write text to the right from a cell."""
        height, width = self.chars.shape
        if not 0 <= row < height:
            return
        text = text[max(0, -column) : max(0, width - column)]
        column = max(0, column)
        if text:
            self.chars[row, column : column + len(text)] = list(text)
            self.roles[row, column : column + len(text)] = ROLE_CODE[role]

    def frame(self) -> Frame:
        """The finished picture."""
        return Frame(self.chars, self.roles)
