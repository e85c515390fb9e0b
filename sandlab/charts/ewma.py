"""The exponentially weighted moving average chart: small lasting shifts of a property's level."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import accumulate

import numpy as np
import numpy.typing as npt

from sandlab.charts.baseline import FLAG_WORDS, Limits
from sandlab.charts.estimates import as_series
from sandlab.charts.normal import Floats
from sandlab.errors import InputError, Problem


@dataclass(frozen=True, slots=True, eq=False)
class EwmaChart:
    """The moving average with its limits per slot; `beyond` are the places of measured tests outside them.

    In the slot of a missing test the average and its limits stay as they were.
    """

    values: Floats
    average: Floats
    lower: Floats
    upper: Floats
    weight: float
    width: float
    beyond: tuple[int, ...]


def ewma(
    values: npt.ArrayLike,
    limits: Limits,
    *,
    weight: float = 0.2,
    width: float = 2.86,
    steady_limits: bool = False,
) -> EwmaChart:
    """EWMA chart of `values` around the frozen centre; no run rules belong on its points.

    ``z_t = w x_t + (1 - w) z_t-1, z_0 = centre; limits centre +- width sigma sqrt(v_t)``
    ``v_t = w/(2 - w) (1 - (1 - w)^2t)``, t counting measured tests; steady limits leave out the bracket

    values: one per slot, NaN where missing [unit of the property]
    limits: frozen baseline, of which centre and sigma are used [unit of the property]
    weight: w of the newest test, above 0 to 1 [1]
    width: of the limits in sigmas of the average, above 0; `ewma_width` finds it for a run length [1]
    steady_limits: as wide from the start as in the long run [yes or no]
    returns: the average and its limits per slot, and where it is outside [unit of the property]

    Shapes: one row of values.
    Validity: independent tests; the default pair then alarms falsely about once in 370. Autocorrelated tests
    alarm more often.
    Errors: InputError for settings out of range, infinite values, limits of a constant baseline.
    Example:
    >>> chart = ewma([52.0, 47.0, 53.0], Limits(50.0, 2.0539, 99, 2.0539, 2.0539, 0.0), weight=0.3)
    >>> chart.average.round(2).tolist()
    [50.6, 49.52, 50.56]

    Source: nist_handbook, 6.3.2.4; exact limits: montgomery, section 9.2.
    """
    _check(limits, weight, width)
    series = as_series(values)
    measured = ~np.isnan(series)
    count = np.cumsum(measured)
    # From the centre, so that digits are not lost on its level.
    steps = (series[measured] - limits.centre).tolist()
    averages = list(accumulate(steps, lambda z, x: z + weight * (x - z), initial=0.0))
    average = limits.centre + np.array(averages)[count]
    variance = weight / (2.0 - weight) * np.ones(series.size)
    if not steady_limits:
        variance *= -np.expm1(2.0 * count * math.log1p(-weight)) if weight < 1.0 else count > 0
    reach = width * limits.sigma * np.sqrt(variance)
    lower, upper = limits.centre - reach, limits.centre + reach
    outside = measured & ((average > upper) | (average < lower))
    beyond = tuple(np.flatnonzero(outside).tolist())
    return EwmaChart(series, average, lower, upper, weight, width, beyond)


def _check(limits: Limits, weight: float, width: float) -> None:
    problems = []
    if not limits.usable:
        problems.append(Problem("limits", FLAG_WORDS["constant"], "freeze a baseline whose values vary"))
    if not 0.0 < weight <= 1.0:
        problems.append(Problem("weight", f"{weight}", "give a value above 0 and up to 1, often 0.2"))
    if not 0.0 < width < math.inf:
        problems.append(Problem("width", f"{width}", "give a value above 0, often 2.86"))
    if problems:
        raise InputError(problems)
