"""Whether a frozen baseline still describes the process: mean and spread of later tests against it.

A proposal, never an act: limits hold until a person freezes new ones.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sandlab.charts.baseline import FLAG_WORDS, MINIMUM_BASELINE, Limits
from sandlab.charts.estimates import as_series, estimate
from sandlab.errors import InputError, Problem
from sandlab.quantities import format_number

CONFIDENCE = 0.99
# A mean off by less than half a sigma, or a spread by less than a quarter, is not worth new limits.
LEAST_SHIFT = 0.5
LEAST_RATIO = 1.25


@dataclass(frozen=True, slots=True)
class BaselineCheck:
    """Later tests against a baseline: shift of the mean and ratio of the spreads, each with its interval.

    `phi` is the autocorrelation allowed for; `moved` and `spread` say whether the change is both sure and
    large enough to matter; `proposed` whether a new baseline is; `sentence` says it in words.
    """

    count: int
    phi: float
    shift: float
    shift_low: float
    shift_high: float
    ratio: float
    ratio_low: float
    ratio_high: float
    moved: bool
    spread: bool
    sentence: str

    @property
    def proposed(self) -> bool:
        """Whether a new baseline is proposed."""
        return self.moved or self.spread


def check_baseline(
    values: npt.ArrayLike,
    limits: Limits,
    *,
    confidence: float = CONFIDENCE,
    decimals: int = 2,
    unit: str = "",
) -> BaselineCheck:
    """Shift of the mean and ratio of the spreads of later tests against a frozen baseline.

    ``shift = m2 - m1 +- t sqrt(s2^2/e2 + s1^2/e1), e = n (1 - phi)/(1 + phi)`` (mean)
    ``ratio = s2/s1 (1/F(nu2, nu1), F(nu1, nu2))^1/2, nu = (n - 1)(1 - phi^2)/(1 + phi^2)`` (spread)

    t of Student on Welch's degrees of freedom; s1 the overall deviation of the baseline; phi the lag-1
    autocorrelation of the later tests or of the baseline, whichever is larger, 0 at least.

    values: later tests, one per slot, NaN where missing [unit of the property]
    limits: frozen baseline [unit of the property]
    confidence: of the intervals, above 0.5 and below 1 [1]
    decimals: of the numbers in words [1]
    unit: behind the numbers in words [word]
    returns: shift and ratio with intervals, and whether a new baseline is proposed [unit of the property]

    Shapes: one row of MINIMUM_BASELINE or more measured values.
    Validity: roughly normal tests that decay like a first-order autoregression.
    Errors: InputError for fewer values, infinite ones, a constant baseline, a confidence out of range.
    Example:
    >>> later = [3.1, 2.2, 2.9, 1.8, 3.4, 2.6, 2.4, 3.0, 2.1, 2.7]
    >>> found = check_baseline(later, Limits(0.0, 1.0, 50, 1.0, 1.0, 0.0))
    >>> round(found.shift, 2), found.moved, round(found.ratio, 2), found.spread
    (2.62, True, 0.5, False)

    Source: nist_handbook, 7.3.1 (Welch's degrees of freedom) and 1.3.5.9 (F interval of two deviations).
    """
    # Imported here: drawing a chart needs no scipy.
    from scipy.special import fdtri, stdtrit

    series = as_series(values)
    _check(series, limits, confidence)
    found = estimate(series)
    phi = max(0.0, min(0.95, max(_unbiased(found.lag1, found.count), limits.lag1)))
    tail = 0.5 * (1.0 - confidence)
    worth, spread_worth = (1.0 - phi) / (1.0 + phi), (1.0 - phi**2) / (1.0 + phi**2)
    # Autocorrelated tests stray less around their own mean than around the true one.
    sigma = found.sigma_overall / math.sqrt(max(0.05, 1.0 - (1.0 / worth - 1.0) / found.count))
    nu, base_nu = ((count - 1) * spread_worth for count in (found.count, limits.count))
    error = sigma / math.sqrt(found.count * worth)
    base_error = limits.sigma_overall / math.sqrt(limits.count * worth)
    both = math.hypot(error, base_error)
    share = (error / both) ** 2
    welch = 1.0 / (share**2 / nu + (1.0 - share) ** 2 / base_nu)
    reach = -float(stdtrit(welch, tail)) * both
    shift, ratio = found.mean - limits.centre, sigma / limits.sigma_overall
    ratio_low = ratio * math.sqrt(1.0 / float(fdtri(nu, base_nu, 1.0 - tail)))
    ratio_high = ratio * math.sqrt(float(fdtri(base_nu, nu, 1.0 - tail)))
    moved = abs(shift) > max(reach, LEAST_SHIFT * limits.sigma_overall)
    surely = ratio_low > 1.0 or ratio_high < 1.0
    spread = surely and not 1.0 / LEAST_RATIO < ratio < LEAST_RATIO
    speaker = _Speaker(decimals, unit, found.count, limits.count)
    interval = (shift, shift - reach, shift + reach)
    ratios = (ratio, ratio_low, ratio_high)
    sentence = speaker.sentence(interval if moved else None, ratios if spread else None)
    return BaselineCheck(found.count, phi, *interval, *ratios, moved, spread, sentence)


@dataclass(frozen=True, slots=True)
class _Speaker:
    """Puts the comparison into words."""

    decimals: int
    unit: str
    count: int
    base_count: int

    def sentence(
        self, shift: tuple[float, float, float] | None, ratio: tuple[float, float, float] | None
    ) -> str:
        """What changed, or that nothing did."""
        if shift is None and ratio is None:
            return f"The last {self.count} tests agree with the baseline of {self.base_count}."
        said = []
        if shift is not None:
            size, low, high = (format_number(value, self.decimals) for value in shift)
            said.append(f"the mean has moved by {f'{size} {self.unit}'.rstrip()} ({low} to {high})")
        if ratio is not None:
            size, low, high = (format_number(value, 2) for value in ratio)
            said.append(f"the spread is {size} times what it was ({low} to {high})")
        return (
            f"The baseline of {self.base_count} tests no longer describes the process: {' and '.join(said)} "
            f"over the last {self.count} tests; find out why, then freeze a new one."
        )


def _unbiased(lag1: float | None, count: int) -> float:
    """The lag-1 value with the shortfall of about (1 + 3 phi)/n put back; 0 where it could be chance."""
    if lag1 is None or lag1 < 1.96 / math.sqrt(count):
        return 0.0
    return lag1 + (1.0 + 3.0 * lag1) / count


def _check(series: npt.NDArray[np.float64], limits: Limits, confidence: float) -> None:
    problems = []
    count = int(np.count_nonzero(~np.isnan(series)))
    if count < MINIMUM_BASELINE:
        problems.append(
            Problem("values", f"{count} measured", f"give {MINIMUM_BASELINE} or more later tests")
        )
    if not limits.usable or limits.sigma_overall <= 0.0:
        problems.append(Problem("limits", FLAG_WORDS["constant"], "freeze a baseline whose values vary"))
    if not 0.5 < confidence < 1.0:
        problems.append(Problem("confidence", f"{confidence}", "give a share above 0.5 and below 1"))
    if problems:
        raise InputError(problems)
