"""Every column that leaves the house: its kind of cell, its unit, and what it says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import polars as pl

Cell = Literal["time", "number", "whole", "yes_no", "text", "list"]

UTC_TIME = pl.Datetime("us", "UTC")
TYPES: dict[Cell, pl.DataType] = {
    "time": UTC_TIME,
    "number": pl.Float64(),
    "whole": pl.Int64(),
    "yes_no": pl.Boolean(),
    "text": pl.String(),
    "list": pl.List(pl.String()),
}
KG, ASSAY = "_kg", "assay_"
"""A feeder's kilograms end like this, a share of an assay begins like that."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column of an exported table; `unit` is empty where there is none."""

    name: str
    cell: Cell
    unit: str
    words: str


@dataclass(frozen=True, slots=True, eq=False)
class Exported:
    """One kind of record as a table with its columns described."""

    kind: str
    frame: pl.DataFrame
    columns: tuple[Column, ...]


WORDS: dict[str, tuple[str, str]] = {
    "id": ("", "identity of the record"),
    "system": ("", "sand system, as in system.toml"),
    "at": ("", "when it happened, UTC"),
    "taken_at": ("", "when the sand was taken, UTC"),
    "by": ("", "who"),
    "recorded_at": ("", "when it was written down, UTC"),
    "known_at": ("", "when the result was known where that is not when it was written down, UTC"),
    "revises": ("", "the record that this one corrects"),
    "reason": ("", "why it was corrected, taken back or decided"),
    "voided": ("", "whether the record takes the one it revises back"),
    "point": ("", "sampling point"),
    "specs_hash": ("", "SHA-256 of the specs in force, see specs"),
    "source": ("", "typed, import or simulated"),
    "note": ("", "remark, or the handover note that was read"),
    "sample": ("", "the sample it belongs to"),
    "property": ("", "key of the catalogue (properties.toml)"),
    "revision": ("", "0 is the first value, each correction the next number"),
    "value": ("see unit", "the result in the catalogue's unit; none where it was taken back"),
    "unit": ("", "unit of the value, from the catalogue"),
    "in_force": ("", "whether no later record corrects it or takes it back"),
    "method": ("", "how it was obtained (methods.toml); empty when typed as the instrument shows it"),
    "censored": ("", "< or > where the value is only a bound"),
    "flags": ("", "doubts about it, and who confirmed them"),
    "position": ("", "order of the reading"),
    "name": ("", "name of the reading, as in methods.toml"),
    "repeat": ("", "number of the repeat"),
    "number": ("", "number of the batch"),
    "return_sand_kg": ("kg", "moist return sand in the batch"),
    "recommendation": ("", "the recommendation it follows"),
    "material": ("", "key of materials.toml"),
    "lot": ("", "lot number of the delivery"),
    "kg": ("kg", "mass of the delivery"),
    "until": ("", "end of the stretch, UTC"),
    "job": ("", "what was poured"),
    "metal_t": ("t", "metal poured"),
    "sand_to_metal": ("t/t", "sand in the moulds per metal"),
    "core_sand_t": ("t", "core sand used"),
    "kind": ("", "kind of note"),
    "text": ("", "the words"),
    "window_from": ("", "start of the stretch that limits were taken from, UTC"),
    "window_to": ("", "end of that stretch, UTC"),
    "count": ("", "tests in that stretch"),
    "centre": ("see property", "mean of the baseline"),
    "sigma": ("see property", "standard deviation of the baseline"),
    "sigma_moving_range": ("see property", "standard deviation from moving ranges"),
    "lag1": ("", "autocorrelation of neighbouring tests"),
    "width": ("", "standard deviations from the centre to a limit"),
    "excluded": ("", "samples left out"),
    "hold": ("", "whether it said to hold and test again"),
    "sentence": ("", "the recommendation in words"),
    "rests_on": ("", "samples it rests on"),
    "detail": ("", "the whole answer as JSON"),
    "release": ("", "the release it answers"),
    "signal": ("", "what the reaction plan answers (reactions.toml)"),
    "step": ("", "the step that was taken"),
    "rule": ("", "the rule of the chart that was broken"),
    "before": ("see unit", "the value before the correction"),
    "after": ("see unit", "the value after it; none where it was taken back"),
    "limit": ("see unit", "the reaction limit that the value is past"),
    "steps": ("", "what the reaction plan asks for"),
    "who": ("", "who takes them"),
    "within_min": ("min", "within that time"),
    "done": ("", "what was done, by whom and when"),
    "back_at": ("", "the first later test inside the limits, UTC"),
    "label": ("", "its name in words"),
    "function": ("", "function that computes it"),
    "formula": ("", "what that gives, its equation, each parameter with its unit"),
    "readings": ("", "what is read"),
    "constants": ("", "constants of the apparatus, as JSON"),
    "repeats": ("", "repeats and when they disagree, as JSON"),
    "place": ("", "place in the source"),
    "moisture": ("%", "of the return sand on the belt"),
    "temperature": ("C", "of the return sand on the belt"),
    "feeder": ("", "key of the feeder, as in system.toml"),
    "shown_kg": ("kg", "what the feeder showed"),
    "weighed_kg": ("kg", "what it really gave"),
    "core_sand_t_per_t": ("t/t", "core sand per metal"),
    "values": ("", "values of the plant in force from then on, as JSON"),
    "sd": ("", "standard deviations of these values, as JSON"),
    "hash": ("", "SHA-256 of the joined text"),
    "part": ("", "order of the parts of the text"),
    "doubt": ("", "bounds and flags of the results in this row"),
}


def described(frame: pl.DataFrame, properties: Mapping[str, tuple[str, str]]) -> tuple[Column, ...]:
    """The columns of a frame; `properties` gives unit and label of the catalogue's keys."""
    return tuple(_column(name, type_, properties) for name, type_ in frame.schema.items())


def _column(name: str, type_: pl.DataType, properties: Mapping[str, tuple[str, str]]) -> Column:
    cell = next(cell for cell, known in TYPES.items() if known == type_)
    if name in properties:
        unit, words = properties[name]
    elif name in WORDS:
        unit, words = WORDS[name]
    elif name.startswith(ASSAY):
        unit, words = "%", f"{name.removeprefix(ASSAY).replace('_', ' ')} on the certificate, of dry material"
    elif name.endswith(KG):
        unit, words = "kg", f"{name.removesuffix(KG).replace('_', ' ')} per batch, as weighed"
    else:
        unit, words = "", name.replace("_", " ")
    return Column(name, cell, "" if unit == "1" else unit, words)
