"""sandlab keeps a foundry's moulding sand right: tests, charts, balance, additions."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from sandlab.lab.notebook import Plant

__version__ = "0.1.0"


def open_plant(folder: str | Path, *, system: str | None = None) -> Plant:
    """A plant's records as polars frames for notebooks; nothing is written, and nothing stays locked.

    Raises SpecsError or StoreError with where, what and what to do.
    """
    # Imported here: importing sandlab loads nothing heavy.
    from sandlab.lab import notebook

    return notebook.open_plant(folder, system=system)
