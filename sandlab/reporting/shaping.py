"""Stored tables as tables for people, and back: a column per feeder, lists as lists, a row per sample."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

import polars as pl

from sandlab.errors import impossible
from sandlab.reporting.columns import ASSAY, KG

LISTS = ("flags", "excluded", "rests_on")
MAPPINGS = {"added_kg": ("", KG), "assay": (ASSAY, "")}
TEXT_PART = 30_000
"""Characters of a spec text in one cell; a spreadsheet's cell holds 32,767."""


def unfolded(frame: pl.DataFrame) -> pl.DataFrame:
    """Lists decoded, and each mapping spread over a column for every key that occurs."""
    lists = [pl.col(name).str.json_decode(pl.List(pl.String())) for name in LISTS if name in frame.columns]
    frame = frame.with_columns(lists)
    for name, (before, after) in MAPPINGS.items():
        if name in frame.columns:
            frame = _spread(frame, name, before, after)
    return frame


def _spread(frame: pl.DataFrame, name: str, before: str, after: str) -> pl.DataFrame:
    parsed: list[dict[str, float]] = [json.loads(text) for text in frame[name].to_list()]
    keys = dict.fromkeys(key for one in parsed for key in one)
    columns = [
        pl.Series(f"{before}{key}{after}", [one.get(key) for one in parsed], dtype=pl.Float64())
        for key in keys
    ]
    return _beside(frame.drop(name), pl.DataFrame(columns))


def _beside(frame: pl.DataFrame, columns: pl.DataFrame) -> pl.DataFrame:
    for name in columns.columns:
        if name in frame.columns:
            feeder = name.removesuffix(KG)
            do = "give the feeder another name in system.toml"
            raise impossible(f"feeder {feeder}", f"its column '{name}' stands for something else", do)
    return frame.hstack(columns)


def batches_wide(batches: pl.DataFrame, materials: pl.DataFrame) -> pl.DataFrame:
    """A row per batch with a column of kilograms for each feeder; none where the batch has no such feeder."""
    if materials.is_empty():
        return batches
    names = materials["material"].unique().sort()
    wide = materials.pivot("material", index="batch", values="kg").select(
        "batch", *(pl.col(name).alias(f"{name}{KG}") for name in names)
    )
    joined = batches.select("id").join(
        wide, left_on="id", right_on="batch", how="left", maintain_order="left"
    )
    return _beside(batches, joined.drop("id"))


def mapping_of(row: Mapping[str, Any], name: str, apart_from: Sequence[str]) -> dict[str, float]:
    """A mapping read back from its columns; empty cells are keys that it has not."""
    before, after = MAPPINGS[name]
    return {
        column.removeprefix(before).removesuffix(after): value
        for column, value in row.items()
        if column not in apart_from
        and column.startswith(before)
        and column.endswith(after)
        and value is not None
    }


def with_force(results: pl.DataFrame, samples: pl.DataFrame, units: Mapping[str, str]) -> pl.DataFrame:
    """Results with the unit of each value, and whether it is in force."""
    last = pl.col("revision") == pl.col("revision").max().over("sample", "property")
    revised = samples["revises"].drop_nulls().implode()
    in_force = last & pl.col("value").is_not_null() & ~pl.col("sample").is_in(revised)
    unit = pl.col("property").replace_strict(units, default="", return_dtype=pl.String())
    return results.with_columns(unit.alias("unit"), in_force.alias("in_force"))


def in_force(records: pl.DataFrame) -> pl.DataFrame:
    """Records that no later one replaces or takes back."""
    revised = records["revises"].drop_nulls().implode()
    return records.filter(~pl.col("voided") & ~pl.col("id").is_in(revised)).drop("revises", "voided")


def tests_wide(results: pl.DataFrame, samples: pl.DataFrame, properties: Sequence[str]) -> pl.DataFrame:
    """A row per sample with the value in force of each property, in the order of the catalogue.

    `doubt` names bounds ("moisture <") and flags. Properties without any value have no column.
    """
    held = results.filter("in_force")
    rows = in_force(samples).select(
        pl.col("id").alias("sample"), pl.col("at").alias("taken_at"), "point", "by", "source", "note"
    )
    wide = held.pivot("property", index="sample", values="value")
    known = [name for name in properties if name in wide.columns]
    known += sorted(set(wide.columns) - {"sample", *known})
    doubt = (
        held.filter((pl.col("censored") != "") | (pl.col("flags").list.len() > 0))
        .sort("sample", "property")
        .select(
            "sample",
            pl.concat_str(
                pl.col("property"), pl.lit(" "), pl.col("censored"), pl.col("flags").list.join(", ")
            ).alias("doubt"),
        )
        .group_by("sample", maintain_order=True)
        .agg(pl.col("doubt").str.join("; "))
    )
    joined = rows.join(wide.select("sample", *known), on="sample", how="left", maintain_order="left")
    joined = joined.join(doubt, on="sample", how="left", maintain_order="left")
    return joined.with_columns(pl.col("doubt").fill_null("")).sort("taken_at", "sample")


def specs_frame(texts: Mapping[str, str]) -> pl.DataFrame:
    """Spec texts in parts that fit a cell."""
    rows = [
        (key, part, text[start : start + TEXT_PART])
        for key, text in sorted(texts.items())
        for part, start in enumerate(range(0, len(text), TEXT_PART))
    ]
    types = {"hash": pl.String(), "part": pl.Int64(), "text": pl.String()}
    return pl.DataFrame(rows, schema=types, orient="row")
