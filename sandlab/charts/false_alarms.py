"""How often charts in use cry wolf when nothing is wrong, all of them together, and what each rule costs."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from sandlab.charts.baseline import Basis
from sandlab.charts.normal import Floats
from sandlab.charts.rules import RULES, chosen
from sandlab.charts.run_length.estimated import baseline_errors, over_baselines
from sandlab.charts.run_length.ewma import ewma_run_length
from sandlab.charts.run_length.individuals import known_limits
from sandlab.charts.run_length.rules import moves_of_rules, zones_can_count
from sandlab.charts.run_length.simulation import Random, simulated_run_length
from sandlab.charts.words import about, every, from_to
from sandlab.errors import InputError, Problem, impossible

# Runs simulated for one point of a surface over baselines.
_RUNS = 1000
# Baselines of all charts at once: points of a lattice, even in the normal quantiles of every error.
_POINTS, _GENERATOR = 2039, 1487
_LOW, _HIGH = 0.1, 0.9
_LARGEST_PHI = 0.99


@dataclass(frozen=True, slots=True)
class ChartInUse:
    """One chart that people look at: how often it is tested, what alarms on it, what its limits come from.

    `rules` are those that alarm; `ewma` is weight and width of a moving average watched beside it, of
    residuals where `phi` is not 0; `signal_share` is the part of the variance that resembles, the rest being
    noise of testing; `baseline_count` is the number of tests behind its limits, None for known
    ones.
    """

    name: str
    tests_per_day: float
    rules: tuple[str, ...] = ("beyond_limit",)
    width: float = 3.0
    phi: float = 0.0
    signal_share: float = 1.0
    baseline_count: int | None = None
    basis: Basis = "overall"
    ewma: tuple[float, float] | None = None


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
    """Days from one false alarm to the next over all charts, with 10 and 90 % of baselines, and in words."""

    charts: tuple[ChartAlarms, ...]
    days: float
    days_low: float
    days_high: float
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
    its median. Charts that alarm together are counted apart, so the truth is a little rarer.

    charts: those in use [charts]
    random: a numpy Generator for rules without an equation (trends, any rule but the limits under phi) [1]
    returns: days between false alarms over all charts, tests between those of each, in words [d and tests]

    Shapes: one or more charts.
    Validity: normal tests, first-order autoregression; a mean run length from a quiet start.
    Errors: InputError for no chart, for settings out of range, all at once, for rules that need `random`.
    Example:
    >>> false_alarms([ChartInUse("moisture", 24.0)] * 12).sentence
    'About one false alarm every 31 hours over 12 charts.'

    Source: champ_woodall1987, Table 1 (370.4 tests, rule 1).
    """
    _check(charts)
    lengths = [_lengths(chart, place, random) for place, chart in enumerate(charts)]
    rates = np.array([chart.tests_per_day / row for chart, row in zip(charts, lengths, strict=True)])
    each = [_chart_alarms(chart, row) for chart, row in zip(charts, rates, strict=True)]
    days = 1.0 / rates.sum(axis=0)
    low, middle, high = np.quantile(days, [_LOW, 0.5, _HIGH]).tolist()
    return FalseAlarms(tuple(each), middle, low, high, _sentence(len(charts), low, middle, high))


def rule_costs(chart: ChartInUse, *, random: Random) -> tuple[RuleCost, ...]:
    """What each rule costs in false alarms on one chart: with it and without it, beside the rules in use.

    Limits count as known; runs without an equation are simulated, with the standard error given. Raises
    InputError for settings out of range.
    """
    _check([chart])
    scale = _known_scale(chart)
    known: dict[frozenset[str], tuple[float, float]] = {}

    def length(keys: frozenset[str]) -> tuple[float, float]:
        if keys not in known:
            ordered = tuple(key for key in RULES if key in keys)
            known[keys] = _rules_length(ordered, chart, 0.0, scale, random)
        return known[keys]

    in_use = frozenset(chart.rules)
    costs = []
    for key in RULES:
        without = in_use - {key}
        before = length(without)[0] if without else None
        after, error = length(in_use | {key})
        costs.append(RuleCost(key, key in in_use, before, after, error, _cost_words(key, before, after)))
    return tuple(costs)


