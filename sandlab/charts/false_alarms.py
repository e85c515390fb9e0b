"""How often charts in use cry wolf when nothing is wrong, all of them together, and what each rule costs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sandlab.charts.in_use import ChartInUse, Solved, known_scale, rules_length
from sandlab.charts.normal import Floats
from sandlab.charts.rules import RULES, chosen
from sandlab.charts.run_length.simulation import Random
from sandlab.charts.words import about, every, from_to
from sandlab.errors import InputError, Problem

__all__ = ["ChartAlarms", "ChartInUse", "FalseAlarms", "RuleCost", "false_alarms", "rule_costs"]

_LOW, _HIGH = 0.1, 0.9
_LARGEST_PHI = 0.99


@dataclass(frozen=True, slots=True)
class ChartAlarms:
    """Tests from one false alarm of a chart to the next: the usual figure, and 10 and 90 % of baselines."""

    name: str
    tests: float
    tests_low: float
    tests_high: float
    per_day: float


@dataclass(frozen=True, slots=True)
class FalseAlarms:
    """Days from one false alarm to the next over all charts, with 10 and 90 % of baselines, and in words.

    `days_exact` is what they would be if every centre and sigma were known.
    """

    charts: tuple[ChartAlarms, ...]
    days: float
    days_low: float
    days_high: float
    days_exact: float
    sentence: str


@dataclass(frozen=True, slots=True)
class RuleCost:
    """Tests from one false alarm to the next with and without one rule; None without any rule."""

    rule: str
    in_use: bool
    tests_without: float | None
    tests_with: float
    standard_error: float
    sentence: str


def false_alarms(charts: Sequence[ChartInUse], *, random: Random | None = None) -> FalseAlarms:
    """How often at least one of the charts alarms although nothing is wrong.

    ``rate = sum over charts of tests per day / average run length; days = 1/rate``

    The range is over what few baseline tests leave open, the centre and sigma of each chart, and the middle
    its median. Limits and the average beside them are simulated together, their alarms within ten tests of
    each other being one; without `random` their rates are added, which is up to a fifth too many. Charts that
    alarm together are counted apart, so the truth is a little rarer.

    charts: those in use [charts]
    random: a numpy Generator, for an average beside the limits and rules without an equation [1]
    returns: days between false alarms over all charts, tests between those of each, in words [d and tests]

    Shapes: one or more charts.
    Validity: normal tests, first-order autoregression with or without noise; a mean from a quiet start.
    Errors: InputError for no chart, for settings out of range, all at once, for what needs `random`.
    Example:
    >>> false_alarms([ChartInUse("moisture", 24.0)] * 12).sentence
    'About one false alarm every 31 hours over 12 charts.'

    Source: champ_woodall1987, Table 1 (370.4 tests, rule 1).
    """
    _check(charts)
    solved = Solved(random)
    lengths = [solved.lengths(chart, place) for place, chart in enumerate(charts)]
    rates = np.array([chart.tests_per_day / row for chart, row in zip(charts, lengths, strict=True)])
    each = [_chart_alarms(chart, row) for chart, row in zip(charts, rates, strict=True)]
    exact = 1.0 / sum(chart.tests_per_day * solved.exact_rate(chart) for chart in charts)
    days = 1.0 / rates.sum(axis=0)
    low, middle, high = np.quantile(days, [_LOW, 0.5, _HIGH]).tolist()
    return FalseAlarms(tuple(each), middle, low, high, exact, _sentence(len(charts), low, middle, high))


def rule_costs(chart: ChartInUse, *, random: Random) -> tuple[RuleCost, ...]:
    """What each rule costs in false alarms on one chart: with it and without it, beside the rules in use.

    Limits count as known; runs without an equation are simulated, with the standard error given. Raises
    InputError for settings out of range.
    """
    _check([chart])
    scale = known_scale(chart)
    known: dict[frozenset[str], tuple[float, float]] = {}

    def length(keys: frozenset[str]) -> tuple[float, float]:
        if keys not in known:
            ordered = tuple(key for key in RULES if key in keys)
            known[keys] = rules_length(ordered, chart, 0.0, scale, random)
        return known[keys]

    in_use = frozenset(chart.rules)
    costs = []
    for key in RULES:
        without = in_use - {key}
        before = length(without)[0] if without else None
        after, error = length(in_use | {key})
        costs.append(RuleCost(key, key in in_use, before, after, error, _cost_words(key, before, after)))
    return tuple(costs)


def _chart_alarms(chart: ChartInUse, rates: Floats) -> ChartAlarms:
    low, middle, high = np.quantile(chart.tests_per_day / rates, [_LOW, 0.5, _HIGH]).tolist()
    return ChartAlarms(chart.name, middle, low, high, chart.tests_per_day / middle)


def _sentence(count: int, low: float, middle: float, high: float) -> str:
    over = f" over {count} charts" if count > 1 else ""
    words = f"About one false alarm every {every(middle)}{over}"
    if high <= 1.001 * low:
        return f"{words}."
    return f"{words} ({from_to(low, high)}: limits from few tests are uncertain)."


def _cost_words(key: str, without: float | None, with_it: float) -> str:
    sentence = RULES[key].sentence
    if without is None:
        return f"{sentence}: one false alarm in {about(with_it)} tests"
    if about(without) == about(with_it):
        return f"{sentence}: costs next to nothing, one false alarm in {about(with_it)} tests"
    return f"{sentence}: one false alarm in {about(with_it)} tests instead of {about(without)}"


def _check(charts: Sequence[ChartInUse]) -> None:
    problems = []
    if not charts:
        problems.append(Problem("charts", "none in use", "give at least one"))
    for chart in charts:
        name = chart.name
        if not 0.0 < chart.tests_per_day < math.inf:
            problems.append(Problem(name, f"{chart.tests_per_day} tests per day", "give a number above 0"))
        if not chosen(chart.rules):
            problems.append(Problem(name, "no rule alarms", "choose at least one"))
        if not 1.0 <= chart.width <= 6.0:
            problems.append(Problem(name, f"width {chart.width}", "give a value from 1 to 6, usually 3"))
        for phi, share in ((chart.phi, chart.signal_share), chart.model or (0.0, 1.0)):
            if not -_LARGEST_PHI <= phi <= _LARGEST_PHI:
                problems.append(Problem(name, f"phi {phi}", "give a value between -0.99 and 0.99"))
            if not 0.0 <= share <= 1.0:
                problems.append(Problem(name, f"signal share {share}", "give a value from 0 to 1"))
        if chart.baseline_count is not None and chart.baseline_count < 8:
            problems.append(Problem(name, f"baseline of {chart.baseline_count} tests", "give at least 8"))
        if chart.ewma is not None and not (0.005 <= chart.ewma[0] <= 1.0 and 0.5 <= chart.ewma[1] <= 5.0):
            do = "give a weight from 0.005 to 1 and a width from 0.5 to 5"
            problems.append(Problem(name, f"EWMA {chart.ewma[0]}, {chart.ewma[1]}", do))
    if problems:
        raise InputError(problems)
