"""A plant for notebooks: its records as polars frames, read only."""

from __future__ import annotations

from datetime import datetime, tzinfo
from pathlib import Path
from types import TracebackType

import polars as pl

from sandlab.errors import impossible, nearest
from sandlab.lab.exporting import NAMES, Frames
from sandlab.lab.opening import Lab, open_lab
from sandlab.lab.periods import Period
from sandlab.lab.wall_clock import moment_of
from sandlab.records import Override, Recommendation, Release
from sandlab.reporting import shaping

DECIDED: dict[str, type[Recommendation | Release | Override]] = {
    "recommended": Recommendation,
    "released": Release,
    "overridden": Override,
}

When = datetime | str | None


class Plant:
    """The records of one sand system; every call reads anew, and nothing is held open between calls.

    Times are UTC, values stand in the catalogue's units (`units`). `since` and `until` are both included;
    where they carry no offset, and where they are texts such as "2026-03-01T06:00", the plant's clock counts.
    """

    def __init__(self, lab: Lab) -> None:
        self._lab = lab

    def __enter__(self) -> Plant:
        """Use it as `with sandlab.open_plant(...) as plant`."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Let go of the file."""
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._lab.close()

    @property
    def name(self) -> str:
        """The foundry."""
        return self._lab.specs.plant.name

    @property
    def system(self) -> str:
        """The sand system."""
        return self._lab.system

    @property
    def zone(self) -> tzinfo:
        """The plant's clock, for `frame["taken_at"].dt.convert_time_zone(str(plant.zone))`."""
        return self._lab.zone

    @property
    def units(self) -> dict[str, str]:
        """The unit of every property of the catalogue."""
        return {key: entry.unit for key, entry in self._lab.specs.properties.items()}

    def results(self, *, since: When = None, until: When = None) -> pl.DataFrame:
        """The values in force, a row each: property, taken_at, value, unit, method, censored, flags ..."""
        return self.revisions(since=since, until=until).filter("in_force").drop("in_force")

    def revisions(self, *, since: When = None, until: When = None) -> pl.DataFrame:
        """Every value there has been, a row each, with its number and whether it is in force."""
        return self._named("results", since, until)

    def tests(self, *, since: When = None, until: When = None) -> pl.DataFrame:
        """A row per sample with a column per property, named like the catalogue."""
        return self._named("tests", since, until)

    def samples(self, *, since: When = None, until: When = None) -> pl.DataFrame:
        """The samples without their results."""
        return self._in_force("samples", since, until)

    def readings(self, *, since: When = None, until: When = None) -> pl.DataFrame:
        """The raw readings behind the values, of every revision."""
        return self._named("readings", since, until)

    def batches(self, *, since: When = None, until: When = None) -> pl.DataFrame:
        """The batches as made, with the kilograms of each feeder in `<feeder>_kg`."""
        return self._in_force("batches", since, until)

    def additions(self, *, since: When = None, until: When = None) -> pl.DataFrame:
        """What was recommended, released and overridden: at, by, decided, feeder, kg, record, reason."""
        period = self._period(since, until)
        rows = [
            (one.at, one.by, decided, feeder, kg, one.id, one.reason)
            for decided, kind in DECIDED.items()
            for one in self._lab.store.records(kind, self.system, since=period.since, until=period.until)
            for feeder, kg in one.added_kg.items()
        ]
        types = {
            "at": pl.Datetime("us", "UTC"),
            "by": pl.String(),
            "decided": pl.String(),
            "feeder": pl.String(),
            "kg": pl.Float64(),
            "record": pl.String(),
            "reason": pl.String(),
        }
        return pl.DataFrame(rows, schema=types, orient="row").sort("at", "record", "feeder")

    def baselines(self) -> pl.DataFrame:
        """Every baseline with its limits, the one frozen last in force for its property."""
        frame = self._in_force("baselines", None, None)
        reach = pl.col("width") * pl.col("sigma")
        lower, upper = pl.col("centre") - reach, pl.col("centre") + reach
        return frame.with_columns(lower.alias("lower"), upper.alias("upper")).sort("recorded_at", "id")

    def events(self, *, since: When = None, until: When = None) -> pl.DataFrame:
        """The notes on the time line."""
        return self._in_force("events", since, until)

    def table(self, name: str, *, since: When = None, until: When = None) -> pl.DataFrame:
        """Any other table of an export, such as "receipts", with replaced records and voids in it."""
        if name not in NAMES:
            raise impossible(name, "is not a kind of table", nearest(name, NAMES))
        return self._named(name, since, until)

    def _period(self, since: When, until: When) -> Period:
        return Period(*(None if one is None else moment_of(str(one), self.zone) for one in (since, until)))

    def _named(self, name: str, since: When, until: When) -> pl.DataFrame:
        return Frames(self._lab, self._period(since, until)).named(name)

    def _in_force(self, name: str, since: When, until: When) -> pl.DataFrame:
        return shaping.in_force(self._named(name, since, until))


def open_plant(folder: str | Path, *, system: str | None = None) -> Plant:
    """Open a plant folder for reading; raises SpecsError or StoreError with where, what and what to do."""
    return Plant(open_lab(Path(folder).expanduser(), system=system, readonly=True))
