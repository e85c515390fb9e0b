"""How a report is set on paper: what belongs together stays together, and heads stay whole."""

from __future__ import annotations

import io

import pypdf
import pytest

from sandlab.drawing import STATES
from sandlab.lab.report_pages import _HEADS, _RESULT_WIDTHS
from sandlab.reporting.pages import Block, Document, Heading, Pictures, Row, Table, Words
from sandlab.reporting.pdf import pdf_bytes
from sandlab.reporting.setting import A4, CELL_GAP, MARGIN, SIZE, broken
from sandlab.reporting.typeface import face

PICTURE = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 480 200"><text x="9" y="99">Body</text></svg>'


def pages(*blocks: Block) -> list[str]:
    """The text of each page, read with pypdf."""
    content, count = pdf_bytes(Document("Title", "name", "foot", blocks))
    found = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(content)).pages]
    assert len(found) == count
    return found


@pytest.mark.parametrize("lines", range(54, 69))
@pytest.mark.parametrize(
    "block",
    [
        Pictures((PICTURE,), across=2),
        Table(("Head",), (Row(("Body\nsecond\nthird",)), Row(("More",))), (1,)),
        Words("Body"),
    ],
)
def test_a_heading_never_stands_alone_at_the_foot_of_a_page(block: Block, lines: int) -> None:
    """It goes to the next page with the first of what it heads; pictures and table rows are never cut."""
    filler = [Words(f"line {number}") for number in range(lines)]
    found = pages(*filler, Heading("Heading"), block, Words("After"))
    place = next(number for number, text in enumerate(found) if "Heading" in text)
    assert "Body" in found[place] and ("third" in found[place] or not isinstance(block, Table))


def test_a_unit_never_begins_a_line() -> None:
    """Wherever the line has to end."""
    text = "Return-sand temperature: 27 C is below the lower control limit 27.1 C (2 to 24 Nov 18:06)"
    for width in range(40, 300):
        lines = broken(text, float(width), SIZE, bold=False)
        assert " ".join(" ".join(lines).split()).replace(" ", "") == text.replace(" ", "")
        if width > 90:
            assert not any(line.startswith(("C ", "Nov", "to ")) for line in lines)


def test_heads_and_states_of_the_results_stay_whole() -> None:
    """At the full size of letters each head fits its column, and so does a usual state."""
    scale = (A4[0] - 2 * MARGIN) / sum(_RESULT_WIDTHS)
    bold = face(bold=True)
    for head, share in zip(_HEADS[:-1], _RESULT_WIDTHS[:-1], strict=True):
        assert bold.width(head, SIZE) <= share * scale - CELL_GAP, head
    outside = STATES["outside_tolerance"]
    assert bold.width(f"{outside.full} {outside.word}", SIZE) <= _RESULT_WIDTHS[-1] * scale
