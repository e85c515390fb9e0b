"""Published examples whose input is a data set: callables that the published checks name."""

from __future__ import annotations

import numpy as np

from sandlab.charts.capability import capability
from sandlab.charts.normal import Floats
from sandlab.charts.subgroups import freeze_subgroups, subgroup_chart
from tests.charts.published_data import rows


def hard_bake_table() -> Floats:
    """Flow width of 25 subgroups of five wafers (Montgomery, Table 6.1)."""
    return np.array(
        [[float(row[f"x{test}"]) for test in range(1, 6)] for row in rows("montgomery_hardbake_6_1.csv")]
    )


def hard_bake(beyond: bool = False) -> dict[str, float]:
    """The mean and range charts of the hard-bake process; `beyond` counts the points outside instead."""
    table = hard_bake_table()
    limits = freeze_subgroups(table, basis="range")
    if beyond:
        chart = subgroup_chart(table, limits, spread="range")
        return {"means": float(len(chart.mean_beyond)), "ranges": float(len(chart.spread_beyond))}
    lower, upper = limits.mean_limits(5)
    _, mean_range, range_upper = limits.range_limits(5)
    return {
        "grand_mean": limits.centre,
        "mean_range": mean_range,
        "sigma": limits.sigma,
        "mean_upper": upper,
        "mean_lower": lower,
        "range_upper": range_upper,
    }


def hard_bake_capability() -> float:
    """Cp of the hard-bake process for a tolerance of 1.0 to 2.0, from the mean range."""
    table = hard_bake_table()
    limits = freeze_subgroups(table, basis="range")
    found = capability(table.ravel(), lower=1.0, upper=2.0, within=(limits.sigma, limits.freedom))
    assert found.cp is not None
    return found.cp.value
