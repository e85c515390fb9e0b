"""Reads the published data sets."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np

from sandlab.charts.normal import Floats

FOLDER = Path(__file__).parents[1] / "published" / "data"


def rows(name: str) -> list[dict[str, str]]:
    """The rows of a published CSV, values as printed."""
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def column(name: str, key: str) -> Floats:
    """One column of a published CSV as numbers."""
    return np.array([float(row[key]) for row in rows(name)])
