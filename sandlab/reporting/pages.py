"""A report as blocks to be set on paper or on a page of a browser: headings, words, tables, pictures."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Heading:
    """The name of what follows."""

    text: str


@dataclass(frozen=True, slots=True)
class Words:
    """A paragraph; `strong` where it has to be seen first."""

    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table; `strong` for one that wants the eye."""

    cells: tuple[str, ...]
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under heads; `numbers` are the columns set to the right, `widths` their shares of the page."""

    heads: tuple[str, ...]
    rows: tuple[Row, ...]
    widths: tuple[float, ...]
    numbers: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Pictures:
    """SVG pictures side by side, each as wide as if there were `across` of them."""

    svgs: tuple[str, ...]
    across: int


@dataclass(frozen=True, slots=True)
class NewPage:
    """What follows begins on a new page."""


Block = Heading | Words | Table | Pictures | NewPage


@dataclass(frozen=True, slots=True)
class Document:
    """A report: title, the line beside it, the line at the foot of each page, and its blocks.

    `most_pages` is how many pages it should fit on; the letters get smaller for it, down to a readable size.
    """

    title: str
    subtitle: str
    foot: str
    blocks: tuple[Block, ...]
    most_pages: int | None = None
