"""An import plan in words: counts first, then every place that needs a person's eye."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import asdict

from sandlab.exchange.notes import ImportPlan, RowNote, Severity

_HEADINGS: tuple[tuple[Severity, str], ...] = (
    ("refused", "Refused, not imported:"),
    ("conflict", "Against what is recorded already, not imported:"),
    ("doubtful", "Doubtful, imported all the same:"),
    ("skipped", "Skipped:"),
)
_ROWS_NAMED = 12


def report_lines(plan: ImportPlan, *, saved: bool = False, limit: int | None = None) -> list[str]:
    """The report of a plan, dry (`saved` false) or carried out; at most `limit` lines for each kind."""
    lines = [f"{plan.file}: {'imported' if saved else 'dry run, nothing is saved'}", *_counted(plan)]
    for severity, heading in _HEADINGS:
        notes = [note for note in plan.notes if note.severity == severity]
        told = list(_told(notes))
        shown = told if limit is None else told[:limit]
        if told:
            lines += ["", heading, *(f"  {line}" for line in shown)]
        if len(shown) < len(told):
            lines.append(f"  and {len(told) - len(shown)} lines more")
    return lines


def _counted(plan: ImportPlan) -> Iterator[str]:
    for name, number in asdict(plan.counts).items():
        yield f"  {name.replace('_', ' '):<14}{number:>7}"
    if plan.unread:
        yield f"  sheets not read, as the mapping does not name them: {', '.join(plan.unread)}"
    if plan.samples:
        first, last = (plan.samples[index].at.astimezone(plan.zone) for index in (0, -1))
        yield f"  from {first:%Y-%m-%d %H:%M} to {last:%Y-%m-%d %H:%M} ({plan.zone.key})"
    per_property = Counter(result.property for sample in plan.samples for result in sample.results)
    for name, number in sorted(per_property.items()):
        yield f"    {name:<28}{number:>7}"


def _told(notes: Sequence[RowNote]) -> Iterator[str]:
    """One line a place, what to do once below those that share it; places that need nothing share a line."""
    for do in dict.fromkeys(note.do for note in notes):
        group = [note for note in notes if note.do == do]
        if do:
            yield from map(_line, group)
            yield f"  -> {do}"
        else:
            yield from _together(group)


def _line(note: RowNote) -> str:
    written = f" '{note.text}'" if note.text and f"'{note.text}'" not in note.what else ""
    return f"{note.sheet} {note.column or 'row '}{note.row}{written}: {note.what}"


def _together(notes: Sequence[RowNote]) -> Iterator[str]:
    """Rows of one sheet left out for the same reason, in one line."""
    # Side-by-side blocks can note the same row twice: a dict keeps each row once, in order.
    rows: dict[tuple[str, str], dict[int, None]] = {}
    for note in notes:
        reason = "says the same as an earlier row" if note.what.startswith("says the same") else note.what
        rows.setdefault((note.sheet, reason), {})[note.row] = None
    for (sheet, reason), numbers in rows.items():
        more = f" and {len(numbers) - _ROWS_NAMED} more" if len(numbers) > _ROWS_NAMED else ""
        yield f"{sheet} row {', '.join(map(str, list(numbers)[:_ROWS_NAMED]))}{more}: {reason}"
