"""Where the blocks of a report stand on pages of paper: lines broken, tables cut, pictures scaled."""

from __future__ import annotations

from dataclasses import dataclass

import pydyf

from sandlab.reporting.pages import Block, Document, Heading, NewPage, Pictures, Table, Words
from sandlab.reporting.svg_print import BOLD, REGULAR, draw_svg, size_of
from sandlab.reporting.typeface import face

A4 = (595.28, 841.89)
MARGIN = 34.0
GAP = 8.0
SIZE = 8.3
SMALLEST = 0.72
"""Letters may shrink to this share for a report that should fit its pages: 6 points."""
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
        for block in document.blocks:
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
            self.room(4 * self.line)
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

    def _pictures(self, block: Pictures) -> None:
        width = (self.width - GAP * (block.across - 1)) / block.across
        scales = [size_of(svg) for svg in block.svgs]
        height = max(tall * width / wide for wide, tall in scales) * self.share**0.5
        width *= self.share**0.5
        self.room(height + 4)
        self.page.down -= 4
        for place, svg in enumerate(block.svgs):
            x = MARGIN + place * (width + GAP)
            self.letters |= draw_svg(self.page.stream, svg, x, self.page.down, width)
        self.page.down -= height

    def _table(self, table: Table) -> None:
        total = sum(table.widths)
        widths = [self.width * one / total for one in table.widths]
        self._row(table, widths, table.heads, bold=True)
        self.page.down -= self.line * 0.25
        self.rule(_BLACK, 0.7)
        for row in table.rows:
            self._row(table, widths, row.cells, bold=row.strong)
            self.page.down -= self.line * 0.25
            self.rule(_GREY, 0.4)

    def _row(self, table: Table, widths: list[float], cells: tuple[str, ...], *, bold: bool) -> None:
        lines = [
            broken(cell, width - 5, self.size, bold=bold) for cell, width in zip(cells, widths, strict=True)
        ]
        height = max(len(one) for one in lines) * self.line
        if self.page.down - height - self.line * 0.25 < MARGIN:
            self._new_page()
            if cells is not table.heads:
                self._row(table, widths, table.heads, bold=True)
                self.page.down -= self.line * 0.25
                self.rule(_BLACK, 0.7)
        top = self.page.down
        left = MARGIN
        for place, (texts, width) in enumerate(zip(lines, widths, strict=True)):
            right = place in table.numbers
            for number, text in enumerate(texts, start=1):
                self.page.down = top - number * self.line
                self.write(left + width - 5 if right else left, text, bold=bold, right=right)
            left += width
        self.page.down = top - height


def broken(text: str, width: float, size: float, *, bold: bool) -> list[str]:
    """A text in lines that fit a width, broken between words; a word that is too long is cut."""
    set_in = face(bold=bold)
    lines: list[str] = []
    for paragraph in text.split("\n"):
        line = ""
        for word in paragraph.split():
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
