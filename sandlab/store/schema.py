"""The tables: one SQLAlchemy Core schema that SQLite (STRICT) and PostgreSQL both take.

Times are whole microseconds since 1970 UTC, lists and mappings are JSON text. No table has a hidden rowid, so
no row can be replaced through one. Results are clustered by system, property and time, and kept short; raw
readings stand in a table of their own.
"""

from __future__ import annotations

from sqlalchemy import (
    REAL,
    BigInteger,
    CheckConstraint,
    Column,
    Double,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    PrimaryKeyConstraint,
    Table,
    Text,
    UniqueConstraint,
)
from sqlalchemy.schema import SchemaItem
from sqlalchemy.types import TypeEngine

from sandlab.records import (
    Acknowledgement,
    Amendment,
    Baseline,
    Batch,
    BeltReading,
    Comment,
    Event,
    FeederCheck,
    NoteRead,
    Override,
    PlannedJob,
    PlantValues,
    Production,
    Receipt,
    Recommendation,
    Record,
    Release,
    Sample,
    StepDone,
    StockCount,
)

SCHEMA_VERSION = 3
MOMENT, JSON, FLAG, NUMBER = "moment", "json", "flag", "number"

metadata = MetaData()


def rows_table(name: str, *items: SchemaItem) -> Table:
    """A table without hidden rowid that takes no value of a wrong type."""
    return Table(name, metadata, *items, sqlite_strict=True, sqlite_with_rowid=False)


def whole(name: str, *, form: str = "", nullable: bool = False) -> Column[int]:
    """A whole number; `form` says whether it stands for a moment or a yes or no."""
    type_ = BigInteger().with_variant(Integer, "sqlite")
    return Column(name, type_, nullable=nullable, info={"form": form})


def moment(name: str, *, nullable: bool = False) -> Column[int]:
    """A time as microseconds since 1970 UTC."""
    return whole(name, form=MOMENT, nullable=nullable)


def number(name: str, *, nullable: bool = False) -> Column[float]:
    """A finite number; SQLite would keep an infinity and turn a NaN into no value at all."""
    finite = CheckConstraint(f'"{name}" BETWEEN -1e300 AND 1e300')
    type_: TypeEngine[float] = Double().with_variant(REAL, "sqlite")
    return Column(name, type_, finite, nullable=nullable, info={"form": NUMBER})


def text(name: str, *, to: str = "", form: str = "", nullable: bool = False) -> Column[str]:
    """A text; `to` names the column (table.column) that it has to be found in."""
    found_in = (ForeignKey(to),) if to else ()
    return Column(name, Text, *found_in, nullable=nullable, info={"form": form})


def record_table(name: str, *columns: Column[int] | Column[float] | Column[str]) -> Table:
    """A table of one kind of record; a record is revised at most once, so that nobody corrects unseen."""
    table = rows_table(
        name,
        text("id"),
        text("system"),
        moment("at"),
        text("by"),
        moment("recorded_at"),
        text("revises", to=f"{name}.id", nullable=True),
        text("reason"),
        whole("voided", form=FLAG),
        *columns,
        PrimaryKeyConstraint("id"),
    )
    Index(f"{name}_by_time", table.c.system, table.c.at)
    revises = table.c.revises
    Index(f"{name}_revised_once", revises, unique=True, sqlite_where=revises.is_not(None))
    return table


def for_postgresql() -> None:
    """Give each index its condition there too; named above, it would load that dialect for every start."""
    for table in metadata.tables.values():
        for index in table.indexes:
            some = index.dialect_options["sqlite"]["where"]
            index.dialect_options["postgresql"]["where"] = some


# A version of this schema that has been laid in the file; the highest one counts.
meta = rows_table("meta", whole("schema_version"), PrimaryKeyConstraint("schema_version"))

specs = rows_table("specs", text("hash"), text("text"), PrimaryKeyConstraint("hash"))

samples = record_table(
    "samples", text("point"), text("specs_hash", to="specs.hash"), text("source"), text("note")
)

# A clock that runs behind shows against the last recording.
Index("samples_by_recording", samples.c.system, samples.c.recorded_at)

