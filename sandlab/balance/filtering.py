"""Filtered values: what a series of noisy tests says, and why the last test alone must not be followed."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

import numpy as np

from sandlab.errors import impossible

DOUBTFUL_SHARE = 0.25  # share of its usual weight that a doubtful result keeps


def exponentially_weighted(
    values: Sequence[float], start: float, weight: float, doubtful: Sequence[bool] = ()
) -> float:
    """Exponentially weighted value of a series.

    ``z = z + weight (x - z)`` for each value, beginning at `start`

    values: results, oldest first [unit of the results]
    start: value before the first result [unit of the results]
    weight: share of a new result [-]
    doubtful: for each value whether it is doubtful; such a one keeps a quarter of its weight [true or false]
    returns: filtered value, `start` when there is no result [unit of the results]

    Shapes: values (n,), doubtful (n,) or empty.
    Validity: results about equally far apart.
    Errors: InputError when the weight is not above 0 and at most 1.
    Example:
    >>> round(exponentially_weighted([52.0, 47.0], 50.0, 0.3), 2)
    49.52

    Source: nist_handbook, 6.3.2.4.
    """
    if not 0.0 < weight <= 1.0:
        raise impossible("weight", f"{weight} is not possible", "give a weight above 0 and at most 1")
    doubts = doubtful or (False,) * len(values)
    filtered = start
    for value, doubt in zip(values, doubts, strict=True):
        filtered += weight * (DOUBTFUL_SHARE if doubt else 1.0) * (value - filtered)
    return filtered


def best_weight(ratio: float) -> float:
    """Best exponential weight for a random walk that is seen through noise.

    ``(sqrt(q^2 + 4 q) - q) / 2``, the steady gain of the Kalman filter

    ratio: q, the square of sd of the walk between tests over sd of a test [-]
    returns: weight [-]

    Shapes: scalars.
    Validity: a walk and a noise of constant size.
    Errors: InputError when the ratio is below 0.
    Example:
    >>> round(best_weight(0.1), 3)
    0.27

    Source: derived, steady-state Kalman filter.
    """
    if not ratio >= 0.0:
        raise impossible("variance ratio", f"{ratio} is not possible", "give 0 or more")
    return (sqrt(ratio * ratio + 4.0 * ratio) - ratio) / 2.0


def variance_ratio(gain: float) -> float:
    """Variance of a stable process that is corrected by a share of its last result.

    ``2 / (2 - gain)``

    gain: share of the last deviation that is corrected [-]
    returns: variance over that of the process left alone [-]

    Shapes: scalars.
    Validity: a process in control, whose results are independent.
    Errors: InputError when the gain is below 0 or not below 2.
    Example:
    >>> variance_ratio(1.0)
    2.0

    Source: deming_funnel, rule 2.
    """
    if not 0.0 <= gain < 2.0:
        raise impossible("gain", f"{gain} is unstable", "give 0 to below 2")
    return 2.0 / (2.0 - gain)


def greatest_dose_gain(cycle_factor: float, delay: int) -> float:
    """Gain below which a dose that is changed for one cycle keeps the loop stable.

    ``x(n+1) = cycle_factor x(n) - gain x(n - delay)``

    cycle_factor: share left after one cycle [-]
    delay: whole cycles between sample and dose [-]
    returns: greatest stable gain [-]

    Shapes: scalars.
    Validity: one mixed loop, cycle factor between 0 and 1.
    Errors: none.
    Example:
    >>> round(greatest_dose_gain(0.91, 1), 2)
    1.0

    Source: derived, roots of the characteristic polynomial.
    """
    # z^(d+1) - F z^d + g
    return _greatest_gain([1.0, -cycle_factor, *[0.0] * delay], 0)


def greatest_setting_gain(cycle_factor: float, delay: int) -> float:
    """Gain below which a setting that is changed and stays keeps the loop stable.

    ``x(n+1) = cycle_factor x(n) + dose(n)``, ``dose(n) = dose(n-1) - gain x(n - delay)``

    cycle_factor: share left after one cycle [-]
    delay: whole cycles between sample and setting [-]
    returns: greatest stable gain [-]

    Shapes: scalars.
    Validity: one mixed loop, cycle factor between 0 and 1.
    Errors: none.
    Example:
    >>> round(greatest_setting_gain(0.91, 1), 3)
    0.09

    Source: derived, roots of the characteristic polynomial.
    """
    # (z - F)(z - 1) z^(d-1) + g, times z where d is 0
    plant = [1.0, -1.0 - cycle_factor, cycle_factor, *[0.0] * max(delay - 1, 0)]
    return _greatest_gain(plant, 1 if delay == 0 else 0)


def _greatest_gain(plant: list[float], power: int) -> float:
    """By bisection, the gain at which plant(z) + gain z^power first has a root on the unit circle."""
    low, high = 0.0, 4.0
    for _ in range(60):
        middle = (low + high) / 2.0
        polynomial = np.array(plant)
        polynomial[-1 - power] += middle
        stable = bool(np.abs(np.roots(polynomial)).max() < 1.0)
        low, high = (middle, high) if stable else (low, middle)
    return (low + high) / 2.0
