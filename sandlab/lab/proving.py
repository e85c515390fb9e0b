"""Evidence packs: what was measured, corrected, decided and added in a period, as a folder for an auditor."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path

import polars as pl

from sandlab import reporting
from sandlab.drawing import chart_svg
from sandlab.errors import InputError, Problem, nearest
from sandlab.lab.exporting import Frames, about_of
from sandlab.lab.facts.charts import ChartFacts
from sandlab.lab.facts.exports import PackFacts
from sandlab.lab.facts.files import ProblemFacts
from sandlab.lab.opening import Lab
from sandlab.lab.periods import Period, words
from sandlab.lab.picturing import picture
from sandlab.lab.proofs import corrections, in_force_of, methods_used, reactions_of
from sandlab.lab.specs_then import Then
from sandlab.lab.stretches import stretch
from sandlab.reporting import evidence, shaping
from sandlab.store import KINDS

OF_A_PROPERTY = ("readings", "amendments", "steps_done")
DECIDED = ("recommendations", "releases")


def evidence_pack(lab: Lab, out: Path, *, period: Period, properties: Sequence[str] = ()) -> PackFacts:
    """Write the folder; raises InputError with every problem of what was asked for."""
    problems = period.problems()
    if period.since is None or period.until is None:
        problems.append(Problem("period", "has no start or no end", "give --from and --to"))
    known = list(lab.specs.properties)
    problems += [
        Problem(one, "is not a property of the catalogue", nearest(one, known))
        for one in properties
        if one not in known
    ]
    if problems:
        raise InputError(problems)
    pack = _pack(lab, period, properties)
    with reporting.fresh_folder(out) as folder:
        head = evidence.write_pack(folder, pack)
        files = sum(path.is_file() for path in folder.rglob("*"))
    rows = {one.kind: one.frame.height for one in pack.tables}
    return PackFacts(
        place=str(out),
        files=files,
        rows=rows,
        chain=head,
        ok=True,
        problems=(),
        words=f"Evidence, {words(lab, period)}: {rows['results']} values of {rows['samples']} samples, "
        f"{files} files in {out}. Note the last link of the chain: {head}",
    )


def verify_pack(folder: Path, lab: Lab | None = None) -> PackFacts:
    """Whether a folder is as it was made; with a plant also whether its records still give the same."""
    count, head, problems = evidence.check_pack(folder)
    said = f"{count} records, last link {head}. " + (
        "Everything fits together; nothing was changed if this is the link that was noted at the time."
        if not problems
        else f"{len(problems)} thing{'s do' if len(problems) > 1 else ' does'} not fit."
    )
    if lab is not None:
        different = _made_anew(lab, folder)
        problems = [*problems, *different]
        said += " The plant's records give the same folder." if not different else " The plant differs."
    return PackFacts(
        place=str(folder),
        files=sum(path.is_file() for path in folder.rglob("*")),
        rows={"records": count},
        chain=head,
        ok=not problems,
        problems=tuple(ProblemFacts(where=one.where, what=one.what, do=one.do) for one in problems),
        words=said,
    )


def _made_anew(lab: Lab, folder: Path) -> list[Problem]:
    """Files that the plant's records would give otherwise today."""
    about = evidence.about_pack(folder)
    period = Period(*(datetime.fromisoformat(about[end]) for end in ("from", "to")))
    with tempfile.TemporaryDirectory() as place:
        again = Path(place) / "again"
        evidence_pack(lab, again, period=period, properties=about["properties"].split(", "))
        names = {path.relative_to(root).as_posix() for root in (again, folder) for path in root.rglob("*.*")}
        return [
            Problem(name, "differs from what the plant's records give today", "compare the two line by line")
            for name in sorted(names)
            if not (again / name).is_file()
            or not (folder / name).is_file()
            or (again / name).read_bytes() != (folder / name).read_bytes()
        ]


