"""What happened in a shift or a month: the facts, and the file for the meeting."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

from sandlab import reporting
from sandlab.drawing import state
from sandlab.errors import SandlabError, impossible
from sandlab.lab.bookkeeping import period_books
from sandlab.lab.facts import BooksFacts, ChartFacts
from sandlab.lab.facts.report import ReportFacts, ReportFileFacts
from sandlab.lab.opening import Lab
from sandlab.lab.periods import Period
from sandlab.lab.report_answers import (
    TOGETHER,
    corrections_of,
    decisions_of,
    notes_of,
    reactions_of,
    signals_of,
    written_down,
)
from sandlab.lab.report_due import tests_done
from sandlab.lab.report_pages import document
from sandlab.lab.report_parts import additions_of, capability_of, results_of
from sandlab.lab.shifts import Stretch, named_month, named_shift
from sandlab.lab.specs_then import Then
from sandlab.lab.stretches import stretch
from sandlab.lab.timeline import events

LEAD = timedelta(hours=16)
"""A shift's charts show the two shifts before it too."""
LEAST_POINTS = 8
REPORTS = "reports"
DIFFER = "Judged by what was in force when each test was taken, which differs from today's"


@dataclass(frozen=True, slots=True)
class Report:
    """The facts of a report and the charts that its pages draw."""

    facts: ReportFacts
    charts: Mapping[str, ChartFacts]


def shift_report(lab: Lab, shift: str = "last") -> Report:
    """One shift: "now", "last", or the one that a local time lies in; raises InputError."""
    return _report(lab, named_shift(lab, shift), month=False)


def monthly_review(lab: Lab, month: str) -> Report:
    """One month, written like 2026-03; raises InputError."""
    return _report(lab, named_month(lab, month), month=True)


def shift_paper(lab: Lab) -> ReportFileFacts:
    """The running shift as a PDF in the plant's own folder, under a name of its own."""
    report = shift_report(lab, "now")
    start, made = (at.astimezone(lab.zone) for at in (report.facts.since, report.facts.made_at))
    name = f"shift_{start:%Y-%m-%d_%H%M}_{made:%H%M%S}.pdf"
    facts = write_report(lab, report, lab.folder / REPORTS / name)
    words = f"Report of this shift: {REPORTS}/{name} in the plant's folder."
    return facts.model_copy(update={"words": words})


def write_report(lab: Lab, report: Report, out: Path) -> ReportFileFacts:
    """The report as a PDF or a self-contained HTML page, as the name ends; raises InputError."""
    if out.suffix not in (".pdf", ".html"):
        raise impossible(str(out), "is no name of a report", "let it end in .pdf or .html")
    pages = document(lab, report.facts, report.charts)
    count = 1
    with reporting.fresh_file(out) as file:
        if out.suffix == ".html":
            from sandlab.reporting.html import html_page

            file.write_bytes(html_page(pages).encode())
        else:
            # Imported here: the library is only needed for PDF.
            from sandlab.reporting.pdf import pdf_bytes

            content, count = pdf_bytes(pages)
            file.write_bytes(content)
    words = f"{report.facts.name}: {count} page{'s' if count > 1 else ''} in {out}."
    return ReportFileFacts(file=str(out), pages=count, words=words, report=report.facts)


def _report(lab: Lab, asked: Stretch, *, month: bool) -> Report:
    period = asked.period
    then = Then(lab, period)
    results = results_of(lab, period, then)
    shown = period if month else Period(asked.start - LEAD, period.until)
    charts = {
        one.property: stretch(lab, one.property, period, then, shown=shown)
        for one in results
        if lab.specs.properties[one.property].chart != "none"
    }
    signals = signals_of(charts, written_down(lab, period), TOGETHER["month" if month else "shift"])
    reactions = reactions_of(lab, period)
    noted = [one for one in events(lab, asked.start) if period.holds(one.at) and one.kind != "handover"]
    hourly = min(lab.sand.schedule.values(), key=lambda one: one.every_min or 1440, default=None)
    wanted = set(charts) if month or hourly is None else set(hourly.properties)
    drawn = tuple(key for key, facts in charts.items() if key in wanted and len(facts.points) >= LEAST_POINTS)
    facts = ReportFacts(
        kind="month" if month else "shift",
        plant=lab.specs.plant.name,
        system=lab.sand.label,
        name=asked.name,
        since=asked.start,
        until=asked.end,
        made_at=lab.now(),
        words=(),
        results=results,
        signals=signals,
        reactions=reactions,
        additions=additions_of(lab, period),
        decisions=decisions_of(lab, period),
        corrections=corrections_of(lab, period),
        notes=notes_of(lab, period),
        events=tuple(noted),
        capability=capability_of(lab, period, results, then) if month else (),
        books=_books(lab, asked) if month else None,
        charts=drawn,
    )
    words = _words(facts, tests_done(lab, period), running=asked.end > lab.now())
    return Report(facts.model_copy(update={"words": words}), charts)


def _books(lab: Lab, asked: Stretch) -> BooksFacts | None:
    """The books of the sand, where enough was written down for them."""
    try:
        return period_books(lab, window_from=asked.start, window_to=min(asked.end, lab.now()))
    except (SandlabError, ValueError):
        return None


def _words(facts: ReportFacts, tests: str, *, running: bool) -> tuple[str, ...]:
    """What the meeting has to know first."""
    said = []
    if running:
        said.append(f"This {facts.kind} is still running.")
    if not facts.results:
        return (*said, "Nothing was tested.")
    past = [one for one in facts.results if one.past]
    outside = [one for one in facts.results if one.outside]
    if past:
        counts = ", ".join(f"{one.label} {one.past} of {one.count}" for one in past)
        said.append(f"{state('past_reaction_limit').full} Past a reaction limit: {counts}.")
    if outside:
        counts = ", ".join(f"{one.label} {one.outside} of {one.count}" for one in outside)
        said.append(f"{state('outside_tolerance').full} Outside tolerance: {counts}.")
    else:
        said.append("Every value with a tolerance was inside it.")
    changed = [f"{one.label} {one.judged_by}" for one in facts.results if one.judged_by]
    if changed:
        said.append(f"{DIFFER}: {'; '.join(changed)}.")
    open_ = sum(one.open for one in facts.reactions)
    if open_:
        said.append(f"{open_} reaction{'s' if open_ > 1 else ''} still open at the end.")
    if tests:
        said.append(tests)
    return tuple(said)
