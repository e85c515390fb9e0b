"""Level, spread and autocorrelation against certified values, with and without gaps."""

from __future__ import annotations

import numpy as np
import pytest

from sandlab.charts import (
    estimate,
    freeze,
    is_coarse,
    lag1_autocorrelation,
    mean_and_sigma,
    moving_ranges,
    smallest_step,
)
from sandlab.errors import InputError
from tests.charts.published_data import column


def digits_of_pi(count: int) -> list[int]:
    """The first digits of pi, the leading 3 counted, by Machin's formula in whole numbers."""
    one = 10 ** (count + 10)

    def arctangent_of_inverse(x: int) -> int:
        term = total = one // x
        power, sign = 1, -1
        while term:
            term //= x * x
            power += 2
            total += sign * (term // power)
            sign = -sign
        return total

    pi = 4 * (4 * arctangent_of_inverse(5) - arctangent_of_inverse(239)) // 10**10
    import sys

    sys.set_int_max_str_digits(count + 100)
    return [int(digit) for digit in str(pi)[:count]]


def lost_digits(computed: float | None, certified: float) -> float:
    """The relative distance from a certified value."""
    assert computed is not None
    return abs(computed - certified) / abs(certified)


def test_strd_pi_digits() -> None:
    """NIST StRD PiDigits (its file has 3 where digit 957 of pi is 8): 14 digits or more."""
    values = digits_of_pi(5000)
    assert values[956] == 8
    values[956] = 3
    found = estimate(values)
    assert lost_digits(found.mean, 4.5348) < 1e-14
    assert lost_digits(found.sigma_overall, 2.86733906028871) < 1e-14
    assert lost_digits(found.lag1, -0.00355099287237972) < 1e-13


def test_strd_michelso() -> None:
    """NIST StRD Michelso: 13 digits, what reading the decimals into doubles leaves."""
    found = estimate(column("nist_strd_michelso.csv", "x"))
    assert lost_digits(found.mean, 299.8524) < 1e-15
    assert lost_digits(found.sigma_overall, 0.0790105478190518) < 1e-13
    assert lost_digits(found.lag1, 0.535199668621283) < 1e-13


def test_strd_num_acc_3() -> None:
    """NIST StRD NumAcc3: 9 digits, what reading the decimals into doubles leaves."""
    found = estimate([1000000.2] + [1000000.1, 1000000.3] * 500)
    assert lost_digits(found.mean, 1000000.2) < 1e-15
    assert lost_digits(found.sigma_overall, 0.1) < 1e-9
    assert lost_digits(found.lag1, -0.999) < 1e-9


def test_flow_rate_limits_with_the_printed_divisor() -> None:
    """NIST/SEMATECH handbook 6.3.2.2: the printed 55.8041 and 45.8159 come from d2 = 1.128."""
    limits = freeze(column("nist_individuals_flowrate.csv", "x"), basis="moving_range")
    reach = 3 * limits.moving_range_centre / 1.128
    assert limits.centre + reach == pytest.approx(55.8041, abs=5e-5)
    assert limits.centre - reach == pytest.approx(45.8159, abs=5e-5)


def test_a_missing_test_removes_two_moving_ranges() -> None:
    """Neighbours are adjacent slots: 4 to 7 across a gap is no moving range."""
    values = [1.0, 2.0, 4.0, np.nan, 7.0, 8.0]
    np.testing.assert_array_equal(moving_ranges(values), [np.nan, 1.0, 2.0, np.nan, np.nan, 1.0])
    found = estimate(values)
    assert (found.count, found.neighbours) == (5, 3)
    assert found.moving_range_mean == pytest.approx(4 / 3)


def test_autocorrelation_with_gaps_is_unbiased_on_a_long_series() -> None:
    """Deleting a fifth of an autocorrelated series at random leaves its lag-1 value near 0.7 (simulated)."""
    random = np.random.default_rng(7)
    values = np.zeros(20_000)
    for place in range(1, values.size):
        values[place] = 0.7 * values[place - 1] + random.normal()
    values[random.random(values.size) < 0.2] = np.nan
    assert lag1_autocorrelation(values) == pytest.approx(0.7, abs=0.02)


def test_nothing_to_say_about_equal_values() -> None:
    """Equal values have no autocorrelation and no step."""
    assert lag1_autocorrelation([5.0] * 9) is None
    assert smallest_step([5.0] * 9) is None
    assert not is_coarse([5.0] * 9, 0.0)


def test_coarse_reading_is_noticed() -> None:
    """Compactability read to 1 % with a sigma of 1 % is coarse; to 0.1 % it is not."""
    values = np.random.default_rng(3).normal(42.0, 1.0, 6000)
    assert is_coarse(np.round(values), 1.0)
    assert not is_coarse(np.round(values, 1), 1.0)
    assert smallest_step(np.round(values, 1)) == pytest.approx(0.1)


@pytest.mark.parametrize("values", [[], [1.0], [np.nan, np.nan, 2.0], [np.nan]])
def test_too_few_values_are_refused(values: list[float]) -> None:
    """A spread needs two measured values."""
    with pytest.raises(InputError, match="two or more"):
        mean_and_sigma(values)


@pytest.mark.parametrize("bad", [np.inf, -np.inf, 1e200])
def test_infinite_values_are_refused(bad: float) -> None:
    """The message names the value."""
    with pytest.raises(InputError, match="value 2"):
        estimate([1.0, bad, 2.0])
