"""A first-order autoregression seen through noise of testing: how much of the spread is the sand's own."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sandlab.charts.autocorrelation import LARGEST_PHI, MINIMUM, measured_steps
from sandlab.charts.normal import Floats
from sandlab.errors import impossible

# Half the 95 % point of chi-square with one degree of freedom, and with it on an edge of what is possible.
_DEPTH_95, _EDGE_95 = 1.9207294103, 1.3527717
# Half the 95 % point of chi-square with two degrees of freedom.
_INDEPENDENT_95 = 2.9957323
_PHI_GRID, _SHARE_GRID = 15, 9


@dataclass(frozen=True, slots=True)
class NoisyAutoregression:
    """An autoregressive signal plus noise of testing: `phi` is the signal's, with its 95 % interval.

    `signal_share` is the signal's part of the variance of tests, with its 95 % interval; `sigma` is their
    deviation. `gain` is the log-likelihood above a fit without noise, `dependence` above independent tests.
    """

    phi: float
    phi_low: float
    phi_high: float
    signal_share: float
    share_low: float
    share_high: float
    mean: float
    sigma: float
    log_likelihood: float
    gain: float
    dependence: float
    count: int

    @property
    def lag1(self) -> float:
        """Autocorrelation of neighbouring tests: the signal's, made smaller by the noise."""
        return self.signal_share * self.phi

    @property
    def signal_sigma(self) -> float:
        """Standard deviation of the signal."""
        return self.sigma * math.sqrt(self.signal_share)

    @property
    def testing_sigma(self) -> float:
        """Standard deviation of the noise of testing."""
        return self.sigma * math.sqrt(1.0 - self.signal_share)

    @property
    def significant(self) -> bool:
        """Whether tests depend on each other at all, at 95 %; if not, phi and the share say nothing."""
        return self.dependence > _INDEPENDENT_95

    @property
    def noise_significant(self) -> bool:
        """Whether the noise of testing shows, at 95 %."""
        return self.significant and self.gain > _EDGE_95

    @property
    def sentence(self) -> str:
        """What signal and noise mean, in words."""
        if not self.significant:
            return "Neighbouring tests look independent: nothing tells the sand's own changes from testing."
        if self.phi < 0.0:
            return (
                "Neighbouring tests swing against each other: the noise of testing cannot be told from that."
            )
        carried = f"About {100 * self.phi:.0f} % of a departure of the sand is still there one test later"
        noise = f"{100 * (1.0 - self.signal_share):.0f} %"
        if not self.noise_significant:
            return f"{carried}; noise of testing does not show beside it."
        interval = f"{100 * (1.0 - self.share_high):.0f} to {100 * (1.0 - self.share_low):.0f}"
        return f"{carried}; noise of testing makes up {noise} ({interval}) of the variance of single tests."


def fit_noisy_autoregression(
    values: npt.ArrayLike, *, at: npt.ArrayLike | None = None
) -> NoisyAutoregression:
    """First-order autoregression plus independent noise, fitted across gaps by exact maximum likelihood.

    ``x_i = m + s_i + e_i, s_i = a_i s_i-1 + step, a_i = phi^gap; autocorrelation at gap g: share phi^g``
    ``log L = -(n log(2 pi sigma^2) + log|C| + n)/2, C = share R + (1 - share) I, sigma^2 = r' C^-1 r/n``

    R is the signal's correlation, whose inverse Q has three diagonals, so that C^-1 = Q (share I +
    (1 - share) Q)^-1 costs one pass: the likelihood that a Kalman filter gives. Intervals are where the
    profile of log L is within 1.92 of its maximum.

    values: one per slot, NaN where missing [unit of the property]
    at: place of each value, ascending, for tests between slots; phi is then 0 or more [slots]
    returns: phi and share with intervals, level, deviation, log-likelihoods [unit of the property]

    Shapes: one row of eight or more measured values; `at` as long.
    Validity: stationary series; phi within -0.999 and 0.999; told apart from about 100 tests on. A thousand
    tests take some 2000 passes.
    Errors: InputError for fewer values, equal or infinite ones, places that do not ascend or are too few.
    Example:
    >>> fit = fit_noisy_autoregression([1.0, 1.5, 1.8, 1.2, 0.9, 0.4, 0.2, 0.6, 1.1])
    >>> round(fit.phi, 3), round(fit.signal_share, 3)
    (0.588, 1.0)

    Source: box_jenkins1976, section A4.3 (an autoregression with added noise).
    """
    likelihood, low, shift, scale = _prepared(values, at)
    phi, share = _maximum(likelihood, low)
    level, variance, best = likelihood.at(phi, share)
    plain = _highest(lambda trial: likelihood.at(trial, 1.0)[2], low, LARGEST_PHI)[1]

    def along_phi(trial: float) -> float:
        return _highest(lambda other: likelihood.at(trial, other)[2], 0.0, 1.0)[1]

    def along_share(trial: float) -> float:
        return _highest(lambda other: likelihood.at(other, trial)[2], low, LARGEST_PHI)[1]

    floor = best - _DEPTH_95
    return NoisyAutoregression(
        phi=phi,
        phi_low=_crossing(along_phi, phi, low, floor),
        phi_high=_crossing(along_phi, phi, LARGEST_PHI, floor),
        signal_share=share,
        share_low=_crossing(along_share, share, 0.0, floor),
        share_high=_crossing(along_share, share, 1.0, floor),
        mean=shift + scale * level,
        sigma=scale * math.sqrt(variance),
        log_likelihood=best - likelihood.count * math.log(scale),
        gain=max(0.0, best - plain),
        dependence=max(0.0, best - likelihood.at(0.0, 1.0)[2]),
        count=likelihood.count,
    )


