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

    ``integral of 1 - F^n - (1 - F)^n``, F the normal distribution and n the size

    subgroup_size: values in the sample [1]
    returns: d2 [1]

    Shapes: scalars.
    Validity: normal values; 2 to 1000 in the sample.
    Errors: InputError outside that range.
    Example:
    >>> round(d2(2), 6)
    1.128379

    Source: montgomery, Appendix VI.
    """
    _check(subgroup_size)
    weights, low = _grid()
    return float(weights @ (1.0 - low**subgroup_size - (1.0 - low) ** subgroup_size))


@cache
def d3(subgroup_size: int) -> float:
    """Standard deviation of the range of `subgroup_size` standard normal values.

    ``d3^2 = E R^2 - d2^2, E R^2 = 2 integral over y < x of 1 - F(x)^n - (1 - F(y))^n + (F(x) - F(y))^n``

    subgroup_size: values in the sample [1]
    returns: d3 [1]

    Shapes: scalars.
    Validity: normal values; 2 to 1000 in the sample.
    Errors: InputError outside that range.
    Example:
    >>> round(d3(2), 6)
    0.852502

    Source: montgomery, Appendix VI.
    """
    _check(subgroup_size)
    n = subgroup_size
    # The triangle y < x becomes a square, so that no node meets the kink on its edge.
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

    ``sqrt(2/(n - 1)) gamma(n/2) / gamma((n - 1)/2)``

    subgroup_size: values in the sample [1]
    returns: c4 [1]

    Shapes: scalars.
    Validity: normal values; 2 to 1000 in the sample.
    Errors: InputError outside that range.
    Example:
    >>> round(c4(5), 6)
    0.939986

    Source: montgomery, Appendix VI.
    """
    _check(subgroup_size)
    n = subgroup_size
    return math.sqrt(2.0 / (n - 1)) * math.exp(math.lgamma(n / 2) - math.lgamma((n - 1) / 2))


def range_limit_factors(subgroup_size: int, *, width: float = 3.0) -> tuple[float, float]:
    """Limits of a range chart as multiples of the mean range (D3 and D4 at width 3).

    ``max(0, 1 - width d3/d2) and 1 + width d3/d2``

    subgroup_size: values in the sample [1]
    width: distance of the limits from the centre, in standard deviations [1]
    returns: lower and upper factor [1]

    Shapes: scalars.
    Validity: normal values; 2 to 1000 in the sample.
    Errors: InputError outside that range.
    Example:
    >>> [round(factor, 3) for factor in range_limit_factors(2)]
    [0.0, 3.267]

    Source: montgomery, Appendix VI.
    """
    spread = width * d3(subgroup_size) / d2(subgroup_size)
    return max(0.0, 1.0 - spread), 1.0 + spread


def sigma_limit_factors(subgroup_size: int, *, width: float = 3.0) -> tuple[float, float]:
    """Limits of a standard-deviation chart as multiples of its centre (B3 and B4 at width 3).

    ``max(0, 1 - q) and 1 + q, q = width sqrt(1 - c4^2)/c4``

    subgroup_size: values in the sample [1]
    width: distance of the limits from the centre, in standard deviations [1]
    returns: lower and upper factor [1]

    Shapes: scalars.
    Validity: normal values; 2 to 1000 in the sample.
    Errors: InputError outside that range.
    Example:
    >>> [round(factor, 3) for factor in sigma_limit_factors(5)]
    [0.0, 2.089]

    Source: montgomery, Appendix VI.
    """
    spread = width * math.sqrt(1.0 - c4(subgroup_size) ** 2) / c4(subgroup_size)
    return max(0.0, 1.0 - spread), 1.0 + spread
