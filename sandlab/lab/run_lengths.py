"""Charts on paper: run lengths of a chart as set, settings for a wish, factors of subgroups."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from sandlab import charts
from sandlab.charts.run_length.rules import zones_can_count
from sandlab.charts.words import about
from sandlab.errors import InputError, Problem, impossible, nearest
from sandlab.lab.facts import DesignFacts, FactorRowFacts, FactorsFacts, RunLengthFacts

LARGEST_SIZE = 25


@dataclass(frozen=True, slots=True)
class Setting:
    """A chart as set: its figures by name; those not given are usual, or solved for from `once_in`."""

    figures: Mapping[str, float] = field(default_factory=dict)
    rules: tuple[str, ...] = ("beyond_limit",)
    once_in: float | None = None


Answer = tuple[dict[str, float], "charts.RunLengthDistribution | float"]


def run_length(chart: str, setting: Setting) -> RunLengthFacts:
    """How many tests a chart runs until it alarms; raises InputError for what is unknown or out of range."""
    if chart not in CHARTS:
        raise impossible(chart, "is no chart with a run length", nearest(chart, list(CHARTS)))
    takes, work = CHARTS[chart]
    wrong = [Problem(name, f"a chart '{chart}' has none", f"it has {_listed(takes)}") for name in
             setting.figures if name not in takes]  # fmt: skip
    wrong += [
        Problem(name, f"{value:g} is no whole number", "give a whole number")
        for name, value in setting.figures.items()
        if name in WHOLE and value != int(value)
    ]
    if setting.figures.get("sides", 2.0) not in (1.0, 2.0):
        wrong.append(Problem("sides", f"{setting.figures['sides']:g}", "give 1 or 2"))
    if setting.once_in is not None and chart not in SOLVED:
        wrong.append(Problem("once in", f"is not solved for '{chart}'", f"only for {_listed(SOLVED)}"))
    if wrong:
        raise InputError(wrong)
    settings, found = work(setting)
    law = found if isinstance(found, charts.RunLengthDistribution) else None
    mean = found if not isinstance(found, charts.RunLengthDistribution) else found.mean
    low, middle, high = (law.quantile(q) for q in (0.05, 0.5, 0.95)) if law else (None, None, None)
    return RunLengthFacts(
        chart=chart,
        settings=settings,
        rules=setting.rules if chart == "rules" else (),
        mean=mean,
        median=middle,
        low=low,
        high=high,
        error=law.standard_error if law else 0.0,
        words=_words(chart, settings, mean, law),
    )


def _words(
    chart: str, settings: Mapping[str, float], mean: float, law: charts.RunLengthDistribution | None
) -> str:
    shift = settings.get("shift", 0.0)
    what = f"a shift of {shift:g} sigma is found" if shift else "an alarm comes although nothing is wrong"
    # With limits from a baseline the figure holds within 12 %, else to the digits shown.
    tests = f"about {about(mean)}" if "baseline" in settings else f"{mean:.5g}"
    said = f"{NAMES[chart]}: {what} after {tests} tests on average"
    if law is not None:
        said += f", after {law.median:.0f} in half of all cases, {law.quantile(0.05):.0f} to "
        said += f"{law.quantile(0.95):.0f} in 9 of 10"
        if law.standard_error:
            said += f" (simulated; standard error of the mean {law.standard_error:.2g})"
    return f"{said}."


def _ewma(setting: Setting) -> Answer:
    at = {"weight": 0.2, "shift": 0.0, "start": 0.0, "steady": 0.0, "phi": 0.0, "share": 1.0} | dict(
        setting.figures
    )
    steady = bool(at["steady"])
    if setting.once_in is not None:
        at["width"] = charts.ewma_width(at["weight"], setting.once_in, steady_limits=steady)
    at.setdefault("width", 3.0)
    if at["phi"]:
        return at, charts.simulated_ewma_run_length(
            at["weight"], at["width"], np.random.default_rng(1),
            shift=at["shift"], phi=at["phi"], signal_share=at["share"],
        )  # fmt: skip
    return at, charts.ewma_run_length_distribution(
        at["weight"], at["width"], shift=at["shift"], start=at["start"], steady_limits=steady
    )


def _cusum(setting: Setting) -> Answer:
    at = {"shift": 0.0, "head_start": 0.0, "sides": 2.0} | dict(setting.figures)
    at.setdefault("reference", charts.cusum_reference(1.0))
    if setting.once_in is not None:
        at["decision"] = charts.cusum_decision(at["reference"], setting.once_in, sides=int(at["sides"]))
    at.setdefault("decision", 5.0)
    if at["sides"] == 1.0:
        return at, charts.cusum_run_length(
            at["reference"], at["decision"], shift=at["shift"], head_start=at["head_start"], sides=1
        )
    return at, charts.cusum_run_length_distribution(
        at["reference"], at["decision"], shift=at["shift"], head_start=at["head_start"]
    )


def _crosier(setting: Setting) -> Answer:
    at = {"reference": 0.5, "decision": 4.0, "shift": 0.0} | dict(setting.figures)
    return at, charts.crosier_run_length(at["reference"], at["decision"], shift=at["shift"])


def _individuals(setting: Setting) -> Answer:
    at = {"width": 3.0, "shift": 0.0, "phi": 0.0, "share": 1.0} | dict(setting.figures)
    if "baseline" not in at:
        return at, charts.individuals_run_length_distribution(
            at["phi"], at["width"], shift=at["shift"], signal_share=at["share"]
        )
    rate = charts.individuals_alarm_rate_ar1(
        at["phi"],
        at["width"],
        shift=at["shift"],
        baseline_count=int(at["baseline"]),
        signal_share=at["share"],
    )
    return at, rate.average_run_length


def _moving_range(setting: Setting) -> Answer:
    at = {"width": 3.0, "shift": 0.0} | dict(setting.figures)
    return at, charts.moving_range_run_length_distribution(
        at["width"], range_width=at.get("range_width"), shift=at["shift"]
    )


def _rules(setting: Setting) -> Answer:
    at = {"width": 3.0, "shift": 0.0, "phi": 0.0, "share": 1.0} | dict(setting.figures)
    if zones_can_count(setting.rules) and not at["phi"]:
        return at, charts.rules_run_length_distribution(setting.rules, shift=at["shift"], width=at["width"])
    return at, charts.simulated_run_length(
        setting.rules, np.random.default_rng(1),
        shift=at["shift"], width=at["width"], phi=at["phi"], signal_share=at["share"],
    )  # fmt: skip


def _mewma(setting: Setting) -> Answer:
    at = {"components": 2.0, "weight": 0.1, "shift": 0.0} | dict(setting.figures)
    components = int(at["components"])
    if setting.once_in is not None or "limit" not in at:
        at["limit"] = charts.mewma_limit(components, at["weight"], setting.once_in or 200.0)
    return at, charts.mewma_run_length(components, at["weight"], at["limit"], shift=at["shift"])


NAMES = {
    "ewma": "Moving average (EWMA)",
    "cusum": "Sums of departures (CUSUM)",
    "crosier": "Crosier's two-sided sum",
    "individuals": "Single tests",
    "moving_range": "Single tests with moving range",
    "rules": "Single tests with run rules",
    "mewma": "Moving average of several properties",
}
CHARTS: dict[str, tuple[tuple[str, ...], Callable[[Setting], Answer]]] = {
    "ewma": (("weight", "width", "shift", "start", "steady", "phi", "share"), _ewma),
    "cusum": (("reference", "decision", "shift", "head_start", "sides"), _cusum),
    "crosier": (("reference", "decision", "shift"), _crosier),
    "individuals": (("width", "shift", "phi", "share", "baseline"), _individuals),
    "moving_range": (("width", "range_width", "shift"), _moving_range),
    "rules": (("width", "shift", "phi", "share"), _rules),
    "mewma": (("components", "weight", "limit", "shift"), _mewma),
}
WHOLE = ("sides", "components", "baseline")
SOLVED = ("ewma", "cusum", "mewma")


def design(
    chart: str, *, once_in: float, shift: float, within: float, baseline: int | None = None
) -> DesignFacts:
    """The EWMA or CUSUM chart that alarms falsely once in so many tests and finds a shift soonest."""
    if chart == "ewma":
        average = charts.design_ewma(once_in, shift, within, baseline_count=baseline)
        settings, reached = {"weight": average.weight, "width": average.width}, average.reached
    else:
        sums = charts.design_cusum(once_in, shift, within, baseline_count=baseline)
        settings, reached = {"reference": sums.reference, "decision": sums.decision}, sums.reached
    return DesignFacts(
        chart=chart,
        settings=settings,
        possible=reached.possible,
        run_length=reached.run_length,
        detection=reached.detection,
        detection_ninetieth=reached.detection_ninetieth,
        affordable=reached.affordable_run_length,
        words=reached.sentence,
    )


def factors(*, largest: int = 10, width: float = 3.0) -> FactorsFacts:
    """Constants and factors for subgroups of 2 up to a size."""
    if not 2 <= largest <= LARGEST_SIZE:
        raise impossible("size", f"{largest} tests", f"give a size from 2 to {LARGEST_SIZE}")
    if width <= 0.0:
        raise impossible("width", f"{width:g} standard deviations", "give a number above 0, usually 3")
    rows = []
    for size in range(2, largest + 1):
        ranges = charts.range_limit_factors(size, width=width)
        deviations = charts.sigma_limit_factors(size, width=width)
        rows.append(
            FactorRowFacts(
                size=size,
                d2=charts.d2(size),
                d3=charts.d3(size),
                c4=charts.c4(size),
                range_lower=ranges[0],
                range_upper=ranges[1],
                deviation_lower=deviations[0],
                deviation_upper=deviations[1],
            )
        )
    return FactorsFacts(width=width, rows=tuple(rows))


def _listed(names: tuple[str, ...]) -> str:
    return f"{', '.join(names[:-1])} and {names[-1]}"
