"""An evidence pack: a folder of records that explains itself and can be checked with standard tools."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import polars as pl

from sandlab.errors import ImportRefused, Problem
from sandlab.reporting.columns import Exported
from sandlab.reporting.digests import MANIFEST, canonical, chained, changed_files, digest, manifest_text
from sandlab.reporting.evidence_words import readme
from sandlab.reporting.tables import columns_frame, plain, write_csv
from sandlab.reporting.taking_back import folder_frames

ABOUT, RECORDS, CHAIN = "about.json", "records.jsonl", "chain.csv"
DERIVED = ("tests", "corrections", "reactions", "methods", "signals")
"""Tables that are computed from records; the others hold the records themselves."""


@dataclass(frozen=True, slots=True, eq=False)
class Pack:
    """What goes into a folder: tables, spec texts by hash, charts by property, what the pack is about."""

    about: Mapping[str, str]
    tables: tuple[Exported, ...]
    specs_texts: Mapping[str, str]
    charts: Mapping[str, str]


def write_pack(folder: Path, pack: Pack) -> str:
    """Fill the folder; gives the last link of the chain, by which the pack can be known again."""
    for table in pack.tables:
        write_csv(folder / f"{table.kind}.csv", table.frame)
    write_csv(folder / "columns.csv", columns_frame(pack.tables))
    (folder / "specs").mkdir()
    for key, text in sorted(pack.specs_texts.items()):
        _write(folder / "specs" / f"{key}.json", text)
    (folder / "charts").mkdir()
    for name, svg in sorted(pack.charts.items()):
        _write(folder / "charts" / f"{name}.svg", svg)
    lines = list(_lines({one.kind: one.frame for one in pack.tables}))
    _write(folder / RECORDS, "".join(f"{line}\n" for line in lines))
    digests = [digest(line) for line in lines]
    links = chained(digests)
    numbers = list(range(1, len(lines) + 1))
    write_csv(folder / CHAIN, pl.DataFrame({"number": numbers, "digest": digests, "chain": links}))
    head = links[-1] if links else ""
    _write(folder / ABOUT, json.dumps(dict(pack.about), ensure_ascii=False, indent=2) + "\n")
    _write(folder / "README.txt", readme(pack.about, pack.tables, head))
    _write(folder / MANIFEST, manifest_text(folder))
    return head


def _write(path: Path, text: str) -> None:
    """The same bytes on every system."""
    path.write_bytes(text.encode())


def _lines(frames: Mapping[str, pl.DataFrame]) -> Iterator[str]:
    """Every record as one line, in the order in which they were written down."""
    rows: list[tuple[str, str]] = []
    for kind, frame in frames.items():
        if kind not in DERIVED:
            for row in plain(frame).iter_rows(named=True):
                rows.append((_recorded(row), canonical({"table": kind, **row})))
    yield from (line for _, line in sorted(rows))


def _recorded(row: Mapping[str, Any]) -> str:
    return str(row.get("recorded_at") or "")


def about_pack(folder: Path) -> dict[str, str]:
    """What a pack says about itself; raises ImportRefused where there is none."""
    try:
        about = json.loads((folder / ABOUT).read_text(encoding="utf-8"))
        (folder / MANIFEST).read_text(encoding="utf-8")
        about["from"], about["to"], about["properties"]
    except (OSError, ValueError, LookupError, TypeError) as error:
        what = "is no evidence pack" if folder.exists() else "does not exist"
        raise ImportRefused(
            Problem(str(folder), what, "name a folder that sandlab evidence wrote")
        ) from error
    return {str(name): str(value) for name, value in about.items()}


def check_pack(folder: Path) -> tuple[int, str, list[Problem]]:
    """How many records a pack holds, the last link of their chain, and everything that does not fit."""
    about_pack(folder)
    problems = changed_files(folder)
    try:
        lines = (folder / RECORDS).read_text(encoding="utf-8").split("\n")[:-1]
        kept = pl.read_csv(folder / CHAIN, infer_schema=False)
        digests, links = kept["digest"].to_list(), kept["chain"].to_list()
    except (OSError, ValueError, pl.exceptions.PolarsError) as error:
        problems.append(Problem(RECORDS, f"cannot be read: {error}", "ask for the whole folder again"))
        return 0, "", problems
    found = [digest(line) for line in lines]
    problems += [
        Problem(
            f"{RECORDS}, line {number}", "is not the record that the chain was made over", "do not rely on it"
        )
        for number, (is_, was) in enumerate(zip(found, digests, strict=False), start=1)
        if is_ != was
    ]
    if len(found) != len(digests):
        what = f"holds {len(found)} records, the chain {len(digests)}"
        problems.append(Problem(RECORDS, what, "do not rely on it"))
    if chained(digests) != links:
        problems.append(
            Problem(CHAIN, "is broken: its links do not follow from each other", "do not rely on it")
        )
    problems += _tables_that_differ(folder, lines)
    for path in sorted((folder / "specs").glob("*.json")):
        if hashlib.sha256(path.read_bytes()).hexdigest() != path.stem:
            problems.append(
                Problem(f"specs/{path.name}", "does not have the SHA-256 in its name", "do not rely on it")
            )
    return len(lines), links[-1] if links else "", problems


def _tables_that_differ(folder: Path, lines: Sequence[str]) -> list[Problem]:
    """Tables that say something else than the records of the chain."""
    try:
        told = set(_lines(folder_frames(folder)))
    except (OSError, ValueError, pl.exceptions.PolarsError) as error:
        return [Problem("tables", f"cannot be read: {error}", "ask for the whole folder again")]
    # Lines that are no records were told when they were held against the chain.
    kinds = {_kind(line) for line in told.symmetric_difference(lines)} - {""}
    return [
        Problem(f"{kind}.csv", "does not say what the records of the chain say", "do not rely on it")
        for kind in sorted(kinds)
    ]


def _kind(line: str) -> str:
    """The table that a line of the records belongs to; empty for a line that is no record."""
    try:
        return str(json.loads(line)["table"])
    except (ValueError, LookupError, TypeError):
        return ""
