"""How much each test repeats the one before: a first-order autoregression fitted across gaps."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sandlab.charts.estimates import as_series
from sandlab.charts.normal import Floats
from sandlab.errors import InputError, Problem, impossible

LARGEST_PHI = 0.999
MINIMUM = 8
# Half the 95 % point of chi-square with one degree of freedom.
_DEPTH_95 = 1.9207294103
_NOTHING = 1e-300


@dataclass(frozen=True, slots=True)
class Autoregression:
    """A fitted first-order autoregression: `phi` with its 95 % interval and standard error, level and spread.

    `sigma` is the marginal standard deviation, `noise_sigma` that of a step; `log_likelihood` at the fit.
    """

    phi: float
    phi_low: float
    phi_high: float
    phi_error: float
    mean: float
    mean_error: float
    sigma: float
    noise_sigma: float
    log_likelihood: float
    count: int

    @property
    def signal_share(self) -> float:
        """All of the variance of tests is the signal's: nothing is called noise of testing."""
        return 1.0

    @property
    def lag1(self) -> float:
        """Autocorrelation of neighbouring tests."""
        return self.phi

    @property
    def significant(self) -> bool:
        """Whether the 95 % interval of phi excludes 0."""
        return self.phi_low > 0.0 or self.phi_high < 0.0

    @property
    def moving_range_share(self) -> float:
        """Width of moving-range limits against the right ones: sqrt(1 - phi)."""
        return math.sqrt(1.0 - self.phi)

    @property
    def sentence(self) -> str:
        """What the autocorrelation means, in words."""
        interval = f"({self.phi_low:.2f} to {self.phi_high:.2f})"
        if not self.significant:
            return f"Neighbouring tests look independent: autocorrelation {self.phi:.2f} {interval}."
        if self.phi < 0.0:
            return (
                f"Neighbouring tests swing against each other: autocorrelation {self.phi:.2f} {interval}; "
                "look for alternating mullers, operators or sampling points, or for over-correction."
            )
        share, width = round(100 * self.phi), round(100 * self.moving_range_share)
        return (
            f"About {share} % of a departure is still there one test later: autocorrelation {self.phi:.2f} "
            f"{interval}. Limits from moving ranges would be {width} % as wide as they should be."
        )


def fit_autoregression(values: npt.ArrayLike, *, at: npt.ArrayLike | None = None) -> Autoregression:
    """First-order autoregression, fitted across gaps by exact maximum likelihood.

    ``x_i - m = a_i (x_i-1 - m) + noise, a_i = phi^gap, w_i = 1/(1 - a_i^2), a_1 = 0``
    ``log L = -(n log(2 pi sigma^2) - sum log w + n)/2, sigma^2 = mean of w_i (x_i - m - a_i (x_i-1 - m))^2``

    m by least squares on (x_i - a x_i-1)/(1 - a) with weights (1 - a)/(1 + a). The interval is where log L is
    within 1.92 of its maximum, the error comes from its curvature.

    values: one per slot, NaN where missing [unit of the property]
    at: place of each value, ascending, for tests between slots; phi is then 0 or more [slots]
    returns: phi with interval and error, level, both sigmas, log-likelihood [unit of the property]

    Shapes: one row of eight or more measured values; `at` as long.
    Validity: stationary series; phi within -0.999 and 0.999.
    Errors: InputError for fewer values, equal or infinite ones, places that do not ascend or are too few.
    Example:
    >>> fit = fit_autoregression([1.0, 1.5, 1.8, 1.2, 0.9, 0.4, 0.2, 0.6, 1.1])
    >>> round(fit.phi, 3), fit.count
    (0.588, 9)

    Source: box_jenkins1976, section 7.1 (exact likelihood).
    """
    x, gaps = measured_steps(values, at)
    if x.size < MINIMUM:
        raise impossible("values", f"{x.size} measured", f"a fit needs {MINIMUM} or more")
    centred = x - x.mean()
    scale = float(np.sqrt(centred @ centred / x.size))
    if scale == 0.0:
        raise impossible("values", "all are equal", "a fit needs values that vary")
    likelihood = _Likelihood(centred / scale, gaps)
    whole = bool(np.all(gaps == np.round(gaps)))
    low, high = (-LARGEST_PHI if whole else 0.0), LARGEST_PHI
    phi = _maximum(likelihood, low, high)
    level, variance, best = likelihood.at(phi)
    phi_low = _crossing(likelihood, phi, low, best - _DEPTH_95)
    phi_high = _crossing(likelihood, phi, high, best - _DEPTH_95)
    sigma = scale * math.sqrt(variance)
    return Autoregression(
        phi=phi,
        phi_low=phi_low,
        phi_high=phi_high,
        phi_error=_error(likelihood, phi, low, high),
        mean=float(x.mean()) + scale * level,
        mean_error=sigma * likelihood.level_error(phi),
        sigma=sigma,
        noise_sigma=sigma * math.sqrt(1.0 - phi * phi),
        log_likelihood=best - x.size * math.log(scale),
        count=int(x.size),
    )


