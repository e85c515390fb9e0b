"""Constants against a second method, and refusal of sizes that have none."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sandlab.charts import c4, d2, d3, range_limit_factors
from sandlab.errors import InputError


def range_moment(size: int, power: int) -> float:
    """Moment of the range from its density n(n-1) int f(x) f(x+r) (F(x+r) - F(x))^(n-2), by trapezoids."""
    from scipy.special import ndtr

    step = 0.02
    x, r = np.arange(-9.0, 9.0, step)[:, None], np.arange(step, 14.0, step)[None, :]
    inner = np.exp(-0.5 * (x * x + (x + r) ** 2)) / (2 * math.pi)
    density = size * (size - 1) * (inner * (ndtr(x + r) - ndtr(x)) ** (size - 2)).sum(axis=0) * step
    return float((density * r[0] ** power).sum() * step)


@pytest.mark.parametrize("size", range(3, 26))
def test_range_constants_agree_with_the_density_of_the_range(size: int) -> None:
    """d2 and d3 from the distribution function equal the moments of the range's density (to size 25)."""
    mean = range_moment(size, 1)
    assert d2(size) == pytest.approx(mean, rel=1e-6)
    assert d3(size) == pytest.approx(math.sqrt(range_moment(size, 2) - mean**2), rel=1e-6)


def test_pairs_have_closed_forms() -> None:
    """Mean and deviation of the distance of two normal values: 2/sqrt(pi) and sqrt(2 - 4/pi)."""
    assert d2(2) == pytest.approx(2 / math.sqrt(math.pi), rel=1e-12)
    assert d3(2) == pytest.approx(math.sqrt(2 - 4 / math.pi), rel=1e-11)


@pytest.mark.parametrize("size", range(2, 26))
def test_c4_is_the_mean_of_chi(size: int) -> None:
    """c4 from gamma functions equals the mean of the chi distribution, integrated by trapezoids."""
    freedom = size - 1
    x = np.arange(0.0, 20.0, 1e-3)
    density = x ** (freedom - 1) * np.exp(-0.5 * x * x)
    density[0] *= 0.5
    assert c4(size) == pytest.approx(
        float((x * density).sum() / density.sum()) / math.sqrt(freedom), rel=2e-6
    )


@pytest.mark.parametrize("size", [1, 0, -3, 1001])
def test_sizes_without_a_range_are_refused(size: int) -> None:
    """One value has no range."""
    for constant in (d2, d3, c4, range_limit_factors):
        with pytest.raises(InputError, match="subgroup size"):
            constant(size)
