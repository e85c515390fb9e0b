"""Charts for tests that resemble each other: of residuals, with widened limits, with an EWMA made for it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from sandlab.charts.autocorrelation import measured_steps
from sandlab.charts.baseline import Limits
from sandlab.charts.ewma import EwmaChart, ewma
from sandlab.charts.individuals import IndividualsChart, individuals
from sandlab.charts.normal import Floats
from sandlab.charts.run_length.design import solve_limit
from sandlab.charts.run_length.individuals import LARGEST_PHI, known_limits
from sandlab.charts.run_length.simulation import average_variances
from sandlab.errors import InputError, Problem, impossible


class Fit(Protocol):
    """What these charts need of a fit: an `Autoregression`, a `NoisyAutoregression`, or what is known."""

    @property
    def phi(self) -> float:
        """Autocorrelation of the signal over one slot."""
        ...

    @property
    def signal_share(self) -> float:
        """The signal's part of the variance of tests."""
        ...

    @property
    def mean(self) -> float:
        """Level."""
        ...

    @property
    def sigma(self) -> float:
        """Marginal standard deviation of tests."""
        ...

    @property
    def count(self) -> int:
        """Tests it comes from."""
        ...


@dataclass(frozen=True, slots=True)
class KnownResemblance:
    """A level, a deviation and an autocorrelation that are taken as known, such as those of a baseline."""

    phi: float
    mean: float
    sigma: float
    count: int
    signal_share: float = 1.0

    def __post_init__(self) -> None:
        problems = []
        if not -LARGEST_PHI <= self.phi <= LARGEST_PHI:
            problems.append(Problem("phi", f"{self.phi}", f"give a value within {LARGEST_PHI} of 0"))
        if not 0.0 < self.sigma < math.inf:
            problems.append(Problem("sigma", f"{self.sigma}", "give a value above 0"))
        if not 0.0 <= self.signal_share <= 1.0:
            problems.append(Problem("signal share", f"{self.signal_share}", "give a value from 0 to 1"))
        if problems:
            raise InputError(problems)


@dataclass(frozen=True, slots=True, eq=False)
class ResidualChart:
    """What each test differs from its prediction, in deviations of prediction, with two charts of that.

    `predicted` is what the tests before it made expected. A lasting shift shows in full at its first test and
    then as 1 - phi of it, which `average` gathers and `single` mostly misses.
    """

    residuals: Floats
    predicted: Floats
    single: IndividualsChart
    average: EwmaChart


def residuals(values: npt.ArrayLike, fit: Fit, *, at: npt.ArrayLike | None = None) -> tuple[Floats, Floats]:
    """Residuals of a fitted autoregression, in deviations of prediction, and the predictions.

    ``e_i = (x_i - p_i)/sqrt(F_i), p_i = m + a_i s``
    ``F_i = a_i^2 P + (1 - a_i^2) share sigma^2 + (1 - share) sigma^2, a_i = phi^gap``

    s and P are the Kalman filter's estimate of the signal after the test before, and its variance.

    values: one per slot, NaN where missing [unit of the property]
    fit: of a baseline, with or without noise of testing [unit of the property]
    at: place of each value, ascending, for tests between slots [slots]
    returns: residuals [1] and predictions, NaN in the slot of a missing test [unit of the property]

    Shapes: one row of values; `at` as long.
    Validity: while the fit holds, independent standard normal values.
    Errors: InputError for infinite values, places that do not ascend or are too few.
    Example:
    >>> from sandlab.charts import fit_autoregression
    >>> fit = fit_autoregression([1.0, 1.5, 1.8, 1.2, 0.9, 0.4, 0.2, 0.6, 1.1])
    >>> [round(float(e), 2) for e in residuals([1.0, 1.5, 1.8], fit)[0]]
    [0.03, 1.36, 1.38]

    Source: harris_ross1991, residual charts.
    """
    x, gaps = measured_steps(values, at)
    carries = np.concatenate(([0.0], np.sign(fit.phi) ** gaps * np.abs(fit.phi) ** gaps)).tolist()
    signal, noise = fit.sigma**2 * fit.signal_share, fit.sigma**2 * (1.0 - fit.signal_share)
    state, uncertain = 0.0, signal
    predicted, spreads = [], []
    for value, carry in zip((x - fit.mean).tolist(), carries[: x.size], strict=True):
        state *= carry
        uncertain = carry * carry * uncertain + (1.0 - carry * carry) * signal
        spread = uncertain + noise
        predicted.append(state)
        spreads.append(spread)
        gain = uncertain / spread
        state += gain * (value - state)
        uncertain *= 1.0 - gain
    measured = ~np.isnan(np.asarray(values, dtype=np.float64))
    found, expected = np.full((2, measured.size), np.nan)
    expected[measured] = fit.mean + np.array(predicted)
    found[measured] = (x - expected[measured]) / np.sqrt(spreads)
    return found, expected