class _Likelihood:
    """The likelihood profile of phi, level and variance being the best ones for it.

    Values with the same gap before them enter by five sums: a trial costs as much as there are unlike gaps.
    """

    def __init__(self, x: Floats, gaps: Floats) -> None:
        self._first, self._size = float(x[0]), x.size
        before, after = x[:-1], x[1:]
        self._gaps, group = np.unique(gaps, return_inverse=True)
        products = (None, before, after, before * before, after * after, before * after)
        sums = [np.bincount(group, weights=product) for product in products]
        self._n, self._before, self._after, self._before_squared, self._after_squared, self._both = sums

    def at(self, phi: float) -> tuple[float, float, float]:
        """Level, variance and log-likelihood at `phi`."""
        a = self._carry(phi)
        drift = self._after - a * self._before
        level = (self._first + float(np.sum(drift / (1.0 + a)))) / self._weight(a)
        constant = level * (1.0 - a)
        squares = self._after_squared - 2.0 * a * self._both + a * a * self._before_squared
        squares += self._n * constant**2 - 2.0 * constant * drift
        spread = 1.0 - a * a
        # Rounding may leave less than nothing of a series that repeats itself exactly.
        rest = float(np.sum(np.maximum(squares, 0.0) / spread))
        variance = max((self._first - level) ** 2 + rest, _NOTHING) / self._size
        logs = float(self._n @ np.log(spread))
        return level, variance, -0.5 * (self._size * (math.log(2.0 * math.pi * variance) + 1.0) + logs)

    def __call__(self, phi: float) -> float:
        """Log-likelihood at `phi`."""
        return self.at(phi)[2]

    def level_error(self, phi: float) -> float:
        """Standard error of the level, in marginal standard deviations."""
        return 1.0 / math.sqrt(self._weight(self._carry(phi)))

    def _weight(self, a: Floats) -> float:
        return 1.0 + float(np.sum(self._n * (1.0 - a) / (1.0 + a)))

    def _carry(self, phi: float) -> Floats:
        return np.asarray(np.sign(phi) ** self._gaps * np.abs(phi) ** self._gaps)


def _maximum(likelihood: _Likelihood, low: float, high: float) -> float:
    """The phi of largest likelihood: the best of a coarse grid, refined between its neighbours."""
    # Imported here: drawing a chart needs no scipy.
    from scipy.optimize import minimize_scalar

    grid = np.linspace(low, high, 25)
    best = int(np.argmax([likelihood(float(phi)) for phi in grid]))
    bounds = (float(grid[max(0, best - 1)]), float(grid[min(24, best + 1)]))
    found = minimize_scalar(
        lambda phi: -likelihood(float(phi)), bounds=bounds, method="bounded", options={"xatol": 1e-9}
    )
    return float(found.x)


def _crossing(likelihood: _Likelihood, phi: float, end: float, level: float) -> float:
    """Where the likelihood falls to `level` between `phi` and `end`; `end` when it does not."""
    from scipy.optimize import brentq

    if likelihood(end) >= level:
        return end
    return float(brentq(lambda trial: likelihood(trial) - level, phi, end, xtol=1e-8))


def _error(likelihood: _Likelihood, phi: float, low: float, high: float) -> float:
    """Standard error of phi from the curvature of the profile, taken inside the bounds."""
    step = min(1e-3, 0.2 * (1.0 - abs(phi)))
    middle = min(high - step, max(low + step, phi))
    around = likelihood(middle - step) - 2.0 * likelihood(middle) + likelihood(middle + step)
    curvature = -around / step**2
    return 1.0 / math.sqrt(curvature) if curvature > 0.0 else 1.0


def measured_steps(values: npt.ArrayLike, at: npt.ArrayLike | None) -> tuple[Floats, Floats]:
    """The measured values, and the slots from each to the next."""
    series = as_series(values)
    places = np.arange(series.size, dtype=np.float64) if at is None else _places(at, series.size)
    measured = ~np.isnan(series)
    return series[measured], np.diff(places[measured])


def _places(at: npt.ArrayLike, count: int) -> Floats:
    places = np.asarray(at, dtype=np.float64)
    problems = []
    if places.shape != (count,):
        problems.append(Problem("places", f"{places.size} for {count} values", "give one place per value"))
    elif not np.all(np.isfinite(places)) or np.any(np.diff(places) <= 0.0):
        problems.append(Problem("places", "they do not ascend", "sort, and join repeated times"))
    if problems:
        raise InputError(problems)
    return places
