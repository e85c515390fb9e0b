"""Exported tables as CSV and Parquet in a folder, with a table that describes every column."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path

import polars as pl

from sandlab.reporting.columns import Exported

ABOUT, COLUMNS = "export.json", "columns.csv"
WRITTEN_BY = "sandlab export"
TIME = "%Y-%m-%dT%H:%M:%S%.6fZ"


def write_folder(folder: Path, tables: Sequence[Exported], about: Mapping[str, str], *, format: str) -> None:
    """A file per kind, `columns.csv` that describes their columns, `export.json` that says what it is."""
    for table in tables:
        if format == "parquet":
            write_parquet(folder / f"{table.kind}.parquet", table, about)
        else:
            write_csv(folder / f"{table.kind}.csv", table.frame)
    write_csv(folder / COLUMNS, columns_frame(tables))
    (folder / ABOUT).write_text(
        json.dumps(dict(about), ensure_ascii=False, indent=2) + "\n", encoding="utf-8"
    )


def write_parquet(path: Path, table: Exported, about: Mapping[str, str]) -> None:
    """Parquet with what the columns say in its metadata; raises OSError where the disk is full."""
    try:
        table.frame.write_parquet(path, metadata={"columns": columns_json(table), **about})
    except pl.exceptions.ComputeError as error:
        raise OSError(str(error).rpartition("IO error: ")[2]) from error


def write_csv(path: Path, frame: pl.DataFrame) -> None:
    """RFC 4180 in UTF-8: comma, decimal point, times as ISO 8601 in UTC, lists as JSON, every digit kept."""
    plain(frame).write_csv(path, quote_style="necessary")


def plain(frame: pl.DataFrame) -> pl.DataFrame:
    """The frame with times and lists as text."""
    return frame.with_columns(
        _as_text(name, type_)
        for name, type_ in frame.schema.items()
        if isinstance(type_, pl.Datetime | pl.List)
    )


def _as_text(name: str, type_: pl.DataType) -> pl.Expr:
    if isinstance(type_, pl.Datetime):
        return pl.col(name).dt.strftime(TIME)
    return pl.col(name).map_batches(_lists_as_text, return_dtype=pl.String())


def _lists_as_text(lists: pl.Series) -> pl.Series:
    """Most lists are empty, and told apart quickly."""
    texts = ["[]" if not items else json.dumps(items, ensure_ascii=False) for items in lists.to_list()]
    return pl.Series(lists.name, texts, dtype=pl.String())


def columns_frame(tables: Sequence[Exported]) -> pl.DataFrame:
    """A row per column of every table: kind, column, cell, unit, what it says."""
    rows = [
        (table.kind, one.name, one.cell, one.unit, one.words) for table in tables for one in table.columns
    ]
    return pl.DataFrame(rows, schema=["kind", "column", "cell", "unit", "words"], orient="row")


def columns_json(table: Exported) -> str:
    """The columns of one table, for the metadata of a file that has no room for them elsewhere."""
    return json.dumps(
        {one.name: {"cell": one.cell, "unit": one.unit, "words": one.words} for one in table.columns},
        ensure_ascii=False,
    )
