"""Exports: the records of a period as CSV, Parquet or a workbook, in tables that say what they hold."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import polars as pl

from sandlab import reporting
from sandlab.errors import InputError, Problem, nearest
from sandlab.lab.baselines import all_baselines
from sandlab.lab.facts.exports import ExportFacts
from sandlab.lab.opening import Lab
from sandlab.lab.periods import Period, words
from sandlab.lab.sources import rows
from sandlab.lab.specs_then import Then
from sandlab.lab.stretches import baseline_of
from sandlab.records import Baseline
from sandlab.reporting import shaping
from sandlab.reporting.tables import WRITTEN_BY
from sandlab.specs import Target
from sandlab.store import KINDS

if TYPE_CHECKING:
    from sandlab.reporting.workbook_charts import ChartOf

Format = Literal["csv", "parquet", "xlsx"]
FORMATS: tuple[Format, ...] = ("csv", "parquet", "xlsx")
NAMES = ("tests", "results", "readings", *KINDS, "specs")
"""Every kind of table; `tests` is a row per sample with a column per property, `results` every revision."""


def export(lab: Lab, out: Path, *, format: Format, period: Period, kinds: Sequence[str] = ()) -> ExportFacts:
    """Write the records of a period; raises InputError with every problem of what was asked for."""
    problems = period.problems()
    problems += [
        Problem(one, "is not a kind of table", nearest(one, NAMES)) for one in kinds if one not in NAMES
    ]
    if format == "xlsx" and out.suffix != ".xlsx":
        do = "let it end in .xlsx, or choose csv or parquet, which fill a folder"
        problems.append(Problem(str(out), "is no name of a workbook", do))
    if format != "xlsx" and out.suffix in (".xlsx", ".csv", ".parquet"):
        problems.append(
            Problem(str(out), f"is no name of a folder; {format} fills one", "leave the ending out")
        )
    if problems:
        raise InputError(problems)
    tables = tables_of(lab, period, kinds or NAMES)
    counted = {one.kind: one.frame.height for one in tables}
    if not any(rows for kind, rows in counted.items() if kind != "specs"):
        raise InputError(Problem("period", f"holds no records ({words(lab, period)})", "choose a longer one"))
    about = about_of(lab, period) | {"specs_hash": lab.specs.hash}
    if format == "xlsx":
        # Imported here: the library is only needed for workbooks.
        from sandlab.reporting.workbook import write_workbook

        with reporting.fresh_file(out) as file:
            write_workbook(file, tables, about, zone=lab.specs.plant.time_zone, charts=_charts(lab, period))
    else:
        with reporting.fresh_folder(out) as folder:
            reporting.write_folder(folder, tables, about, format=format)
    total = sum(counted.values())
    return ExportFacts(
        place=str(out),
        format=format,
        since=period.since,
        until=period.until,
        rows=counted,
        words=f"{total} rows in {len(tables)} tables, {words(lab, period)}, written to {out}.",
    )


def about_of(lab: Lab, period: Period) -> dict[str, str]:
    """What files out say about themselves; nothing that differs between two of the same records."""
    return {
        "plant": lab.specs.plant.name,
        "system": lab.system,
        "time_zone": lab.specs.plant.time_zone,
        "from": period.since.isoformat() if period.since else "",
        "to": period.until.isoformat() if period.until else "",
        "written_by": WRITTEN_BY,
        "units": "values stand in the catalogue's units; the table 'columns' names the unit of every column",
        "judged": "charts draw limits and tolerance in force at the last test; 'specs' holds those of each "
        "sample, by its specs_hash",
    }


def tables_of(lab: Lab, period: Period, kinds: Sequence[str]) -> tuple[reporting.Exported, ...]:
    """The asked-for tables of a period, each with its columns described."""
    catalogue = {key: (entry.unit, entry.label) for key, entry in lab.specs.properties.items()}
    frames = Frames(lab, period)
    found = []
    for name in (one for one in NAMES if one in kinds):
        frame = frames.named(name)
        found.append(reporting.Exported(name, frame, reporting.described(frame, catalogue)))
    return tuple(found)


class Frames:
    """The tables of a period; what several are made from is read once."""

    def __init__(self, lab: Lab, period: Period) -> None:
        self._lab = lab
        self._period = period
        self._read: dict[str, pl.DataFrame] = {}

    def raw(self, name: str) -> pl.DataFrame:
        """One stored table."""
        if name not in self._read:
            lab, period = self._lab, self._period
            self._read[name] = lab.store.table(name, lab.system, since=period.since, until=period.until)
        return self._read[name]

    def named(self, name: str) -> pl.DataFrame:
        """One table as exported."""
        if name == "batches":
            return shaping.batches_wide(self.raw("batches"), self.raw("batch_materials"))
        if name == "specs":
            return shaping.specs_frame(self.specs_texts())
        if name == "tests":
            return shaping.tests_wide(self.results(), self.raw("samples"), list(self._lab.specs.properties))
        if name == "results":
            return self.results()
        return shaping.unfolded(self.raw(name))

    def results(self) -> pl.DataFrame:
        """Every revision of every result, with unit and whether it is in force."""
        if "with force" not in self._read:
            units = {key: entry.unit for key, entry in self._lab.specs.properties.items()}
            plain = shaping.unfolded(self.raw("results"))
            self._read["with force"] = shaping.with_force(plain, self.raw("samples"), units)
        return self._read["with force"]

    def specs_texts(self) -> dict[str, str]:
        """The texts of every specs in force when one of the records was made."""
        named = {
            hash_
            for name in ("samples", "amendments", "recommendations")
            for hash_ in self.raw(name)["specs_hash"].unique().to_list()
        }
        found = {hash_: self._lab.store.specs_text(hash_) for hash_ in named}
        return {hash_: text for hash_, text in found.items() if text is not None}


def _charts(lab: Lab, period: Period) -> list[ChartOf]:
    """What the workbook draws: every charted property with its limits and tolerance, as stored."""
    from sandlab.reporting.workbook_charts import ChartOf

    baselines, then = all_baselines(lab), Then(lab, period)
    found = []
    for key, entry in lab.specs.properties.items():
        if entry.chart == "none":
            continue
        tests = rows(lab, key, since=period.since, until=period.until)
        last = tests["sample"][-1] if tests.height else ""
        levels = _levels(lab, key, baseline_of(baselines.get(key, []), period.until), then.target(last, key))
        unit = "" if entry.unit == "1" else entry.unit
        found.append(ChartOf(key, entry.label, unit, levels))
    return found


def _levels(
    lab: Lab, key: str, baseline: Baseline | None, target: Target | None
) -> tuple[tuple[str, float], ...]:
    """The lines across a chart: limits where they are frozen, tolerance where there is a target."""
    levels: list[tuple[str, float]] = []
    if baseline is not None:
        low, high = lab.specs.properties[key].impossible
        reach = baseline.width * baseline.sigma
        levels.append(("centre", baseline.centre))
        levels.append(("lower limit", max(low, baseline.centre - reach)))
        levels.append(("upper limit", min(high, baseline.centre + reach)))
    if target is not None:
        levels.append(("tolerance", target.target - target.tolerance))
        levels.append(("tolerance", target.target + target.tolerance))
    return tuple(levels)
