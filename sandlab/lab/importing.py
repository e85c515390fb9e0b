"""Taking in a file: planned in full first, then saved whole or not at all."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

from sandlab.exchange import ImportPlan, load_mapping, plan_import, report_lines
from sandlab.lab.deriving import derived
from sandlab.lab.facts import ImportFacts, NoteFacts
from sandlab.lab.opening import Lab

# Lines of the report for each kind of note; the notes themselves are complete.
REPORTED = 20


def import_file(lab: Lab, path: Path, mapping: Path, *, by: str, commit: bool) -> ImportFacts:
    """What a file would add, or with `commit` has added; raises ImportRefused when it cannot be read."""
    chosen = load_mapping(mapping, lab.specs)
    plan = plan_import(path, chosen, specs=lab.specs, now=lab.now(), by=by)
    known = lab.store.known_ids(one.id for one in plan.samples)
    added = len(plan.samples) - len(known)
    if commit and added:
        samples = [
            one.model_copy(update={"results": (*one.results, *derived(lab.specs, one.results))})
            for one in plan.samples
        ]
        texts = {lab.specs.hash: lab.specs.canonical_text}
        added = lab.store.save(samples, specs_texts=texts, known="skip")
    return _facts(path, plan, committed=commit, added=added, known=len(known))


def _facts(path: Path, plan: ImportPlan, *, committed: bool, added: int, known: int) -> ImportFacts:
    verb = "added" if committed else "would be added"
    words = f"{added} samples {verb}, {known} known already."
    if not committed:
        words += " Nothing is saved: run it again with --commit."
    return ImportFacts(
        file=path.name,
        committed=committed,
        counts=asdict(plan.counts),
        already_known=known,
        notes=tuple(
            NoteFacts(
                sheet=one.sheet,
                row=one.row,
                column=one.column,
                text=one.text,
                what=one.what,
                do=one.do,
                severity=one.severity,
            )
            for one in plan.notes
        ),
        report=tuple(report_lines(plan, saved=committed, limit=REPORTED)),
        words=words,
    )
