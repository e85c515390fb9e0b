"""Small words of the command line: NAME=VALUE pairs, readings, and which facts a command prints."""

from __future__ import annotations

from collections.abc import Iterable

from sandlab.errors import InputError, Problem

SCHEMAS = {
    "due": "DueFacts",
    "sheet": "SheetFacts",
    "overview": "OverviewFacts",
    "chart": "ChartFacts",
    "figures": "FiguresFacts",
    "propose": "ProposalFacts",
    "runlength": "RunLengthFacts",
    "design": "DesignFacts",
    "factors": "FactorsFacts",
    "additions": "MullerFacts",
    "balance": "SandBalanceFacts",
    "forecast": "SandForecastFacts",
    "identify": "IdentificationFacts",
    "books": "BooksFacts",
    "record": "SavedFacts",
    "correct": "SavedFacts",
    "freeze": "BaselineFacts",
    "relation": "RelationFacts",
    "chart-with": "BesideFacts",
    "leave-out": "PointFacts",
    "event": "EventFacts",
    "advise": "AdviceFacts",
    "advise-stream": "StreamedFacts",
    "stream-line": "StreamLine",
    "release": "MullerFacts",
    "acknowledge": "MullerFacts",
    "override": "MullerFacts",
    "batch": "BatchFacts",
    "handover": "HandoverFacts",
    "steps": "StepsFacts",
    "remark": "SampleFacts",
    "explain": "ExplanationFacts",
    "produced": "WrittenFacts",
    "planned": "WrittenFacts",
    "receipt": "WrittenFacts",
    "probe": "WrittenFacts",
    "counted": "WrittenFacts",
    "weighed": "WrittenFacts",
    "accept": "AcceptedFacts",
    "check": "CheckFacts",
    "import": "ImportFacts",
    "instruments": "InstrumentsFacts",
    "export": "ExportFacts",
    "report": "ReportFacts",
    "evidence": "PackFacts",
}


def sides(written: Iterable[str]) -> list[tuple[str, str]]:
    """The two sides of each NAME=VALUE; raises InputError naming every one without a sign."""
    found = [one.partition("=") for one in written]
    problems = [
        Problem(name, "has no '='", "write NAME=VALUE, for example moisture=3.2")
        for name, sign, _ in found
        if not sign
    ]
    if problems:
        raise InputError(problems)
    return [(name.strip(), value.strip()) for name, _, value in found]


def pairs(written: Iterable[str]) -> dict[str, str]:
    """NAME=VALUE as a mapping."""
    return dict(sides(written))


def readings_of(written: str) -> tuple[tuple[str, ...], ...]:
    """Readings of one test: ';' parts the repeats, ':' the readings of one (a comma is a decimal mark)."""
    return tuple(tuple(part.strip() for part in repeat.split(":")) for repeat in written.split(";"))
