"""The page that explains an evidence pack to somebody who has never seen the tool."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from textwrap import wrap

from sandlab.reporting.columns import Exported

FILES = {
    "tests": "a row per sample, a column per property: the values in force",
    "results": "every value there has been, corrected ones too; in_force marks the valid one",
    "readings": "the raw readings behind the values that were worked out from readings",
    "samples": "when and where the sand was taken, by whom, and under which specs",
    "corrections": "a value before and after each correction, by whom and why; left out of limits, it stays",
    "amendments": "the records of these corrections and of values that came later",
    "methods": "how values were obtained: formula, readings, apparatus constants, source and place in it",
    "signals": "alarms of the control charts",
    "baselines": "the chart limits in force: from which stretch, who froze them, when and why",
    "reactions": "results past a reaction limit, what the plan asks for, what was done, when it was back",
    "steps_done": "steps of the reaction plan that were taken, by whom",
    "recommendations": "additions as computed; detail is the whole answer with what it rests on",
    "releases": "who let the muller see which recommendation, with the kilograms",
    "acknowledgements": "the muller operator has set the released additions",
    "overrides": "the operator ran other kilograms, and why",
    "batches": "the kilograms that really went into each batch",
    "production": "what was poured, with the sand and cores it took",
    "receipts": "materials delivered, with lot and certificate",
    "planned_jobs": "what was to be poured, with the sand and cores it would take",
    "belt_readings": "moisture and temperature of the return sand as a probe on the belt gave them",
    "stock_counts": "materials counted in their stores",
    "feeder_checks": "what a feeder showed and what was weighed",
    "plant_values": "wear, losses and other values of the plant, in force from then on",
    "events": "notes on the time line, handover notes among them",
    "notes_read": "who read which handover note",
    "comments": "remarks on samples",
}


EXPLAINED = """\
EVIDENCE: {plant}, sand system {system}
Period:     {from} up to {to}
            (times here and in every file are UTC; the plant's clock is {time_zone})
Properties:
{properties}

What this folder is
  Records of moulding-sand tests and additions as they were written down, with everything that
  explains them. Records are never changed: a correction is a record of its own that names what it
  corrects, who made it, when and why. Nothing in this folder depends on when or where it was made:
  the same records give the same bytes.

Tables (text, comma separated, UTF-8, decimal point; file, rows, what a row is)
{tables}
  columns.csv names the unit and the meaning of every column.

Other files
  charts/*.svg        the charts of the period, with the limits in force. A filled triangle is an
                      alarm, a row of signals.csv; an open one ends a run that is worth a look and
                      alarms nobody; rings are the tests that belong to it; a cross is a test that
                      was left out of limits
  specs/<hash>.json   the specs in force: limits, targets, methods, reaction plan; a sample names
                      those it was taken under by their SHA-256, which is also the name of the file
  records.jsonl       the records once more, one a line, in the order they were written down
  chain.csv           SHA-256 of each line, and of the link before it joined to that
  about.json          what was asked for
  MANIFEST.sha256     SHA-256 of every other file

How to check it without any special tool
  sha256sum --check MANIFEST.sha256
  sed -n 1p records.jsonl | tr -d '\\n' | sha256sum     gives the digest of line 1 in chain.csv
  chain of line n = SHA-256 of the text: chain of line n-1, then digest of line n
  (the chain begins from sixty-four zeros)
  last link: {head}

What the digests prove
  That nothing was changed since somebody noted the last link: whoever can rewrite the whole folder
  can also compute new digests. Note the last link when you receive the folder, or have it made
  again from the plant's records and compare.
"""


def readme(about: Mapping[str, str], tables: Sequence[Exported], head: str) -> str:
    """The page as text."""
    rows = [
        f"  {f'{one.kind}.csv':21} {one.frame.height:7}  {FILES.get(one.kind, 'records of this kind')}"
        for one in tables
    ]
    properties = "\n".join(wrap(about["properties"], 96, initial_indent="  ", subsequent_indent="  "))
    said = dict(about) | {"properties": properties, "tables": "\n".join(rows), "head": head or "no records"}
    return EXPLAINED.format_map(said)