# Who amended a value, when and why; the value itself stands in `results`. `revises` may name the sample or
# the amendment before: the revision number is what keeps the order.
amendments = rows_table(
    "amendments",
    text("id"),
    text("system"),
    moment("at"),
    text("by"),
    moment("recorded_at"),
    text("revises", nullable=True),
    text("reason"),
    whole("voided", form=FLAG),
    text("sample", to="samples.id"),
    text("point"),
    text("property"),
    whole("revision"),
    text("specs_hash", to="specs.hash"),
    PrimaryKeyConstraint("id"),
    UniqueConstraint("sample", "property", "revision"),
)

results = rows_table(
    "results",
    text("system"),
    text("property"),
    moment("taken_at"),
    text("sample", to="samples.id"),
    whole("revision"),
    number("value", nullable=True),
    text("point"),
    text("method"),
    text("censored"),
    text("flags", form=JSON),
    text("by"),
    moment("known_at", nullable=True),
    moment("recorded_at"),
    PrimaryKeyConstraint("system", "property", "taken_at", "sample", "revision"),
    CheckConstraint("value IS NOT NULL OR revision > 0", name="only_a_void_has_no_value"),
)

readings = rows_table(
    "readings",
    text("sample", to="samples.id"),
    text("property"),
    whole("revision"),
    whole("position"),
    text("name"),
    number("value"),
    whole("repeat"),
    PrimaryKeyConstraint("sample", "property", "revision", "position"),
)

recommendations = record_table(
    "recommendations",
    text("specs_hash", to="specs.hash"),
    text("added_kg", form=JSON),
    whole("hold", form=FLAG),
    text("sentence"),
    text("rests_on", form=JSON),
    text("detail"),
)

releases = record_table(
    "releases", text("recommendation", to="recommendations.id"), text("added_kg", form=JSON)
)
acknowledgements = record_table("acknowledgements", text("release", to="releases.id"))
overrides = record_table("overrides", text("release", to="releases.id"), text("added_kg", form=JSON))

batches = record_table(
    "batches",
    whole("number"),
    number("return_sand_kg"),
    text("recommendation", to="recommendations.id", nullable=True),
)
batch_materials = rows_table(
    "batch_materials",
    text("batch", to="batches.id"),
    text("material"),
    number("kg"),
    PrimaryKeyConstraint("batch", "material"),
)

receipts = record_table("receipts", text("material"), text("lot"), number("kg"), text("assay", form=JSON))

production = record_table(
    "production",
    moment("until"),
    text("job"),
    number("metal_t"),
    number("sand_to_metal"),
    number("core_sand_t"),
)

planned_jobs = record_table(
    "planned_jobs",
    moment("until"),
    text("job"),
    number("sand_to_metal"),
    number("core_sand_t_per_t"),
)
belt_readings = record_table(
    "belt_readings", number("moisture", nullable=True), number("temperature", nullable=True)
)
stock_counts = record_table("stock_counts", text("material"), number("kg"))
feeder_checks = record_table("feeder_checks", text("feeder"), number("shown_kg"), number("weighed_kg"))
plant_values = record_table(
    "plant_values",
    text("values", form=JSON),
    text("sd", form=JSON),
    moment("window_from"),
    moment("window_to"),
)

events = record_table("events", text("kind"), text("text"))
notes_read = record_table("notes_read", text("note", to="events.id"))

comments = record_table("comments", text("sample", to="samples.id"), text("property"), text("text"))
steps_done = record_table(
    "steps_done", text("sample", to="samples.id"), text("property"), text("signal"), text("step")
)

baselines = record_table(
    "baselines",
    text("property"),
    text("point"),
    moment("window_from"),
    moment("window_to"),
    whole("count"),
    number("centre"),
    number("sigma"),
    number("sigma_moving_range"),
    number("lag1"),
    number("width"),
    text("excluded", form=JSON),
)

TABLES: dict[type[Record], Table] = {
    Sample: samples,
    Amendment: amendments,
    Batch: batches,
    Receipt: receipts,
    Production: production,
    PlannedJob: planned_jobs,
    BeltReading: belt_readings,
    StockCount: stock_counts,
    FeederCheck: feeder_checks,
    PlantValues: plant_values,
    Event: events,
    Baseline: baselines,
    Recommendation: recommendations,
    Release: releases,
    Acknowledgement: acknowledgements,
    Override: overrides,
    NoteRead: notes_read,
    Comment: comments,
    StepDone: steps_done,
}
KINDS: dict[str, type[Record]] = {table.name: kind for kind, table in TABLES.items()}
"""The kind of record that each table of records holds."""
