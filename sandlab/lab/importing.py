"""Taking in a file: planned in full first, then saved whole or not at all."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path

from sandlab.errors import ImportRefused, NeedsConfirmation, Problem
from sandlab.exchange import ImportPlan, Tell, plan_import, quiet, report_lines
from sandlab.exchange.proposing import Proposal
from sandlab.lab.deriving import Derived, derived
from sandlab.lab.facts import GuessFacts, ImportFacts, NoteFacts, ProblemFacts
from sandlab.lab.import_mappings import Chosen, choose_mapping
from sandlab.lab.matching import Matched, matched
from sandlab.lab.opening import Lab
from sandlab.lab.pausing import collection_paused
from sandlab.lab.taking_in import take_in
from sandlab.records import Sample
from sandlab.reporting.taking_back import is_export

# Lines of the report for each kind of note; the notes themselves are complete.
REPORTED = 20
REFUSED = "refused"
"""What is confirmed to save a file without its refused places."""


@dataclass(frozen=True, slots=True)
class Prepared:
    """A dry run: the file's mapping, its plan, what of it is new; an export has spec texts and no mapping."""

    path: Path
    chosen: Chosen | None
    plan: ImportPlan
    new: Matched
    specs_texts: Mapping[str, str] = field(default_factory=dict)


def import_file(
    lab: Lab,
    path: Path,
    mapping: Path | None = None,
    *,
    by: str,
    commit: bool,
    confirmed: Collection[str] = (),
    tell: Tell = quiet,
) -> ImportFacts:
    """What a file would add, or with `commit` has added; raises ImportRefused when it cannot be read.

    Without a `mapping` a kept one with the same heads is used, else one is proposed, kept, and only tried:
    nothing is saved by a mapping that nobody has seen. An export of our own needs none. All or nothing: where
    places are refused the rest is saved only when that is confirmed, else NeedsConfirmation.
    """
    prepared = prepare(lab, path, mapping, by=by, tell=tell)
    if not commit or (prepared.chosen and prepared.chosen.proposal is not None):
        return facts_of(prepared, committed=False)
    count = prepared.plan.counts.refused
    if count and REFUSED not in confirmed:
        what = f"{count} {'place is' if count == 1 else 'places are'} refused, so nothing is saved"
        do = "look at the dry run and mend the file, or confirm that the rest is saved without them"
        raise NeedsConfirmation([Problem(path.name, what, do)], [REFUSED])
    return save(lab, prepared, tell=tell)


def prepare(lab: Lab, path: Path, mapping: Path | None = None, *, by: str, tell: Tell = quiet) -> Prepared:
    """The dry run; `tell` may raise to break it off. Raises ImportRefused."""
    if not by.strip():
        raise ImportRefused(Problem("initials", "are missing", "say who imports with --by"))
    if mapping is None and is_export(path):
        with collection_paused():
            return Prepared(path, None, *take_in(lab, path, tell))
    chosen = choose_mapping(lab, path, mapping)
    with collection_paused():
        plan = plan_import(path, chosen.mapping, specs=lab.specs, now=lab.now(), by=by, tell=tell)
        tell("comparing with what is recorded", 0, 1)
        return Prepared(path, chosen, plan, matched(lab, plan))


def save(lab: Lab, prepared: Prepared, *, tell: Tell = quiet) -> ImportFacts:
    """Write all that is new in one transaction; `tell` may raise, and nothing is saved then."""
    with collection_paused():
        if prepared.chosen is None:
            samples, texts = list(prepared.new.samples), dict(prepared.specs_texts)
        else:
            samples = _derived(lab, prepared.new.samples, tell)
            texts = {lab.specs.hash: lab.specs.canonical_text}
        if samples or prepared.new.records:
            lab.store.save([*samples, *prepared.new.records], specs_texts=texts, known="skip", tell=tell)
    return facts_of(prepared, committed=True)


def _derived(lab: Lab, samples: Sequence[Sample], tell: Tell) -> list[Sample]:
    """The samples with the results that follow from others."""
    found = []
    before: Derived = {}
    for done, one in enumerate(samples, start=1):
        more = derived(lab.specs, one.results, before=before)
        found.append(one.model_copy(update={"results": (*one.results, *more)}) if more else one)
        if done % 1000 == 0:
            tell("deriving results", done, len(samples))
    return found


def facts_of(prepared: Prepared, *, committed: bool) -> ImportFacts:
    """The report of a dry run, or of what was saved."""
    plan, new, chosen = prepared.plan, prepared.new, prepared.chosen
    proposal = chosen.proposal if chosen else None
    plan = replace(plan, notes=(*plan.notes, *new.conflicts))
    added = len(new.samples) + len(new.records)
    return ImportFacts(
        file=prepared.path.name,
        committed=committed,
        mapping=str(chosen.path) if chosen else "",
        proposed=proposal is not None,
        guesses=_guesses(proposal),
        questions=tuple(
            ProblemFacts(where=one.where, what=one.what, do=one.do)
            for one in (proposal.questions if proposal else ())
        ),
        counts=asdict(plan.counts),
        added=added,
        already_known=new.known,
        conflicts=len(new.conflicts),
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
        words=_words(chosen, new, added, committed=committed),
    )


def _words(chosen: Chosen | None, new: Matched, added: int, *, committed: bool) -> str:
    kinds = [(len(new.samples), "samples"), (len(new.records), "other records")]
    told = " and ".join(f"{count} {name}" for count, name in kinds if count) or "0 samples"
    words = f"{told} {'added' if committed else 'would be added'}, {new.known} known already."
    if new.conflicts and chosen is None:
        count = len(new.conflicts)
        words += f" {count} record{'s differ' if count > 1 else ' differs'} from what is recorded; left out."
    elif new.conflicts:
        differ = "1 value differs" if len(new.conflicts) == 1 else f"{len(new.conflicts)} values differ"
        words += f" {differ} from what is recorded, and what the file says there is left out."
    if committed:
        return words
    if chosen is None:
        return f"{words} Nothing is saved: it is an export of sandlab; run it again with --commit."
    if chosen.proposal is not None:
        return f"{words} Nothing is saved: look at the mapping in {chosen.path}, then run it again."
    return f"{words} Nothing is saved: it was read by {chosen.path}; run it again with --commit."


def _guesses(proposal: Proposal | None) -> tuple[GuessFacts, ...]:
    return tuple(
        GuessFacts(
            sheet=one.sheet,
            column=one.column,
            head=one.head,
            means=one.means,
            confidence=round(one.confidence, 3),
            word=one.word,
            reason=one.reason,
        )
        for one in (proposal.guesses if proposal else ())
    )
