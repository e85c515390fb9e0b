"""Individuals with moving range: the integral equation against a second method and its limits."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sandlab.charts import moving_range_run_length, moving_range_run_length_distribution
from sandlab.charts.normal import below
from sandlab.errors import InputError


def by_chain(width: float, range_width: float, shift: float, cells: int) -> float:
    """The same run length by a chain of equal cells, values at their middles: an independent method."""
    edges = np.linspace(-width, width, cells + 1)
    middles, chances = 0.5 * (edges[1:] + edges[:-1]), np.diff(below(edges - shift))
    near = np.abs(middles[:, None] - middles[None, :]) < range_width
    lengths = np.linalg.solve(np.eye(cells) - near * chances, np.ones(cells))
    return 1.0 + float(chances @ lengths)


@pytest.mark.parametrize(
    ("width", "range_width", "shift"), [(2.0, 3.0, 0.0), (2.0, 3.0, 1.5), (3.0, 3.686, 0.0), (2.5, 1.1, 0.5)]
)
def test_equation_by_a_second_method(width: float, range_width: float, shift: float) -> None:
    """A chain of 400 to 800 cells comes to the same run length, within what its coarse ends leave open."""
    exact = moving_range_run_length(width, range_width=range_width, shift=shift)
    coarse, fine = (by_chain(width, range_width, shift, cells) for cells in (400, 800))
    assert fine == pytest.approx(exact, rel=1e-2)
    assert abs(fine - exact) < abs(coarse - exact) + 1e-3 * exact


def test_a_wide_moving_range_limit_is_no_limit() -> None:
    """Two values within the limits are at most six sigmas apart: 370.398 remains."""
    assert moving_range_run_length(3.0, range_width=6.0) == pytest.approx(370.3983473, abs=1e-6)


def test_usual_limit_costs_most_of_the_run_length() -> None:
    """The usual moving-range limit beside 3 sigma alarms every 105 tests; 200 000 simulated tests agree."""
    usual = moving_range_run_length()
    assert usual == pytest.approx(
        moving_range_run_length(3.0, range_width=3.0 * 0.8525025 + 1.1283792), abs=1e-3
    )
    random = np.random.default_rng(3)
    values = random.normal(size=(4000, 800))
    alarms = np.abs(values) > 3.0
    alarms[:, 1:] |= np.abs(np.diff(values, axis=1)) > 3.0 * 0.8525025 + 1.1283792
    lengths = np.where(alarms.any(axis=1), alarms.argmax(axis=1) + 1, 800)
    expected = moving_range_run_length_distribution().surviving
    error = float(lengths.std()) / math.sqrt(4000)
    # What the 800 tests cut off is what the distribution has left there.
    cut = usual * moving_range_run_length_distribution().fade ** 800
    assert lengths.mean() == pytest.approx(usual - cut, abs=4 * error)
    assert expected[1] == pytest.approx(1.0 - 0.0026998, abs=1e-7)


@pytest.mark.parametrize("range_width", [0.5, 0.75, 1.0, 2.0, 2.0 + 1e-12, 3.0, 5.999])
def test_kinks_that_meet_are_no_trouble(range_width: float) -> None:
    """Range widths that divide the limits evenly, and nearly so, vary smoothly."""
    here = moving_range_run_length(3.0, range_width=range_width)
    beside = moving_range_run_length(3.0, range_width=range_width + 1e-7)
    assert beside == pytest.approx(here, rel=1e-5)


def test_impossible_settings_are_refused() -> None:
    """Every setting out of range is named at once."""
    with pytest.raises(InputError) as caught:
        moving_range_run_length(9.0, range_width=0.1, shift=math.nan)
    assert [problem.where for problem in caught.value.problems] == ["width", "moving-range limit", "shift"]