def _pack(lab: Lab, period: Period, properties: Sequence[str]) -> evidence.Pack:
    frames = Frames(lab, period)
    results = frames.results()
    with_values = results["property"].unique().to_list()
    chosen = [key for key in lab.specs.properties if key in (properties or with_values)]
    results = results.filter(pl.col("property").is_in(chosen))
    if results.is_empty():
        what = f"holds no result of {', '.join(chosen) or 'any property'} ({words(lab, period)})"
        raise InputError(Problem("period", what, "choose a longer one, or other properties"))
    taken = results["sample"].unique().implode()
    every = frames.named("samples")
    samples = every.filter(pl.col("id").is_in(taken) | pl.col("revises").is_in(taken))
    then = Then(lab, period)
    charts = {
        key: stretch(lab, key, period, then) for key in chosen if lab.specs.properties[key].chart != "none"
    }
    texts = _texts(lab, frames, samples)
    found: dict[str, pl.DataFrame] = {
        "tests": shaping.tests_wide(results, samples, chosen),
        "results": results,
        "readings": frames.named("readings").filter(pl.col("property").is_in(chosen)),
        "samples": samples,
        "corrections": corrections(results, frames.named("amendments")),
        "methods": methods_used(lab, results, samples),
        "signals": _signals(charts),
        "reactions": reactions_of(lab, results, samples, frames.named("steps_done")),
    }
    for name in KINDS:
        if name not in found:
            found[name] = _records(lab, frames, name, chosen, samples, period)
    tables = _described(lab, found)
    about = about_of(lab, period) | {"properties": ", ".join(chosen), "written_by": "sandlab evidence"}
    return evidence.Pack(about, tables, texts, _drawn(lab, charts))


def _described(lab: Lab, found: Mapping[str, pl.DataFrame]) -> tuple[reporting.Exported, ...]:
    catalogue = {key: (entry.unit, entry.label) for key, entry in lab.specs.properties.items()}
    return tuple(
        reporting.Exported(name, frame, reporting.described(frame, catalogue))
        for name, frame in found.items()
    )


def _records(
    lab: Lab, frames: Frames, name: str, chosen: Sequence[str], samples: pl.DataFrame, period: Period
) -> pl.DataFrame:
    """One kind of record, only what belongs to the chosen properties where it belongs to one."""
    if name == "baselines":
        return in_force_of(shaping.unfolded(lab.store.table(name, lab.system)), chosen, period)
    frame = frames.named(name)
    if name in OF_A_PROPERTY:
        return frame.filter(pl.col("property").is_in(chosen))
    if name == "comments":
        return frame.filter(pl.col("sample").is_in(samples["id"].implode()))
    return frame


def _texts(lab: Lab, frames: Frames, samples: pl.DataFrame) -> dict[str, str]:
    """Spec texts that samples, corrections and recommendations of the pack name."""
    named = set(samples["specs_hash"].to_list())
    for name in ("amendments", "recommendations"):
        named |= set(frames.raw(name)["specs_hash"].to_list())
    found = {key: lab.store.specs_text(key) for key in named}
    return {key: text for key, text in found.items() if text is not None}


def _signals(charts: Mapping[str, ChartFacts]) -> pl.DataFrame:
    """Every alarm of the charts in the period."""
    rows = [
        (one.at, key, one.rule, one.reason, facts.points[one.index].sample)
        for key, facts in charts.items()
        for one in facts.signals
        if one.alarm
    ]
    types = {
        "at": pl.Datetime("us", "UTC"),
        "property": pl.String(),
        "rule": pl.String(),
        "reason": pl.String(),
        "sample": pl.String(),
    }
    return pl.DataFrame(rows, schema=types, orient="row").sort("at", "property", "rule")


def _drawn(lab: Lab, charts: Mapping[str, ChartFacts]) -> dict[str, str]:
    return {
        key: chart_svg(picture(facts, mark=lab.mark), zone=lab.zone, width=1000, height=380)
        for key, facts in charts.items()
        if len(facts.points) > 1
    }