def noisy_resemblance(
    values: npt.ArrayLike, *, at: npt.ArrayLike | None = None
) -> tuple[float, float] | None:
    """Phi and signal share of `fit_noisy_autoregression` without their intervals; None if neighbours differ.

    Neighbours that swing against each other count as unlike. A third of the time of the whole fit; raises
    InputError as it does.
    """
    likelihood, low, _, _ = _prepared(values, at)
    phi, share = _maximum(likelihood, low, tolerance=1e-3)
    alike = likelihood.at(phi, share)[2] - likelihood.at(0.0, 1.0)[2] > _INDEPENDENT_95
    return (phi, share) if alike and phi > 0.0 else None


def _prepared(values: npt.ArrayLike, at: npt.ArrayLike | None) -> tuple[_Likelihood, float, float, float]:
    """The likelihood of scaled values, the least phi that can be, and the mean and deviation taken out."""
    x, gaps = measured_steps(values, at)
    if x.size < MINIMUM:
        raise impossible("values", f"{x.size} measured", f"a fit needs {MINIMUM} or more")
    centred = x - x.mean()
    scale = float(np.sqrt(centred @ centred / x.size))
    if scale == 0.0:
        raise impossible("values", "all are equal", "a fit needs values that vary")
    low = -LARGEST_PHI if np.all(gaps == np.round(gaps)) else 0.0
    return _Likelihood(centred / scale, gaps), low, float(x.mean()), scale


class _Likelihood:
    """The likelihood profile of phi and share, level and variance being the best ones for them."""

    def __init__(self, x: Floats, gaps: Floats) -> None:
        from scipy.linalg import lapack

        self.count = int(x.size)
        self._gaps, self._group = np.unique(gaps, return_inverse=True)
        self._alike = np.bincount(self._group, minlength=self._gaps.size).astype(np.float64)
        self._sides = np.stack((x, np.ones_like(x)), axis=1)
        self._factor, self._solve = lapack.dpttrf, lapack.dpttrs

    def at(self, phi: float, share: float) -> tuple[float, float, float]:
        """Level, variance and log-likelihood."""
        carry = np.sign(phi) ** self._gaps * np.abs(phi) ** self._gaps
        spread = 1.0 - carry * carry
        off = (-carry / spread)[self._group]
        diagonal = np.ones(off.size + 1)
        diagonal[1:] = (1.0 / spread)[self._group]
        diagonal[:-1] += (carry * carry / spread)[self._group]
        pivots, below, _ = self._factor(share + (1.0 - share) * diagonal, (1.0 - share) * off)
        solved, _ = self._solve(pivots, below, self._sides)
        weighted = diagonal[:, None] * solved
        weighted[:-1] += off[:, None] * solved[1:]
        weighted[1:] += off[:, None] * solved[:-1]
        x, ones = self._sides.T
        level = float(x @ weighted[:, 1]) / float(ones @ weighted[:, 1])
        variance = max(float((x - level) @ (weighted[:, 0] - level * weighted[:, 1])), 1e-300) / x.size
        logs = float(np.sum(np.log(pivots))) + float(self._alike @ np.log(spread))
        return level, variance, -0.5 * (x.size * (math.log(2.0 * math.pi * variance) + 1.0) + logs)


def _maximum(likelihood: _Likelihood, low: float, *, tolerance: float = 1e-8) -> tuple[float, float]:
    """Phi and share of largest likelihood: the best of a coarse grid, refined in turn and together."""
    from scipy.optimize import minimize

    trials = [
        (likelihood.at(phi, share)[2], phi, share)
        for phi in np.linspace(low, 0.98, _PHI_GRID).tolist()
        for share in np.linspace(1.0, 0.1, _SHARE_GRID).tolist()
    ]
    _, phi, share = max(trials)

    def cost(trial: Floats) -> float:
        return -likelihood.at(float(trial[0]), float(trial[1]))[2]

    found = minimize(
        cost,
        [phi, share],
        method="Nelder-Mead",
        bounds=[(low, LARGEST_PHI), (0.0, 1.0)],
        tol=tolerance,
    )
    return float(found.x[0]), float(found.x[1])


def _highest(profile: Callable[[float], float], low: float, high: float) -> tuple[float, float]:
    """Where a smooth profile is highest between two bounds, the ends included, and its height there."""
    from scipy.optimize import minimize_scalar

    found = minimize_scalar(
        lambda trial: -profile(float(trial)), bounds=(low, high), method="bounded", options={"xatol": 1e-4}
    )
    return max(
        ((float(found.x), -float(found.fun)), *((end, profile(end)) for end in (low, high))), key=_second
    )


def _second(pair: tuple[float, float]) -> float:
    return pair[1]


def _crossing(profile: Callable[[float], float], start: float, end: float, level: float) -> float:
    """Where the profile falls to `level` between its top at `start` and `end`; `end` when it does not."""
    from scipy.optimize import brentq

    if profile(end) >= level or abs(start - end) < 1e-9:
        return end
    if profile(start) <= level:
        return start
    return float(brentq(lambda trial: profile(trial) - level, start, end, xtol=1e-4))
