"""An export read back as the records it was written from, from CSV, Parquet or a workbook."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar, get_origin

import fastexcel
import polars as pl
from pydantic import ValidationError

from sandlab.errors import ImportRefused, Problem
from sandlab.records import Amendment, AnyRecord, Reading, Record, Result, Sample
from sandlab.reporting.columns import TYPES
from sandlab.reporting.shaping import MAPPINGS, mapping_of
from sandlab.reporting.tables import ABOUT, COLUMNS, WRITTEN_BY
from sandlab.reporting.workbook import HEADS

R = TypeVar("R", bound=Record)
Frames = dict[str, pl.DataFrame]
Key = tuple[str, str, int]
_UNREADABLE = (pl.exceptions.PolarsError, fastexcel.FastExcelError)


BELONG_TOGETHER = ("samples", "results", "readings", "amendments", "specs")
"""Samples are whole with all of these; fewer would be taken for samples that were never measured."""


@dataclass(frozen=True, slots=True)
class TakenBack:
    """The records of an export, table by table in the order of its rows, and the spec texts they name."""

    records: tuple[AnyRecord, ...]
    specs_texts: dict[str, str]
    units: dict[str, str]
    """The units in which the values of each property stand."""


def is_export(place: Path) -> bool:
    """Whether a folder or workbook says of itself that it is an export."""
    if place.is_dir():
        return (place / ABOUT).is_file() and (place / COLUMNS).is_file()
    if place.suffix != ".xlsx" or not place.is_file():
        return False
    try:
        book = fastexcel.read_excel(place.read_bytes())
        if not {"about", "columns"} <= set(book.sheet_names):
            return False
        about = book.load_sheet("about", dtypes="string").to_polars()
        return ("written_by", WRITTEN_BY) in set(about.select("about", "text").iter_rows())
    except (OSError, fastexcel.FastExcelError, pl.exceptions.PolarsError):
        return False


def read_export(place: Path, kinds: Mapping[str, type[Record]]) -> TakenBack:
    """The records that an export holds; `kinds` are the tables of records with their models.

    Raises ImportRefused where the place holds no export of this tool, or not all of what belongs together.
    """
    try:
        frames = _frames(place)
        missing = [name for name in BELONG_TOGETHER if name not in frames]
        if missing and len(missing) < len(BELONG_TOGETHER):
            what = f"holds no {' and no '.join(missing)}; its samples would not be whole"
            raise ImportRefused(Problem(str(place), what, "export without --kind"))
        return TakenBack(records_of(frames, kinds), _specs_texts(frames), _units(frames))
    except (OSError, LookupError, TypeError, ValueError, *_UNREADABLE) as error:
        what = f"cannot be read as an export: {str(error).partition(chr(10))[0]}"
        raise ImportRefused(Problem(str(place), what, "write the export again")) from error


def records_of(frames: Frames, kinds: Mapping[str, type[Record]]) -> tuple[AnyRecord, ...]:
    """The records that exported tables hold."""
    results = _results(frames)
    late = _late(frames)
    records: list[AnyRecord] = []
    for name, kind in kinds.items():
        if name in frames:
            records += _records(kind, frames[name], results, late)  # type: ignore[arg-type]
    return tuple(records)


def _units(frames: Frames) -> dict[str, str]:
    if "results" not in frames:
        return {}
    return dict(frames["results"].select("property", "unit").unique().iter_rows())


def _frames(place: Path) -> Frames:
    """Every table with its cells as such."""
    if place.is_dir() and (place / COLUMNS).exists():
        return folder_frames(place)
    if place.suffix == ".xlsx" and place.exists():
        return _sheets(fastexcel.read_excel(place.read_bytes()))
    what = "holds no export" if place.exists() else "does not exist"
    raise ImportRefused(Problem(str(place), what, "name a folder or workbook that sandlab export wrote"))


def folder_frames(place: Path) -> Frames:
    """Every table of a folder that `columns.csv` describes."""
    columns = pl.read_csv(place / COLUMNS, infer_schema=False)
    return {kind: _file(place, kind, cells) for kind, cells in _cells(columns).items()}


def _cells(columns: pl.DataFrame) -> dict[str, dict[str, str]]:
    found: dict[str, dict[str, str]] = defaultdict(dict)
    for kind, column, cell in columns.select("kind", "column", "cell").iter_rows():
        found[kind][column] = cell
    return found


def _file(place: Path, kind: str, cells: dict[str, str]) -> pl.DataFrame:
    if (path := place / f"{kind}.parquet").exists():
        return pl.read_parquet(path)
    read = {"number": pl.Float64(), "whole": pl.Int64(), "yes_no": pl.Boolean()}
    types = {name: read.get(cell, pl.String()) for name, cell in cells.items()}
    return _typed(pl.read_csv(place / f"{kind}.csv", schema=types), cells)


def _sheets(book: fastexcel.ExcelReader) -> Frames:
    """Sheets of one kind joined again; dates on the plant's clock are left, the exact times stand beside."""
    if "columns" not in book.sheet_names:
        raise ImportRefused(
            Problem("workbook", "has no sheet 'columns'", "name one that sandlab export wrote")
        )
    described = book.load_sheet("columns", dtypes="string").to_polars()
    read = {"number": "float", "whole": "float", "yes_no": "boolean"}
    frames: Frames = {}
    for kind, cells in _cells(described).items():
        parts = [name for name in book.sheet_names if name.rstrip("0123456789").rstrip("_") == kind]
        each = [
            book.load_sheet(
                name,
                header_row=0,
                skip_rows=HEADS - 1,
                use_columns=list(cells),
                dtypes={column: read.get(cell, "string") for column, cell in cells.items()},  # type: ignore[misc]
            ).to_polars()
            for name in parts
        ]
        # A sheet does not tell an empty text from none.
        texts = [name for name, cell in cells.items() if cell == "text"]
        frames[kind] = _typed(pl.concat(each), cells).with_columns(pl.col(texts).fill_null(""))
    return frames


