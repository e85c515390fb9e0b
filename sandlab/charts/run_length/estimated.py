"""What limits frozen on few tests do to the run length: it differs from baseline to baseline."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from sandlab.charts.baseline import Basis
from sandlab.charts.normal import Floats

# The surface goes through the run lengths at these many standard errors of centre and sigma.
_OFFSETS, _SCALES = (0.0, 0.7, 1.4, 2.1, 2.9), (-2.9, -1.4, 0.0, 1.4, 2.9)
_REACH = 2.9
_SHARES = 41
# Moving ranges tell sigma as well as 0.605 times as many tests do by their deviation from the mean.
_MOVING_RANGE_WORTH = 0.605


@dataclass(frozen=True, slots=True)
class BaselineErrors:
    """How far a frozen baseline lies from the truth, in marginal sigmas.

    The centre is off by a normal error of deviation `centre`; the frozen sigma is `sigma_mean` times the root
    of chi-square over its degrees of freedom, which are `freedom`.
    """

    centre: float
    sigma_mean: float
    freedom: float

    @property
    def sigma(self) -> float:
        """Standard error of the frozen sigma as a share of it."""
        return 1.0 / math.sqrt(2.0 * self.freedom)

    def scales(self, z: Floats) -> Floats:
        """The frozen sigma at normal quantiles `z`, by the cube-root rule for chi-square."""
        spread = 2.0 / (9.0 * self.freedom)
        cubes = np.maximum(1.0 - spread + z * math.sqrt(spread), 0.2)
        return np.asarray(self.sigma_mean * cubes**1.5)


def baseline_errors(
    phi: float, count: int, *, basis: Basis = "overall", signal_share: float = 1.0
) -> BaselineErrors:
    """The errors of a baseline of `count` tests with autocorrelations share phi^k.

    ``var centre = (1 + 2 share phi/(1 - phi))/n``
    ``var of the overall deviation = (1 + 2 share^2 phi^2/(1 - phi^2))/2n``
    """
    centre = math.sqrt((1.0 + 2.0 * signal_share * phi / (1.0 - phi)) / count)
    if basis == "moving_range":
        freedom = _MOVING_RANGE_WORTH * (count - 1)
        # Neighbours that resemble each other make ranges small; without that their sigma is right on average.
        return BaselineErrors(centre, math.sqrt(1.0 - signal_share * phi) / (1.0 - 0.25 / freedom), freedom)
    # The overall deviation is measured from the mean of the same autocorrelated values: too small on average.
    sigma_mean = math.sqrt(max(0.05, 1.0 - centre**2 + 1.0 / count))
    spread = 1.0 + 2.0 * (signal_share * phi) ** 2 / (1.0 - phi * phi)
    return BaselineErrors(centre, sigma_mean, count / spread)


@dataclass(frozen=True, slots=True, eq=False)
class LengthsOverBaselines:
    """Run lengths as a function of the errors of a baseline: a polynomial surface of log run length."""

    coefficients: Floats

    def at(self, centre_z: Floats, sigma_z: Floats) -> Floats:
        """Run lengths of baselines whose errors lie at these normal quantiles."""
        logs = np.sum((_powers(centre_z) @ self.coefficients) * _quartic(sigma_z), axis=-1)
        return np.asarray(np.exp(np.maximum(0.0, logs)))

    def quantile(self, share: float) -> float:
        """The run length that `share` of such baselines stay below."""
        return float(np.quantile(self.at(*_grid()), share))


def over_baselines(length: Callable[[float, float], float], errors: BaselineErrors) -> LengthsOverBaselines:
    """Lay a surface through run lengths over the errors of a baseline.

    `length(offset, scale)` gives them: `offset` is how far the frozen centre lies from the mean, `scale` the
    frozen sigma, both in true sigmas.
    """
    scales = errors.scales(np.array(_SCALES)).tolist()
    logs = np.array([[math.log(length(z * errors.centre, scale)) for scale in scales] for z in _OFFSETS])
    across = np.linalg.solve(_powers(np.array(_OFFSETS)), logs)
    return LengthsOverBaselines(np.asarray(np.linalg.solve(_quartic(np.array(_SCALES)), across.T).T))


def _powers(centre_z: Floats) -> Floats:
    """The terms in the error of the centre, which are even; errors further out count as the farthest laid."""
    squares = np.minimum(centre_z * centre_z, _REACH**2)
    return squares[..., None] ** np.arange(len(_OFFSETS))


def _quartic(sigma_z: Floats) -> Floats:
    """The terms in the error of sigma."""
    return np.clip(sigma_z, -_REACH, _REACH)[..., None] ** np.arange(len(_SCALES))


@lru_cache(maxsize=1)
def _grid() -> tuple[Floats, Floats]:
    """Normal quantiles of equal shares of baselines, every centre with every sigma."""
    normal = NormalDist()
    z = np.array([normal.inv_cdf((place + 0.5) / _SHARES) for place in range(_SHARES)])
    return np.repeat(z, _SHARES), np.tile(z, _SHARES)
