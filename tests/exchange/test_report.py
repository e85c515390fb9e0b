"""The report names every place, what to do once for each kind, and every count."""

from __future__ import annotations

from sandlab.exchange import ImportPlan, report_lines


def test_every_note_is_in_the_report(messy_plan: ImportPlan) -> None:
    """Each refused and doubtful place stands in a line of its own with its cell."""
    lines = report_lines(messy_plan)
    assert lines[0] == "messy.xlsx: dry run, nothing is saved"
    for note in messy_plan.notes:
        if note.severity != "skipped":
            place = f"Sand 2026 {note.column or 'row '}{note.row}"
            assert sum(line.strip().startswith(place) and note.what in line for line in lines) == 1
            assert f"    -> {note.do}" in lines


def test_counts_and_span_are_printed(messy_plan: ImportPlan) -> None:
    """Numbers before words, with the first and the last time in the zone of the sheet."""
    lines = [line.split() for line in report_lines(messy_plan, saved=True)]
    assert ["messy.xlsx:", "imported"] in lines
    assert ["samples", "10"] in lines
    assert ["not", "measured", "4"] in lines
    assert ["moisture", "7"] in lines
    assert ["from", "2026-03-04", "06:00", "to", "2026-03-06", "14:00", "(Europe/Berlin)"] in lines


def test_a_limit_says_how_much_it_leaves_out(messy_plan: ImportPlan) -> None:
    """A short report does not hide that it is short."""
    full, short = report_lines(messy_plan), report_lines(messy_plan, limit=2)
    left_out = [int(line.split()[1]) for line in short if line.startswith("  and ")]
    assert len(full) - len(short) + len(left_out) == sum(left_out)