def _typed(frame: pl.DataFrame, cells: Mapping[str, str]) -> pl.DataFrame:
    """Texts as what they stand for."""
    said: list[pl.Expr] = []
    for name, cell in cells.items():
        column = pl.col(name)
        if cell == "time":
            column = column.str.to_datetime("%Y-%m-%dT%H:%M:%S%.6fZ", time_unit="us", time_zone="UTC")
        elif cell == "list":
            column = column.str.json_decode(TYPES["list"])
        said.append(column.cast(TYPES[cell]))  # type: ignore[index]
    return frame.select(said)


def _results(frames: Frames) -> dict[Key, Result]:
    """Every value by sample, property and revision, with its raw readings."""
    if "results" not in frames:
        return {}
    readings: dict[Key, list[Reading]] = defaultdict(list)
    if "readings" in frames:
        for row in frames["readings"].sort("position").iter_rows(named=True):
            key = row["sample"], row["property"], row["revision"]
            readings[key].append(Reading(name=row["name"], value=row["value"], repeat=row["repeat"]))
    found: dict[Key, Result] = {}
    fields = set(Result.model_fields) - {"readings"}
    for row in frames["results"].iter_rows(named=True):
        key = row["sample"], row["property"], row["revision"]
        values = {name: value for name, value in row.items() if name in fields}
        found[key] = Result.model_validate(values | {"readings": tuple(readings[key])})
    return found


def _late(frames: Frames) -> frozenset[tuple[str, str]]:
    """Sample and property of first values that came after their sample was saved."""
    if "amendments" not in frames:
        return frozenset()
    first = frames["amendments"].filter(pl.col("revision") == 0)
    return frozenset(first.select("sample", "property").iter_rows())


def _records(
    kind: type[R], frame: pl.DataFrame, results: Mapping[Key, Result], late: frozenset[tuple[str, str]]
) -> Iterator[R]:
    """The records of one table; values that came later belong to their amendments, the first to samples."""
    own: dict[str, list[Result]] = defaultdict(list)
    if kind is Sample:
        for (sample, property_, revision), result in results.items():
            if revision == 0 and (sample, property_) not in late:
                own[sample].append(result)
    for row in frame.iter_rows(named=True):
        values: dict[str, Any] = {
            name: value
            for name, value in row.items()
            if name in kind.model_fields and not _absent(kind, name, value)
        }
        for name, field in kind.model_fields.items():
            if name in MAPPINGS:
                values[name] = mapping_of(row, name, list(kind.model_fields))
            elif get_origin(field.annotation) is dict:
                values[name] = json.loads(row[name])
        if kind is Amendment:
            values["result"] = results[row["sample"], row["property"], row["revision"]]
        if kind is Sample:
            values["results"] = tuple(own[row["id"]])
        try:
            yield kind.model_validate(values)
        except ValidationError as error:
            wrong = ", ".join(dict.fromkeys(str(one["loc"][0]) for one in error.errors() if one["loc"]))
            raise ValueError(f"{kind.__name__} {row['id']} has a wrong {wrong or 'shape'}") from error


def _absent(kind: type[Record], name: str, value: object) -> bool:
    """An empty cell where the record may have none."""
    return value is None or (value == "" and kind.model_fields[name].default is None)


def _specs_texts(frames: Frames) -> dict[str, str]:
    if "specs" not in frames:
        return {}
    parts = frames["specs"].sort("hash", "part").group_by("hash", maintain_order=True)
    return dict(parts.agg(pl.col("text").str.join("")).iter_rows())
