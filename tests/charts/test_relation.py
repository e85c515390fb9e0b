"""The band of a relation; the line itself is held against certified values in tests/published."""

from __future__ import annotations

import numpy as np
import pytest

from sandlab.charts import fit_relation, relation_band
from sandlab.errors import InputError


def test_a_left_out_pair_lies_where_its_press_residual_says() -> None:
    """Allen's identity (1974): what the fit without a pair misses it by is e/(1 - h) of the fit with it."""
    draw = np.random.default_rng(8)
    x = draw.normal(42.0, 2.0, 30)
    y = 1.0 + 0.05 * x + draw.normal(0.0, 0.1, 30)
    whole = fit_relation(x, y)
    leverage = 1.0 / 30 + (x - whole.x_mean) ** 2 / whole.squares
    for place in (0, 7, 29):
        kept = np.arange(30) != place
        missed = y[place] - fit_relation(x[kept], y[kept]).expected([x[place]])[0]
        said = (y[place] - whole.expected([x[place]])[0]) / (1.0 - leverage[place])
        assert missed == pytest.approx(said, rel=1e-9)


def test_the_band_holds_as_many_tests_as_it_promises() -> None:
    """A simulated relation: 95 of 100 further tests lie in the band of 95 %, also from a short baseline."""
    draw = np.random.default_rng(9)
    inside = 0
    for _ in range(2000):
        x = draw.normal(42.0, 2.0, 10)
        line = fit_relation(x, 0.05 * x + draw.normal(0.0, 0.1, 10))
        new = draw.normal(42.0, 2.0)
        band = relation_band(line, [new], confidence=0.95)
        inside += band.low[0] <= 0.05 * new + draw.normal(0.0, 0.1) <= band.high[0]
    assert inside / 2000 == pytest.approx(0.95, abs=0.015)


def test_pairs_with_a_missing_half_are_left_out() -> None:
    x = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0]
    y = [2.0, 4.1, 6.0, 8.2, 9.9, 12.1, 14.0, 16.1]
    assert fit_relation([*x, np.nan, 9.0], [*y, 3.0, np.nan]) == fit_relation(x, y)
    assert fit_relation(x, y).sure


@pytest.mark.parametrize(
    ("x", "y", "said"),
    [
        ([1.0], [1.0, 2.0], "1 x for 2 y"),
        ([1.0] * 7, [1.0] * 7, "7 complete"),
        ([3.0] * 9, list(range(9)), "does not vary"),
        ([np.inf, *range(8)], list(range(9)), "infinite"),
    ],
)
def test_impossible_pairs_are_refused(x: list[float], y: list[float], said: str) -> None:
    with pytest.raises(InputError, match=said):
        fit_relation(x, y)
