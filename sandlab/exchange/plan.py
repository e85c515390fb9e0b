"""Plans an import: reads the file, changes nothing; saving all of it or none is the caller's."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from sandlab.errors import ImportRefused, Problem, nearest
from sandlab.exchange.books import BookReader, BookRow
from sandlab.exchange.gather import Gatherer
from sandlab.exchange.grid import Sheet, read_grid, refused
from sandlab.exchange.layout import BlockLayout, lay_out
from sandlab.exchange.mapping import Mapping, SheetMap
from sandlab.exchange.notes import Counts, ImportPlan, Tally, Tell, quiet
from sandlab.exchange.rows import RowReader
from sandlab.exchange.targets import targets
from sandlab.specs import Specs

_Laid = tuple[Sheet, SheetMap, tuple[BlockLayout, ...]]


def plan_import(
    path: Path, mapping: Mapping, *, specs: Specs, now: datetime, by: str, tell: Tell = quiet
) -> ImportPlan:
    """What importing `path` would add at the time `now`; `by` took the samples that name nobody.

    `tell` is called now and then with what is being done, how much of it is done and how much there is.
    Raises ImportRefused when the file cannot be read, does not fit the mapping, or holds no row at all.
    """
    tell("opening the file", 0, 1)
    laid_out, unread = _sheets(path, mapping, specs)
    zone = ZoneInfo(mapping.time_zone) if mapping.time_zone else specs.zone
    tally = Tally(tell)
    tally.expected = sum(len(sheet.rows) * len(blocks) for sheet, _, blocks in laid_out)
    gatherer = Gatherer(path.name, mapping.system, zone, now, tally)
    reader = RowReader(mapping, specs, by, tally)
    books = BookReader(mapping, specs, zone, now, by, tally)
    booked: list[BookRow] = []
    for sheet, sheet_map, blocks in laid_out:
        if sheet_map.kind == "samples":
            gatherer.take(reader.entries(sheet, sheet_map, blocks))
            continue
        filled = reader.filled(sheet, sheet_map, blocks)
        found = (books.take(row, block, sheet_map.kind) for row, block in filled)
        booked += [row for row in found if row is not None]
    if not tally.rows:
        what = "no row below the heads holds anything"
        raise ImportRefused(Problem(path.name, what, "check first_row and the columns of the mapping"))
    samples = gatherer.samples(specs.hash)
    results = [result for sample in samples for result in sample.results]
    counts = Counts(
        rows=tally.rows,
        samples=len(samples),
        results=len(results),
        censored=sum(result.censored != "" for result in results),
        doubtful=tally.count("doubtful"),
        refused=tally.count("refused"),
        skipped=tally.count("skipped"),
        duplicates=tally.duplicates,
        not_measured=tally.not_measured,
        records=len(booked),
    )
    records = tuple(sorted((row.record for row in booked), key=lambda record: record.at))
    places = gatherer.places | {row.record.id: (row.sheet, row.row) for row in booked}
    return ImportPlan(path.name, zone, samples, tuple(tally.notes), counts, records, places, unread)


def _sheets(path: Path, mapping: Mapping, specs: Specs) -> tuple[list[_Laid], tuple[str, ...]]:
    """Every mapped sheet with its blocks, and the names of the others that hold something.

    Raises ImportRefused with what is wrong on all of them.
    """
    sheets = read_grid(path, None)
    found: list[_Laid] = []
    problems: dict[Problem, None] = {}
    for sheet_map in mapping.sheets.values():
        try:
            sheet = _sheet(path, sheets, sheet_map.name)
            known = targets(sheet_map.kind, specs, mapping.system)
            found.append((sheet, sheet_map, lay_out(path.name, sheet, sheet_map, known)))
        except ImportRefused as error:
            problems |= dict.fromkeys(error.problems)
    if problems:
        raise ImportRefused(problems)
    read = {sheet.name for sheet, _, _ in found}
    return found, tuple(one.name for one in sheets if one.name not in read and any(map(any, one.rows)))


def _sheet(path: Path, sheets: Sequence[Sheet], name: str | None) -> Sheet:
    names = [sheet.name for sheet in sheets]
    if name is None and len(sheets) > 1:
        raise refused(
            path.name, f"the workbook has {len(sheets)} sheets", f"say which with name: {', '.join(names)}"
        )
    if name is not None and name not in names:
        raise refused(path.name, f"there is no sheet '{name}'", nearest(name, names))
    return sheets[0 if name is None else names.index(name)]
