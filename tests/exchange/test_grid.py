"""Files as text, compared with independent readers: openpyxl for workbooks, the bytes themselves for text."""

from __future__ import annotations

import io
import zipfile
from datetime import datetime, time
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter
from openpyxl.utils import column_index_from_string, get_column_letter

from sandlab.errors import ImportRefused
from sandlab.exchange import read_grid
from sandlab.exchange.grid import column_index, letters


def as_text(cell: object) -> str:
    """A cell of openpyxl as the grid shows it."""
    if cell is None:
        return ""
    if isinstance(cell, datetime):
        return cell.strftime("%Y-%m-%d %H:%M:%S")
    if isinstance(cell, time):
        return f"1899-12-31 {cell:%H:%M:%S}"
    if isinstance(cell, float):
        return f"{cell:.9f}".rstrip("0").rstrip(".")
    return str(cell).strip()


def test_every_cell_equals_what_openpyxl_reads(messy_folder: Path) -> None:
    """Row and column numbers are those of the sheet although row 2 and column A are blank."""
    book = openpyxl.load_workbook(messy_folder / "messy.xlsx", data_only=True)
    sheets = read_grid(messy_folder / "messy.xlsx", None)
    assert [sheet.name for sheet in sheets] == book.sheetnames
    cells = 0
    for sheet in sheets:
        for row in book[sheet.name].iter_rows():
            for cell in row:
                assert sheet.text(cell.row, cell.column - 1) == as_text(cell.value), cell.coordinate
                cells += cell.value is not None
        assert sum(text != "" for cells_of_row in sheet.rows for text in cells_of_row) == sum(
            cell.value is not None for row in book[sheet.name].iter_rows() for cell in row
        )
    assert cells > 100


@pytest.mark.parametrize("index", [0, 1, 25, 26, 51, 52, 701, 702, 16383])
def test_column_letters_agree_with_openpyxl(index: int) -> None:
    """Letters and indexes, checked against openpyxl.utils."""
    assert letters(index) == get_column_letter(index + 1)
    assert column_index(letters(index)) == column_index_from_string(letters(index)) - 1 == index


def test_formula_errors_keep_their_text(tmp_path: Path) -> None:
    """A formula that failed is not a blank cell; the cached value of one that did not is read."""
    path = tmp_path / "errors.xlsx"
    book = xlsxwriter.Workbook(str(path))
    book.add_worksheet("first").write("A1", "x")
    sheet = book.add_worksheet("second")
    sheet.write("B2", 3.1)
    sheet.write_formula("C2", "=B2*2", None, 6.2)
    sheet.write_formula("D4", "=1/0", None, "#DIV/0!")
    book.close()
    (read,) = read_grid(path, "second")
    assert [read.text(2, column) for column in range(4)] == ["", "3.1", "6.2", ""]
    assert read.text(4, 3) == "#DIV/0!" == openpyxl.load_workbook(path, data_only=True)["second"]["D4"].value


def test_an_empty_sheet_has_no_rows(tmp_path: Path) -> None:
    """A workbook may hold sheets that nobody has used."""
    path = tmp_path / "empty.xlsx"
    book = xlsxwriter.Workbook(str(path))
    book.add_worksheet("nothing")
    book.close()
    assert read_grid(path, None)[0].rows == ()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_encodings_and_separators_are_found(tmp_path: Path, encoding: str, separator: str) -> None:
    """The same table in every encoding and with every separator, with a ragged line and a blank one."""
    rows = [["Date", "Temp. °C", "Note"], ["04.03.2026", "31", "größer, 5% µ"], [], ["05.03.2026"]]
    quoted = [separator.join(f'"{cell}"' if "," in cell else cell for cell in row) for row in rows]
    path = tmp_path / "table.csv"
    path.write_bytes("\r\n".join(quoted).encode(encoding))
    (sheet,) = read_grid(path, None)
    assert [list(row) for row in sheet.rows] == rows


def test_decimal_commas_do_not_pass_for_separators(tmp_path: Path) -> None:
    """Semicolons win even where there are more commas."""
    path = tmp_path / "table.csv"
    path.write_text("Day;H2O;GCS\n4;3,2;16,5\n5;3,3;16,1\n", encoding="utf-8")
    assert read_grid(path, None)[0].rows[1] == ("4", "3,2", "16,5")


def test_semicolons_in_a_few_remarks_are_no_separators(tmp_path: Path) -> None:
    """A separator stands in at least half of the lines."""
    path = tmp_path / "table.csv"
    path.write_text("Day,Note\n4,dry; hot\n5,\n6,wet; cold\n7,\n", encoding="utf-8")
    assert read_grid(path, None)[0].rows[1] == ("4", "dry; hot")


@pytest.mark.parametrize(
    ("name", "content", "what"),
    [
        ("gone.xlsx", None, "no such file"),
        ("empty.csv", b"", "the file is empty"),
        ("blank.xlsx", b" \n", "the file is empty"),
        ("old.xls", b"\xd0\xcf\x11\xe0", "files ending in '.xls' are not read"),
        ("locked.xlsx", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "old .xls workbook or one with a password"),
        ("noise.xlsx", b"PK\x03\x04 and then nothing", "the workbook is damaged"),
        ("table.xlsx", b"Date;H2O", "no workbook, whatever its ending says"),
        ("book.csv", b"PK\x03\x04\x14\x00", "a workbook, not a text file"),
        ("bytes.csv", b"a,b\n\x81\x8d\x00", "cannot be decoded"),
        ("quote.csv", b'a,b\n1,"open\n2,3\n', "breaks the table"),
    ],
)
def test_a_file_that_cannot_be_read_says_why(
    tmp_path: Path, name: str, content: bytes | None, what: str
) -> None:
    """Each message names the file, what is wrong and what to do."""
    if content is not None:
        (tmp_path / name).write_bytes(content)
    with pytest.raises(ImportRefused, match=what) as caught:
        read_grid(tmp_path / name, None)
    (problem,) = caught.value.problems
    assert problem.where == name
    assert problem.do


def test_a_cut_workbook_is_refused(tmp_path: Path, messy_folder: Path) -> None:
    """Half a download is not half an import."""
    content = (messy_folder / "messy.xlsx").read_bytes()
    (tmp_path / "cut.xlsx").write_bytes(content[: len(content) // 2])
    with pytest.raises(ImportRefused, match="damaged"):
        read_grid(tmp_path / "cut.xlsx", None)


def test_a_flipped_bit_is_refused(tmp_path: Path, messy_folder: Path) -> None:
    """A number that rotted on the disk is not imported as another one: checksums are compared."""
    packed = (messy_folder / "messy.xlsx").read_bytes()
    plain = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(packed)) as old, zipfile.ZipFile(plain, "w") as new:
        for name in old.namelist():
            new.writestr(name, old.read(name))
    content = plain.getvalue()
    assert content.count(b"<v>16.9</v>") + content.count(b"<v>16.5</v>") == 1
    (tmp_path / "rotten.xlsx").write_bytes(content.replace(b"<v>16.5</v>", b"<v>17.5</v>"))
    with pytest.raises(ImportRefused, match=r"checksum of xl/worksheets/sheet1\.xml is wrong"):
        read_grid(tmp_path / "rotten.xlsx", None)


def test_a_wrong_sheet_name_gets_the_nearest(messy_folder: Path) -> None:
    """A mistyped sheet is answered with the name that was meant."""
    with pytest.raises(ImportRefused, match="did you mean 'Sand 2026'"):
        read_grid(messy_folder / "messy.xlsx", "Sand 2025")
