"""A chart in use, and how many tests lie between its false alarms, for every baseline it may have had."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from sandlab.charts.baseline import Basis
from sandlab.charts.normal import Floats
from sandlab.charts.run_length.estimated import LengthsOverBaselines, baseline_errors, over_baselines
from sandlab.charts.run_length.ewma import ewma_run_length
from sandlab.charts.run_length.individuals import known_limits
from sandlab.charts.run_length.rules import moves_of_rules, zones_can_count
from sandlab.charts.run_length.simulation import Random, simulated_run_length
from sandlab.charts.run_length.watched import WatchedTests, shown_of_a_shift, watched_tests
from sandlab.errors import impossible

# Runs simulated for one point of a surface over baselines, and without one.
SOME_RUNS, MANY_RUNS = 1000, 4000
# Baselines of all charts at once: points of a lattice, even in the normal quantiles of every error.
_POINTS, _GENERATOR = 2039, 1487

Length = Callable[[float, float], float]


@dataclass(frozen=True, slots=True)
class ChartInUse:
    """One chart that people look at: how often it is tested, what alarms on it, what its limits come from.

    `rules` are those that alarm; `ewma` is weight and width of a moving average watched beside it, of
    residuals where `phi` is not 0; `signal_share` is the part of the variance that resembles, the rest being
    noise of testing; `model` is the phi and the signal share that the residuals suppose where they are not
    those of the tests; `baseline_count` is the number of tests behind its limits, None for known ones.
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
    model: tuple[float, float] | None = None


class Solved:
    """Run lengths of charts over their baselines, charts of one kind solved once."""

    def __init__(self, random: Random | None) -> None:
        self._random = random
        self._paths: dict[tuple[float, ...], WatchedTests] = {}
        self._surfaces: dict[ChartInUse, tuple[LengthsOverBaselines, ...]] = {}

    def lengths(self, chart: ChartInUse, place: int) -> Floats:
        """The run length of a chart for each baseline of the lattice, all the same for known limits."""
        if chart.baseline_count is None:
            return np.full(_POINTS, 1.0 / self.exact_rate(chart))
        kind = replace(chart, name="", tests_per_day=1.0)
        if kind not in self._surfaces:
            self._surfaces[kind] = self._over_baselines(kind)
        at = _lattice(2 * place), _lattice(2 * place + 1)
        return np.asarray(1.0 / sum(1.0 / one.at(*at) for one in self._surfaces[kind]))

    def exact_rate(self, chart: ChartInUse) -> float:
        """Alarms per test with known centre and sigma."""
        return sum(1.0 / part(0.0, known_scale(chart)) for part in self._parts(chart))

    def _over_baselines(self, chart: ChartInUse) -> tuple[LengthsOverBaselines, ...]:
        if chart.ewma is None and _has_equation(chart):
            return _kept(chart)
        return _surfaces(chart, self._parts(chart))

    def _parts(self, chart: ChartInUse) -> list[Length]:
        """What alarms on a chart, as run lengths by the errors of its baseline; their rates add."""
        if chart.ewma is None or self._random is None:
            return _equations(chart, self._random)
        rules, width, (weight, average_width) = chart.rules, chart.width, chart.ewma
        tests = self._watched(chart, weight)
        return [
            lambda offset, scale: tests.tests_between(rules, width, average_width, offset=offset, scale=scale)
        ]

    def _watched(self, chart: ChartInUse, weight: float) -> WatchedTests:
        own = chart.phi, chart.signal_share
        model = chart.model or own
        key = (*own, *model, weight)
        if key not in self._paths:
            assert self._random is not None
            self._paths[key] = watched_tests(
                self._random, phi=own[0], signal_share=own[1], model=model, weight=weight
            )
        return self._paths[key]


def _equations(chart: ChartInUse, random: Random | None) -> list[Length]:
    """The rules, and the average beside them where its residuals are independent."""
    runs = SOME_RUNS if chart.baseline_count is not None else MANY_RUNS

    def of_rules(offset: float, scale: float) -> float:
        return rules_length(chart.rules, chart, offset, scale, random, runs=runs)[0]

    if chart.ewma is None:
        return [of_rules]
    own, (weight, width) = (chart.phi, chart.signal_share), chart.ewma
    if chart.model is not None and chart.model != own:
        do = "give a random generator to simulate it with"
        raise impossible(chart.name, "its average has no run-length equation", do)
    shown = shown_of_a_shift(*own)
    return [of_rules, lambda offset, scale: ewma_run_length(weight, width * scale, shift=offset * shown)]


def _has_equation(chart: ChartInUse) -> bool:
    return set(chart.rules) == {"beyond_limit"} or (chart.phi == 0.0 and zones_can_count(chart.rules))


@lru_cache(maxsize=256)
def _kept(chart: ChartInUse) -> tuple[LengthsOverBaselines, ...]:
    """Kept, because a chart is drawn again more often than its limits change."""
    return _surfaces(chart, _equations(chart, None))


def _surfaces(chart: ChartInUse, parts: Sequence[Length]) -> tuple[LengthsOverBaselines, ...]:
    assert chart.baseline_count is not None
    errors = baseline_errors(
        chart.phi, chart.baseline_count, basis=chart.basis, signal_share=chart.signal_share
    )
    return tuple(over_baselines(part, errors) for part in parts)


@lru_cache(maxsize=128)
def _lattice(dimension: int) -> Floats:
    """Normal quantiles of equal shares, in the order that fills space evenly with the other dimensions."""
    normal = NormalDist()
    quantiles = np.array([normal.inv_cdf((point + 0.5) / _POINTS) for point in range(_POINTS)])
    return quantiles[np.arange(_POINTS) * pow(_GENERATOR, dimension, _POINTS) % _POINTS]


def known_scale(chart: ChartInUse) -> float:
    """The chart's sigma as a share of the true one: moving ranges make too little of autocorrelated tests."""
    return math.sqrt(1.0 - chart.signal_share * chart.phi) if chart.basis == "moving_range" else 1.0


def rules_length(
    rules: tuple[str, ...],
    chart: ChartInUse,
    offset: float,
    scale: float,
    random: Random | None,
    *,
    runs: int = MANY_RUNS,
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
