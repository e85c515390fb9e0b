"""Where the blocks of a report stand on pages of paper: lines broken, tables cut, pictures scaled."""

from __future__ import annotations

import re
from dataclasses import dataclass

import pydyf

from sandlab.reporting.pages import Block, Document, Heading, NewPage, Pictures, Table, Words
from sandlab.reporting.svg_print import BOLD, REGULAR, draw_svg, size_of
from sandlab.reporting.typeface import face

A4 = (595.28, 841.89)
MARGIN = 34.0
GAP = 8.0
CELL_GAP = 5.0
SIZE = 8.3
SMALLEST = 0.72
"""Letters may shrink to this share for a report that should fit its pages: 6 points."""
_BREAK = re.compile(r"(?<!\d) ")
_BLACK, _GREY = (0.07, 0.07, 0.07), (0.7, 0.7, 0.7)


@dataclass(slots=True, eq=False)
class Sheet:
    """One page being filled: what is drawn, and how far down."""

    stream: pydyf.Stream
    down: float


class Setter:
    """Sets a document at one size of letters."""

    def __init__(self, document: Document, share: float) -> None:
        self.document = document
        self.size = SIZE * share
        self.share = share
        self.letters: set[tuple[bool, str]] = set()
        self.pages: list[Sheet] = []
        self.width = A4[0] - 2 * MARGIN
        self._new_page()
        for block, following in zip(document.blocks, [*document.blocks[1:], None], strict=True):
            if isinstance(block, Heading):
                self.room(1.7 * self.line + self._least(following))
            self._set(block)
        self._feet()

    @property
    def page(self) -> Sheet:
        """The page being filled."""
        return self.pages[-1]

    @property
    def line(self) -> float:
        """Height of a line."""
        return self.size * 1.32

    def _new_page(self) -> None:
        self.pages.append(Sheet(pydyf.Stream(compress=True), A4[1] - MARGIN))
        size = self.size * (1.45 if len(self.pages) == 1 else 1.0)
        self.page.down -= size
        self.write(MARGIN, self.document.title, bold=True, size=size)
        self.write(A4[0] - MARGIN, self.document.subtitle, size=self.size, right=True)
        self.page.down -= 4
        self.rule(_BLACK, 1.0)

    def _feet(self) -> None:
        for number, sheet in enumerate(self.pages, start=1):
            sheet.down = MARGIN - self.size - 4
            self._write_on(sheet, MARGIN, self.document.foot, size=self.size * 0.85)
            page = f"{number} / {len(self.pages)}"
            self._write_on(sheet, A4[0] - MARGIN, page, size=self.size * 0.85, right=True)

    def room(self, height: float) -> None:
        """Begin a new page when so much does not fit any more."""
        if self.page.down - height < MARGIN:
            self._new_page()

    def write(
        self, x: float, text: str, *, bold: bool = False, size: float | None = None, right: bool = False
    ) -> None:
        """Set one line at the present height."""
        self._write_on(self.page, x, text, bold=bold, size=size or self.size, right=right)

    def _write_on(
        self, sheet: Sheet, x: float, text: str, *, bold: bool = False, size: float, right: bool = False
    ) -> None:
        set_in = face(bold=bold)
        start = x - set_in.width(text, size) if right else x
        stream = sheet.stream
        stream.begin_text()
        stream.set_color_rgb(*_BLACK)
        stream.set_font_size(BOLD if bold else REGULAR, size)
        stream.set_text_matrix(1, 0, 0, 1, start, sheet.down)
        stream.show_text(set_in.encoded(text))
        stream.end_text()
        self.letters |= {(bold, letter) for letter in text}

    def rule(self, colour: tuple[float, float, float], width: float) -> None:
        """A line across the page at the present height."""
        stream = self.page.stream
        stream.set_line_width(width)
        stream.set_dash([], 0)
        stream.set_color_rgb(*colour, stroke=True)
        stream.move_to(MARGIN, self.page.down)
        stream.line_to(A4[0] - MARGIN, self.page.down)
        stream.stroke()

    def _set(self, block: Block) -> None:
        if isinstance(block, NewPage):
            self._new_page()
        elif isinstance(block, Heading):
            self.page.down -= self.line * 1.5
            self.write(MARGIN, block.text, bold=True, size=self.size * 1.12)
            self.page.down -= self.line * 0.2
        elif isinstance(block, Words):
            for text in broken(block.text, self.width, self.size, bold=block.strong):
                self.room(self.line)
                self.page.down -= self.line
                self.write(MARGIN, text, bold=block.strong)
        elif isinstance(block, Pictures):
            self._pictures(block)
        else:
            self._table(block)

    def _least(self, block: Block | None) -> float:
        """What has to stand under a heading on the same page: a line, a table's first row, pictures."""
        if isinstance(block, Pictures):
            return self._sizes(block)[1] + 4
        if isinstance(block, Table):
            rows = (block.heads, *(row.cells for row in block.rows[:1]))
            return sum(self._height(block, cells) + self.line * 0.25 for cells in rows)
        return self.line

    def _sizes(self, block: Pictures) -> tuple[float, float]:
        """Width of one picture and height of the tallest."""
        width = (self.width - GAP * (block.across - 1)) / block.across * self.share**0.5
        return width, max(tall * width / wide for wide, tall in map(size_of, block.svgs))

    def _pictures(self, block: Pictures) -> None:
        width, height = self._sizes(block)
        self.room(height + 4)
        self.page.down -= 4
        for place, svg in enumerate(block.svgs):
            x = MARGIN + place * (width + GAP)
            self.letters |= draw_svg(self.page.stream, svg, x, self.page.down, width)
        self.page.down -= height

    def _table(self, table: Table) -> None:
        self._row(table, table.heads, bold=True)
        self.page.down -= self.line * 0.25
        self.rule(_BLACK, 0.7)
        for row in table.rows:
            self._row(table, row.cells, bold=row.strong)
            self.page.down -= self.line * 0.25
            self.rule(_GREY, 0.4)

    def _widths(self, table: Table) -> list[float]:
        return [self.width * one / sum(table.widths) for one in table.widths]

    def _cells(self, table: Table, cells: tuple[str, ...], *, bold: bool) -> list[list[str]]:
        """The lines of each cell; all but the last leave a gap to their neighbour."""
        rooms = [width - CELL_GAP for width in self._widths(table)]
        rooms[-1] += CELL_GAP
        return [broken(cell, room, self.size, bold=bold) for cell, room in zip(cells, rooms, strict=True)]

    def _height(self, table: Table, cells: tuple[str, ...]) -> float:
        return max(map(len, self._cells(table, cells, bold=True))) * self.line

    def _row(self, table: Table, cells: tuple[str, ...], *, bold: bool) -> None:
        lines = self._cells(table, cells, bold=bold)
        height = max(map(len, lines)) * self.line
        if self.page.down - height - self.line * 0.25 < MARGIN:
            self._new_page()
            if cells is not table.heads:
                self._row(table, table.heads, bold=True)
                self.page.down -= self.line * 0.25
                self.rule(_BLACK, 0.7)
        top = self.page.down
        left = MARGIN
        for place, (texts, width) in enumerate(zip(lines, self._widths(table), strict=True)):
            right = place in table.numbers
            for number, text in enumerate(texts, start=1):
                self.page.down = top - number * self.line
                self.write(left + width - CELL_GAP if right else left, text, bold=bold, right=right)
            left += width
        self.page.down = top - height


def broken(text: str, width: float, size: float, *, bold: bool) -> list[str]:
    """A text in lines that fit a width, broken between words; a word that is too long is cut.

    A number stays with what follows it: a unit never begins a line.
    """
    set_in = face(bold=bold)
    lines: list[str] = []
    for paragraph in text.split("\n"):
        line = ""
        for word in _BREAK.split(" ".join(paragraph.split())):
            joined = f"{line} {word}".strip()
            if set_in.width(joined, size) <= width:
                line = joined
                continue
            if line:
                lines.append(line)
            line = word
            while set_in.width(line, size) > width and len(line) > 1:
                fits = next(
                    n for n in range(len(line) - 1, 0, -1) if n == 1 or set_in.width(line[:n], size) <= width
                )
                lines.append(line[:fits])
                line = line[fits:]
        lines.append(line)
    return lines
