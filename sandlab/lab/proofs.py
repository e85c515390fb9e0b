"""Tables of an evidence pack that are worked out from records: corrections, methods, reactions, limits."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime

import polars as pl

from sandlab.lab.opening import Lab
from sandlab.lab.periods import Period
from sandlab.lab.specs_then import specs_then, target_of
from sandlab.methods.registry import formula
from sandlab.reactions import past_reaction, plan_entry

UTC_TIME = pl.Datetime("us", "UTC")


def corrections(results: pl.DataFrame, amendments: pl.DataFrame) -> pl.DataFrame:
    """What each corrected value was before and after, by whom, when and why."""
    rows = results.sort("sample", "property", "revision").with_columns(
        pl.col("value").shift(1).over("sample", "property").alias("before")
    )
    why = amendments.select("sample", "property", "revision", "reason")
    return (
        rows.filter(pl.col("revision") > 0)
        .join(why, on=["sample", "property", "revision"], how="left")
        .select(
            "taken_at",
            "property",
            "before",
            pl.col("value").alias("after"),
            "flags",
            "unit",
            "by",
            "recorded_at",
            "reason",
            "revision",
            "sample",
        )
        .sort("taken_at", "property", "sample", "revision")
    )


def methods_used(lab: Lab, results: pl.DataFrame, samples: pl.DataFrame) -> pl.DataFrame:
    """Each method by which a value was obtained, as the specs in force described it, with its source."""
    used = (
        results.filter(pl.col("method") != "")
        .join(samples.select("id", "specs_hash"), left_on="sample", right_on="id")
        .select("method", "specs_hash")
        .unique()
        .sort("method", "specs_hash")
    )
    rows = []
    for key, hash_ in used.iter_rows():
        specs = specs_then(lab, hash_)
        method = specs.methods.get(key)
        if method is None:
            continue
        source = specs.sources.get(method.source)
        rows.append(
            (
                key,
                method.property,
                method.label,
                method.function,
                formula(method.function),
                ", ".join(method.readings) or ", ".join(method.derived_from.values()),
                json.dumps(method.constants, sort_keys=True, ensure_ascii=False),
                method.repeats.model_dump_json() if method.repeats else "",
                "" if source is None else f"{source.author} {source.year or ''}: {source.title}".strip(" :"),
                method.place,
                hash_,
            )
        )
    return pl.DataFrame(rows, schema=dict.fromkeys(_METHODS, pl.String()), orient="row")


_METHODS = (
    "method",
    "property",
    "label",
    "function",
    "formula",
    "readings",
    "constants",
    "repeats",
    "source",
    "place",
    "specs_hash",
)


def reactions_of(lab: Lab, results: pl.DataFrame, samples: pl.DataFrame, done: pl.DataFrame) -> pl.DataFrame:
    """Every value in force past a reaction limit: the plan's steps, which were taken, when it was back."""
    held = results.filter("in_force").sort("taken_at", "sample")
    hashes: dict[str, str] = dict(samples.select("id", "specs_hash").iter_rows())
    kept = {hash_: specs_then(lab, hash_) for hash_ in set(hashes.values())}
    taken = _steps_taken(done)
    rows = []
    for key in held["property"].unique().sort().to_list():
        tests = list(
            held.filter(property=key).select("sample", "taken_at", "value", "unit", "by").iter_rows()
        )
        each = [kept.get(hashes.get(sample, ""), lab.specs) for sample, *_ in tests]
        targets = [target_of(specs, lab.system, key) for specs in each]
        signals = [
            past_reaction(test[2], target) if target else ""
            for test, target in zip(tests, targets, strict=True)
        ]
        for place, (sample, at, value, unit, by) in enumerate(tests):
            specs, target, signal = each[place], targets[place], signals[place]
            if target is None or not signal:
                continue
            _, plan = plan_entry(specs.reactions, key, signal)
            later = (one[1] for one, past in zip(tests[place:], signals[place:], strict=True) if not past)
            limit = target.reaction[0 if signal.endswith("low") else 1]
            steps = "; ".join(plan.steps)
            answers = "; ".join(taken.get((sample, key), ()))
            back = next(later, None)
            asked = plan.who, plan.within_min
            rows.append((at, key, value, unit, signal, limit, by, steps, *asked, answers, back, sample))
    return pl.DataFrame(rows, schema=_REACTIONS, orient="row").sort("taken_at", "property")


_REACTIONS: dict[str, pl.DataType] = {
    "taken_at": UTC_TIME,
    "property": pl.String(),
    "value": pl.Float64(),
    "unit": pl.String(),
    "signal": pl.String(),
    "limit": pl.Float64(),
    "by": pl.String(),
    "steps": pl.String(),
    "who": pl.String(),
    "within_min": pl.Int64(),
    "done": pl.String(),
    "back_at": UTC_TIME,
    "sample": pl.String(),
}


def _steps_taken(done: pl.DataFrame) -> dict[tuple[str, str], list[str]]:
    """Steps that were taken, in words, by sample and property."""
    found: dict[tuple[str, str], list[str]] = {}
    for row in done.sort("at").iter_rows(named=True):
        found_what = f" ({row['reason']})" if row["reason"] else ""
        words = f"{row['step']} - {row['by']} {row['at']:%Y-%m-%d %H:%M} UTC{found_what}"
        found.setdefault((row["sample"], row["property"]), []).append(words)
    return found


def in_force_of(baselines: pl.DataFrame, chosen: Sequence[str], period: Period) -> pl.DataFrame:
    """The baselines of the chosen properties that were in force at some time of the period.

    Where none was frozen by its end, the first one frozen afterwards, which the charts are drawn with.
    """
    kept: list[str] = []
    for key in chosen:
        own = baselines.filter(property=key).sort("recorded_at", "id").select("id", "recorded_at")
        times: list[tuple[str, datetime]] = list(own.iter_rows())
        until = [one for one in times if period.until is None or one[1] <= period.until]
        before = [one for one in until if period.since is not None and one[1] < period.since]
        during = until[len(before) :]
        kept += [id_ for id_, _ in (*before[-1:], *during) or times[:1]]
    return baselines.filter(pl.col("id").is_in(kept))
