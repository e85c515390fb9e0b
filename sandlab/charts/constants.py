"""Constants of the range and the standard deviation of a normal sample, computed and not typed in.

Gauss-Legendre with 200 nodes on [-8.5, 8.5] gives twelve digits; outside that interval lies 2e-17 of the
normal distribution. Each constant is computed once and kept.
"""

from __future__ import annotations

import math
from functools import cache, lru_cache

import numpy as np

from sandlab.charts.normal import Floats, below, nodes_between
from sandlab.errors import impossible

_REACH, _NODES = 8.5, 200
LARGEST_SUBGROUP = 1000


def _check(subgroup_size: int) -> None:
    if not 2 <= subgroup_size <= LARGEST_SUBGROUP:
        raise impossible(
            "subgroup size",
            f"{subgroup_size} is not between 2 and {LARGEST_SUBGROUP}",
            "a range needs two or more values",
        )


@lru_cache(maxsize=1)
def _grid() -> tuple[Floats, Floats]:
    """Weights of the nodes, and the normal distribution at them."""
    nodes, weights = nodes_between(-_REACH, _REACH, _NODES)
    return weights, below(nodes)


@cache
def d2(subgroup_size: int) -> float:
    """Mean range of `subgroup_size` standard normal values.

    d2 = integral of 1 - F^n - (1 - F)^n, with F the normal distribution.

    Parameters: subgroup_size: values in the sample, 2 to 1000 [1].
    Raises InputError outside that range. Example: d2(2) is 2/sqrt(pi) = 1.12838.
    Source: montgomery, Appendix VI (printed 1.128); Tippett 1925 for the integral.
    """
    _check(subgroup_size)
    weights, low = _grid()
    return float(weights @ (1.0 - low**subgroup_size - (1.0 - low) ** subgroup_size))


@cache
def d3(subgroup_size: int) -> float:
    """Standard deviation of the range of `subgroup_size` standard normal values.

    d3^2 = E R^2 - d2^2, E R^2 = 2 times the integral over y < x of
    1 - F(x)^n - (1 - F(y))^n + (F(x) - F(y))^n.
    The integrand's kink on y = x is met by mapping the triangle onto the square, so the nodes lie inside it.

    Parameters: subgroup_size: values in the sample, 2 to 1000 [1].
    Raises InputError outside that range. Example: d3(2) is sqrt(2 - 4/pi) = 0.85250.
    Source: montgomery, Appendix VI (printed 0.853).
    """
    _check(subgroup_size)
    n = subgroup_size
    across, weights = nodes_between(-_REACH, _REACH, _NODES)
    share, share_weights = nodes_between(0.0, 1.0, _NODES // 2)
    y = -_REACH + np.outer(across + _REACH, share)
    below_x, below_y = below(across)[:, None], below(y)
    inside = 1.0 - below_x**n - (1.0 - below_y) ** n + (below_x - below_y) ** n
    mean_square = 2.0 * float((weights * (across + _REACH)) @ inside @ share_weights)
    return math.sqrt(mean_square - d2(n) ** 2)


@cache
def c4(subgroup_size: int) -> float:
    """Mean standard deviation (n - 1 in the denominator) of `subgroup_size` standard normal values.

    c4 = sqrt(2/(n-1)) gamma(n/2) / gamma((n-1)/2).

    Parameters: subgroup_size: values in the sample, 2 to 1000 [1].
    Raises InputError outside that range. Example: c4(5) is 0.93999.
    Source: montgomery, Appendix VI (printed 0.9400).
    """
    _check(subgroup_size)
    n = subgroup_size
    return math.sqrt(2.0 / (n - 1)) * math.exp(math.lgamma(n / 2) - math.lgamma((n - 1) / 2))


def range_limit_factors(subgroup_size: int, *, width: float = 3.0) -> tuple[float, float]:
    """Lower and upper limit of a range chart as multiples of the mean range (D3 and D4 at width 3).

    max(0, 1 - width d3/d2) and 1 + width d3/d2.

    Parameters: subgroup_size: values in the sample, 2 to 1000 [1]. width: limits in standard deviations [1].
    Raises InputError outside that range. Example: (0, 3.267) for moving ranges of two.
    Source: montgomery, Appendix VI; astm_e2587.
    """
    spread = width * d3(subgroup_size) / d2(subgroup_size)
    return max(0.0, 1.0 - spread), 1.0 + spread


def sigma_limit_factors(subgroup_size: int, *, width: float = 3.0) -> tuple[float, float]:
    """Lower and upper limit of a standard-deviation chart as multiples of its centre (B3 and B4 at width 3).

    max(0, 1 - q) and 1 + q with q = width sqrt(1 - c4^2) / c4.

    Parameters: subgroup_size: values in the sample, 2 to 1000 [1]. width: limits in standard deviations [1].
    Raises InputError outside that range. Example: (0, 2.089) for five.
    Source: montgomery, Appendix VI; astm_e2587.
    """
    spread = width * math.sqrt(1.0 - c4(subgroup_size) ** 2) / c4(subgroup_size)
    return max(0.0, 1.0 - spread), 1.0 + spread
