"""How one kind of file is laid out: which cell means what. Written as TOML by one who knows the sheet."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from sandlab.exchange.targets import Kind

Row = Annotated[int, Field(ge=1)]
Letters = Annotated[str, Field(pattern=r"^[A-Z]{1,3}$")]


class Part(BaseModel):
    """Base of all mapping tables: frozen, and a key it does not know is a mistake."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Place(Part):
    """A column: by its letters (`at`), by its text in the head rows (`head`), or by both, compared."""

    at: Letters | None = None
    head: str | None = None


class Column(Place):
    """Where one property stands and how it is written.

    `text` is what the property column of a long table says for it. `unit` is the unit in which the file has
    it, the catalogue's when left out. `zero_means_not_tested` drops a typed 0.0.
    """

    text: str | None = None
    unit: str | None = None
    zero_means_not_tested: bool = False


class Block(Part):
    """Columns that belong together: a whole row, or one shift's part of it.

    Wide: `columns` has one place for each property. Long: `property` and `value` are places, and `columns`
    gives texts and units where they differ from the catalogue's.
    """

    label: str = ""
    point: str | None = None
    date: Place | None = None
    time: Place | None = None
    fixed_time: Annotated[str, Field(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")] | None = None
    technician: Place | None = None
    sampling_point: Place | None = None
    note: Place | None = None
    property: Place | None = None
    value: Place | None = None
    unit: Place | None = None
    columns: dict[str, Column] = {}


class SheetMap(Part):
    """One sheet: its name (left out for a text file), what it holds, its rows, its blocks side by side."""

    name: str | None = None
    kind: Kind = "samples"
    head_rows: tuple[Row, ...] = ()
    first_row: Row
    last_row: Row | None = None
    date: Place | None = None
    date_fill_down: bool = False
    skip_rows_with: tuple[str, ...] = ()
    blocks: dict[str, Block] = Field(min_length=1)


class Mapping(Part):
    """A whole mapping file."""

    system: str
    point: str
    time_zone: str | None = None
    dates: tuple[str, ...] = ()
    times: tuple[str, ...] = ("hour:minute",)
    decimal_marks: tuple[Literal[".", ","], ...] = Field(default=(".", ","), min_length=1)
    not_measured: tuple[str, ...] = ("-", "n/a")
    technicians: dict[str, str] = {}
    sampling_points: dict[str, str] = {}
    sheets: dict[str, SheetMap] = Field(min_length=1)


def is_long(block: Block) -> bool:
    """Whether the property is named in a cell rather than by the column."""
    return block.property is not None or block.value is not None
