"""What the next tests will show when nothing is done: from resemblance of tests, or from a drift."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sandlab.charts.autocorrelation import measured_steps
from sandlab.charts.normal import Floats
from sandlab.charts.residuals import Fit
from sandlab.charts.trend import Trend
from sandlab.errors import InputError, Problem


@dataclass(frozen=True, slots=True, eq=False)
class Forecast:
    """The expected test at each step ahead, and the band that holds a single test with `confidence`."""

    ahead: Floats
    level: Floats
    low: Floats
    high: Floats
    confidence: float


def forecast(
    values: npt.ArrayLike,
    fit: Fit,
    ahead: npt.ArrayLike,
    *,
    level: float | None = None,
    confidence: float = 0.9,
) -> Forecast:
    """Coming tests of a fitted autoregression: the last departure dies away while the band opens.

    ``x(h) = m + phi^h s; band: +- z sqrt(phi^2h P + (1 - phi^2h) share sigma^2 + (1 - share) sigma^2)``

    s and P are the Kalman filter's estimate of the signal after the last test, and its variance.

    values: one per slot, NaN where missing [unit of the property]
    fit: of a baseline, with or without noise of testing [unit of the property]
    ahead: slots after the last value, 0 or more [slots]
    level: about which tests vary now, None for that of the fit [unit of the property]
    confidence: of the band for one test, above 0 and below 1 [1]
    returns: expected tests with their band [unit of the property]

    Shapes: one row of values, one of steps.
    Validity: while the fit holds and nothing is done about the sand; the fit is taken as true.
    Errors: InputError for infinite values, steps below 0, a confidence out of range.
    Example:
    >>> from sandlab.charts import KnownResemblance
    >>> fit = KnownResemblance(phi=0.5, mean=10.0, sigma=2.0, count=100)
    >>> found = forecast([10.0, 14.0], fit, [1, 2])
    >>> found.level.tolist(), [round(float(x), 2) for x in found.high - found.level]
    ([12.0, 11.0], [2.85, 3.19])

    Source: box_jenkins1976, section 5.1 (minimum mean square error forecasts and their limits).
    """
    series, steps = np.asarray(values, dtype=np.float64), np.asarray(ahead, dtype=np.float64)
    _check(steps, confidence)
    centre = fit.mean if level is None else level
    state, uncertain, since = _filtered(series - centre, fit)
    signal, noise = fit.sigma**2 * fit.signal_share, fit.sigma**2 * (1.0 - fit.signal_share)
    steps_after = steps + since
    carry = np.sign(fit.phi) ** steps_after * np.abs(fit.phi) ** steps_after
    spread = carry**2 * uncertain + (1.0 - carry**2) * signal + noise
    expected = centre + carry * state
    reach = _z(confidence) * np.sqrt(spread)
    return Forecast(steps, expected, expected - reach, expected + reach, confidence)


def trend_forecast(trend: Trend, sigma: float, ahead: npt.ArrayLike, *, confidence: float = 0.9) -> Forecast:
    """Coming tests of a drift that goes on: its line, with its own errors and the scatter of single tests.

    ``x(t) = level + slope t; band: +- z sqrt(e_l^2 + 2 r e_l e_s t + e_s^2 t^2 + sigma^2)``

    trend: fitted to the last tests [unit of the property]
    sigma: standard deviation of single tests about the line, 0 or more [unit of the property]
    ahead: after the last test, 0 or more [h]
    confidence: of the band for one test, above 0 and below 1 [1]
    returns: expected tests with their band [unit of the property]

    Shapes: one row of times.
    Validity: the drift goes on as it did; nothing is known of what will be done about it.
    Errors: InputError for times below 0, a confidence out of range.
    Example:
    >>> from sandlab.charts import robust_trend
    >>> trend = robust_trend([42.0, 42.6, 42.9, 43.6, 44.1, 44.4], [0, 1, 2, 3, 4, 5], phi=0.0)
    >>> [round(float(x), 2) for x in trend_forecast(trend, 0.0, [0.0, 2.0]).level]
    [44.55, 45.55]

    Source: draper_smith1998, section 1.4 (variance of a single predicted observation).
    """
    times = np.asarray(ahead, dtype=np.float64)
    _check(times, confidence)
    expected = trend.level + trend.slope * times
    lean = 2.0 * trend.correlation * trend.level_error * trend.slope_error * times
    spread = trend.level_error**2 + lean + (trend.slope_error * times) ** 2 + sigma**2
    reach = _z(confidence) * np.sqrt(np.maximum(spread, 0.0))
    return Forecast(times, expected, expected - reach, expected + reach, confidence)


def _filtered(departures: Floats, fit: Fit) -> tuple[float, float, int]:
    """The signal after the last measured value, its variance, and the empty slots since then."""
    signal, noise = fit.sigma**2 * fit.signal_share, fit.sigma**2 * (1.0 - fit.signal_share)
    measured = np.flatnonzero(~np.isnan(departures))
    if not measured.size:
        return 0.0, signal, 0
    x, gaps = measured_steps(departures, None)
    carries = [0.0, *(np.sign(fit.phi) ** gaps * np.abs(fit.phi) ** gaps).tolist()]
    state, uncertain = 0.0, signal
    for value, carry in zip(x.tolist(), carries, strict=False):
        state *= carry
        uncertain = carry * carry * uncertain + (1.0 - carry * carry) * signal
        gain = uncertain / (uncertain + noise)
        state += gain * (value - state)
        uncertain *= 1.0 - gain
    return state, uncertain, int(departures.size - 1 - measured[-1])


def _z(confidence: float) -> float:
    # Imported here: drawing a chart needs no scipy.
    from scipy.special import ndtri

    return float(ndtri(0.5 * (1.0 + confidence)))


def _check(ahead: Floats, confidence: float) -> None:
    problems = []
    if not ahead.size or not np.all(np.isfinite(ahead)) or float(ahead.min()) < 0.0:
        problems.append(Problem("ahead", "not all steps lie after the last test", "give 0 or more"))
    if not 0.0 < confidence < 1.0 or not math.isfinite(confidence):
        problems.append(Problem("confidence", f"{confidence}", "give a share above 0 and below 1"))
    if problems:
        raise InputError(problems)