def _lengths(chart: ChartInUse, place: int, random: Random | None) -> Floats:
    """The run length of a chart for each baseline of the lattice, all the same for known limits."""
    if set(chart.rules) == {"beyond_limit"} or (chart.phi == 0.0 and zones_can_count(chart.rules)):
        return _solved(replace(chart, name="", tests_per_day=1.0), place)
    return _worked_out(chart, place, random)


@lru_cache(maxsize=256)
def _solved(chart: ChartInUse, place: int) -> Floats:
    """Kept, because a chart is drawn again more often than its limits change."""
    return _worked_out(chart, place, None)


def _worked_out(chart: ChartInUse, place: int, random: Random | None) -> Floats:
    runs = _RUNS if chart.baseline_count is not None else 4 * _RUNS

    def of_rules(offset: float, scale: float) -> float:
        return _rules_length(chart.rules, chart, offset, scale, random, runs=runs)[0]

    parts: list[Callable[[float, float], float]] = [of_rules]
    if chart.ewma is not None:
        weight, width = chart.ewma
        parts.append(lambda offset, scale: ewma_run_length(weight, width * scale, shift=offset))
    if chart.baseline_count is None:
        scale = _known_scale(chart)
        return np.full(_POINTS, 1.0 / sum(1.0 / part(0.0, scale) for part in parts))
    errors = baseline_errors(
        chart.phi, chart.baseline_count, basis=chart.basis, signal_share=chart.signal_share
    )
    centre_z, sigma_z = _lattice(2 * place), _lattice(2 * place + 1)
    rates = np.array([1.0 / over_baselines(part, errors).at(centre_z, sigma_z) for part in parts])
    return np.asarray(1.0 / rates.sum(axis=0))


@lru_cache(maxsize=128)
def _lattice(dimension: int) -> Floats:
    """Normal quantiles of equal shares, in the order that fills space evenly with the other dimensions."""
    normal = NormalDist()
    quantiles = np.array([normal.inv_cdf((point + 0.5) / _POINTS) for point in range(_POINTS)])
    return quantiles[np.arange(_POINTS) * pow(_GENERATOR, dimension, _POINTS) % _POINTS]


def _known_scale(chart: ChartInUse) -> float:
    """The chart's sigma as a share of the true one: moving ranges make too little of autocorrelated tests."""
    return math.sqrt(1.0 - chart.signal_share * chart.phi) if chart.basis == "moving_range" else 1.0


def _rules_length(
    rules: tuple[str, ...],
    chart: ChartInUse,
    offset: float,
    scale: float,
    random: Random | None,
    *,
    runs: int = 4 * _RUNS,
) -> tuple[float, float]:
    """Average run length of the rules with its standard error, 0 where an equation gives it."""
    if set(rules) == {"beyond_limit"}:
        half = chart.width * scale
        return known_limits(
            chart.phi, offset - half, offset + half, chart.signal_share
        ).average_run_length, 0.0
    if chart.phi == 0.0 and zones_can_count(rules):
        moves = moves_of_rules(rules, offset, chart.width, scale=scale)
        return float(np.linalg.solve(np.eye(moves.shape[0]) - moves, np.ones(moves.shape[0]))[0]), 0.0
    if random is None:
        do = "give a random generator to simulate them with"
        raise impossible(chart.name, "its rules have no run-length equation", do)
    found = simulated_run_length(
        rules,
        random,
        shift=offset,
        width=chart.width,
        phi=chart.phi,
        signal_share=chart.signal_share,
        scale=scale,
        runs=runs,
    )
    return found.mean, found.standard_error


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
        if not -_LARGEST_PHI <= chart.phi <= _LARGEST_PHI:
            problems.append(Problem(name, f"phi {chart.phi}", "give a value between -0.99 and 0.99"))
        if not 0.0 <= chart.signal_share <= 1.0:
            problems.append(Problem(name, f"signal share {chart.signal_share}", "give a value from 0 to 1"))
        if chart.baseline_count is not None and chart.baseline_count < 8:
            problems.append(Problem(name, f"baseline of {chart.baseline_count} tests", "give at least 8"))
        if chart.ewma is not None and not (0.005 <= chart.ewma[0] <= 1.0 and 0.5 <= chart.ewma[1] <= 5.0):
            do = "give a weight from 0.005 to 1 and a width from 0.5 to 5"
            problems.append(Problem(name, f"EWMA {chart.ewma[0]}, {chart.ewma[1]}", do))
    if problems:
        raise InputError(problems)
