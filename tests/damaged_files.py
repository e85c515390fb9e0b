"""Small files with one fault each, as they reach a laboratory."""

from __future__ import annotations

import io
import re
import zipfile

import openpyxl

_SAVED_AT = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")
HEAD = "sample,time,point,property,value,unit,by"
ROWS = (
    "d1,2025-05-19T07:02+02:00,muller_discharge,compactability,42,%,M. Oduya",
    "d2,2025-05-19T08:04+02:00,muller_discharge,compactability,41,%,M. Oduya",
    "d3,2025-05-19T08:04+02:00,muller_discharge,moisture,3.42,%,M. Oduya",
    "d4,2025-05-19T09:01+02:00,muller_discharge,moisture,3.51,%,M. Oduya",
)


def damaged_files() -> dict[str, bytes]:
    """Name and content of each file: the name says what is wrong with it."""
    return {
        "ragged.csv": _lines(ROWS[0], ROWS[1] + ",one cell too many,", *ROWS[2:]),
        "code_page_1252.csv": _text(*ROWS[:3], ROWS[3].replace("M. Oduya", "Søren Bøgh")).encode("cp1252"),
        "two_decimal_marks.csv": _lines(*ROWS[:2], ROWS[2].replace("3.42", '"3,4.2"'), ROWS[3]),
        "future_date.csv": _lines(*ROWS[:3], ROWS[3].replace("2025", "2125")),
        "text_for_a_number.csv": _lines(ROWS[0].replace(",42,", ",wet,"), *ROWS[1:]),
        "missing_column.csv": _without_value_column(),
        "truncated.xlsx": _truncated(),
    }


def _text(*rows: str) -> str:
    return "\n".join((HEAD, *rows)) + "\n"


def _lines(*rows: str) -> bytes:
    return _text(*rows).encode()


def _without_value_column() -> bytes:
    kept = [[cell for place, cell in enumerate(row.split(",")) if place != 4] for row in (HEAD, *ROWS)]
    return ("\n".join(",".join(row) for row in kept) + "\n").encode()


def _truncated() -> bytes:
    """The first half of a workbook, as a broken copy leaves it."""
    book = openpyxl.Workbook()
    page = book.worksheets[0]
    for row in (HEAD, *ROWS):
        page.append(row.split(","))
    whole = saved(book)
    return whole[: len(whole) // 2]


def saved(book: openpyxl.Workbook) -> bytes:
    """The workbook as a file without the time of saving, so that the same cells give the same bytes."""
    content, stable = io.BytesIO(), io.BytesIO()
    book.save(content)
    with zipfile.ZipFile(content) as package, zipfile.ZipFile(stable, "w", zipfile.ZIP_DEFLATED) as again:
        for name in sorted(package.namelist(), key=lambda name: name != "[Content_Types].xml"):
            part = _SAVED_AT.sub(rb"\g<1>2025-04-25T21:00:00Z", package.read(name))
            again.writestr(zipfile.ZipInfo(name), part, zipfile.ZIP_DEFLATED)
    return stable.getvalue()
