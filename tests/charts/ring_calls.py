"""Piston rings as the published checks ask for them: whole, and with twelve readings taken out."""

from __future__ import annotations

import numpy as np

from sandlab.charts import SubgroupLimits, c4, d2, freeze_subgroups, subgroup_chart
from sandlab.charts.normal import Floats
from tests.charts.published_data import rows

# Readings left out in the case of unequal sizes, counted from 1 along the rows.
LEFT_OUT = (9, 10, 30, 35, 45, 64, 65, 74, 75, 85, 99, 100)


def rings(*, unequal: bool = False) -> Floats:
    """Inside diameters of 40 samples of five rings; the limits come from the first 25."""
    table = [[float(row[f"x{test}"]) for test in range(1, 6)] for row in rows("montgomery_piston_rings.csv")]
    values = np.array(table)
    if unequal:
        values.ravel()[np.array(LEFT_OUT) - 1] = np.nan
    return values


def whole() -> dict[str, float]:
    """Centre, spread by deviations, limits of the mean by ranges and of the deviation."""
    deviations = freeze_subgroups(rings()[:25], basis="deviation")
    ranges = freeze_subgroups(rings()[:25], basis="range")
    _, centre, upper = deviations.deviation_limits(5)
    lower_mean, upper_mean = ranges.mean_limits(5)
    return {
        "centre": deviations.centre,
        "sigma": deviations.sigma,
        "deviation_centre": centre,
        "deviation_upper": upper,
        "range_sigma": ranges.sigma,
        "mean_lower": lower_mean,
        "mean_upper": upper_mean,
    }


def beyond() -> list[float]:
    """The later samples outside the limits of the mean, by number."""
    limits = freeze_subgroups(rings()[:25], basis="range")
    return [float(place + 26) for place in subgroup_chart(rings()[25:], limits).mean_beyond]


def unequal() -> dict[str, float]:
    """Centre, the plain means of what each sample says of sigma, and limits by size for the printed sigma."""
    table = rings(unequal=True)[:25]
    sizes = np.count_nonzero(~np.isnan(table), axis=1).tolist()
    deviations, ranges = np.nanstd(table, axis=1, ddof=1), np.nanmax(table, axis=1) - np.nanmin(table, axis=1)
    centre = freeze_subgroups(table).centre
    printed = SubgroupLimits(centre, 0.009856701, 0.0, 100.0, "range", 25, 113)
    return {
        "centre": centre,
        "sigma_deviations": float(np.mean(deviations / [c4(size) for size in sizes])),
        "sigma_ranges": float(np.mean(ranges / [d2(size) for size in sizes])),
        "lower_of_5": printed.mean_limits(5)[0],
        "upper_of_5": printed.mean_limits(5)[1],
        "lower_of_3": printed.mean_limits(3)[0],
        "upper_of_3": printed.mean_limits(3)[1],
    }