def residual_chart(
    values: npt.ArrayLike,
    fit: Fit,
    *,
    at: npt.ArrayLike | None = None,
    width: float = 3.0,
    rules: Iterable[str] = ("beyond_limit",),
    ewma_weight: float = 0.2,
    ewma_width: float = 2.86,
) -> ResidualChart:
    """Charts of residuals, single and averaged: they alarm as rarely as charts of independent tests.

    `rules` are shown on the single residuals; their reasons are in deviations of prediction. It raises
    InputError as `residuals`, `individuals` and `ewma` do.
    """
    found, predicted = residuals(values, fit, at=at)
    limits = Limits(0.0, 1.0, fit.count, 1.0, 1.0, 0.0, width=width)
    return ResidualChart(
        residuals=found,
        predicted=predicted,
        single=individuals(found, None, limits, rules=rules, unit="deviations"),
        average=ewma(found, limits, weight=ewma_weight, width=ewma_width),
    )


def widened_limits(fit: Fit, *, run_length: float = 370.4) -> Limits:
    """Limits for single tests that resemble each other, so wide that false alarms are as rare as wanted.

    ``root in w of L(w) = run length, L of an individuals chart with limits m +- w sigma``

    sigma is the marginal deviation of the fit: limits from moving ranges would be sqrt(1 - lag1) as wide.

    fit: of a baseline, with or without noise of testing [unit of the property]
    run_length: wanted between false alarms, 10 to 1000000 [tests]
    returns: limits for `individuals`, `zones_of` and `signals` [unit of the property]

    Shapes: scalars.
    Validity: normal tests, the fit taken as true, phi within -0.995 and 0.995.
    Errors: InputError for a run length out of range.
    Example:
    >>> from sandlab.charts import fit_autoregression
    >>> fit = fit_autoregression([1.0, 1.5, 1.8, 1.2, 0.9, 0.4, 0.2, 0.6, 1.1])
    >>> round(widened_limits(fit).width, 2)
    2.96

    Source: kramer_schmid2000, modified limits.
    """
    if not 10.0 <= run_length <= 1e6:
        raise impossible("run length", f"{run_length} tests", "give a number from 10 to 1000000")
    phi = min(LARGEST_PHI, max(-LARGEST_PHI, fit.phi))

    def length(width: float) -> float:
        return known_limits(phi, -width, width, fit.signal_share).average_run_length

    width = solve_limit(length, run_length, first=0.1, step=0.5, last=6.0)
    lag1 = fit.signal_share * fit.phi
    ranges = fit.sigma * math.sqrt(1.0 - lag1)
    return Limits(fit.mean, fit.sigma, fit.count, fit.sigma, ranges, lag1, width=width)


def autocorrelated_ewma(
    values: npt.ArrayLike,
    fit: Fit,
    *,
    weight: float = 0.2,
    width: float = 2.86,
    at: npt.ArrayLike | None = None,
) -> EwmaChart:
    """EWMA of tests that resemble each other, with limits that allow for it.

    ``limits m +- width sigma sqrt(v_i), v_i = w^2 + (1 - w)^2 v' + 2 w (1 - w) a_i c'``
    ``c_i = w share + (1 - w) a_i c', a_i = phi^gap``; v' and c' are those of the test before

    In the long run v is w/(2 - w) (1 + phi (1 - w))/(1 - phi (1 - w)) without noise of testing.

    values: one per slot, NaN where missing [unit of the property]
    fit: of a baseline, with or without noise of testing [unit of the property]
    weight: w of the newest test, above 0 to 1 [1]
    width: of the limits in sigmas of the average, above 0 [1]
    at: place of each value, ascending, for tests between slots [slots]
    returns: the average and its limits per slot, and where it is outside [unit of the property]

    Shapes: one row of values; `at` as long.
    Validity: the fit taken as true; `simulated_ewma_run_length` says how rare false alarms then are.
    Errors: InputError for settings out of range, infinite values, places that do not ascend or are too few.
    Example:
    >>> from sandlab.charts import fit_autoregression
    >>> fit = fit_autoregression([1.0, 1.5, 1.8, 1.2, 0.9, 0.4, 0.2, 0.6, 1.1])
    >>> autocorrelated_ewma([1.0, 1.5, 1.8], fit, weight=0.3).upper.round(2).tolist()
    [1.38, 1.58, 1.7]

    Source: zhang1998, EWMA of stationary data; schmid1997.
    """
    _check(weight, width)
    _, gaps = measured_steps(values, at)
    series = np.asarray(values, dtype=np.float64)
    limits = Limits(fit.mean, fit.sigma, fit.count, fit.sigma, fit.sigma, 0.0)
    plain = ewma(series, limits, weight=weight, width=width)
    steps = np.concatenate(([1.0], gaps))
    variances = np.concatenate(([0.0], average_variances(weight, fit.phi, fit.signal_share, steps)))
    measured = ~np.isnan(series)
    reach = width * fit.sigma * np.sqrt(variances[np.cumsum(measured)])
    lower, upper = fit.mean - reach, fit.mean + reach
    outside = measured & ((plain.average > upper) | (plain.average < lower))
    beyond = tuple(np.flatnonzero(outside).tolist())
    return EwmaChart(series, plain.average, lower, upper, weight, width, beyond)


def _check(weight: float, width: float) -> None:
    problems = []
    if not 0.0 < weight <= 1.0:
        problems.append(Problem("weight", f"{weight}", "give a value above 0 and up to 1, often 0.2"))
    if not 0.0 < width < math.inf:
        problems.append(Problem("width", f"{width}", "give a value above 0, often 2.86"))
    if problems:
        raise InputError(problems)
