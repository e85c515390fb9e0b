"""Tables of subgroups: reading them, and the size, mean and spread of each row."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sandlab.charts.constants import LARGEST_SUBGROUP
from sandlab.charts.estimates import LARGEST
from sandlab.charts.normal import Floats
from sandlab.errors import impossible

Sizes = npt.NDArray[np.intp]


def tabulate(values: npt.ArrayLike, groups: npt.ArrayLike) -> Floats:
    """Values with the label of their subgroup as a table: one row per label in order of first appearance."""
    series, labels = np.asarray(values, dtype=np.float64), np.asarray(groups)
    if series.ndim != 1 or labels.shape != series.shape:
        raise impossible("groups", f"{labels.size} for {series.size} values", "give one label per value")
    _, first, inverse = np.unique(labels, return_index=True, return_inverse=True)
    row = np.argsort(np.argsort(first))[inverse]
    order = np.argsort(row, kind="stable")
    sizes = np.bincount(row)
    column = np.arange(series.size) - np.repeat(np.cumsum(sizes) - sizes, sizes)
    table = np.full((sizes.size, int(sizes.max(initial=0))), np.nan)
    table[row[order], column] = series[order]
    return table


def as_table(table: npt.ArrayLike) -> Floats:
    """`table` as rows of floats, one per subgroup; infinite values and other shapes are refused."""
    grid = np.asarray(table, dtype=np.float64)
    if grid.ndim != 2 or grid.shape[1] < 2 or grid.shape[1] > LARGEST_SUBGROUP:
        what = f"shape {'x'.join(str(side) for side in grid.shape)}"
        raise impossible("subgroups", what, f"give one row per subgroup, 2 to {LARGEST_SUBGROUP} columns")
    beyond = np.argwhere(np.abs(grid) >= LARGEST)
    if beyond.size:
        row, column = (beyond[0] + 1).tolist()
        what = f"test {column} of subgroup {row} is infinite or beyond {LARGEST:g}"
        raise impossible("subgroups", what, "correct or void that test")
    return grid


class RowStats:
    """Size, mean, range and deviation of each row, and what they give together."""

    def __init__(self, grid: Floats) -> None:
        measured = ~np.isnan(grid)
        self.sizes: Sizes = np.count_nonzero(measured, axis=1)
        full, pairs = self.sizes > 0, self.sizes > 1
        offset = float(grid[measured][0]) if measured.any() else 0.0
        shifted = np.where(measured, grid - offset, 0.0)
        means = shifted.sum(axis=1) / np.maximum(self.sizes, 1)
        residuals = np.where(measured, shifted - means[:, None], 0.0)
        self.squares: Floats = (residuals**2).sum(axis=1)
        self.means = np.where(full, offset + means, np.nan)
        self.deviations = np.where(pairs, np.sqrt(self.squares / np.maximum(self.sizes - 1, 1)), np.nan)
        high = np.where(measured, shifted, -np.inf).max(axis=1, initial=-np.inf)
        low = np.where(measured, shifted, np.inf).min(axis=1, initial=np.inf)
        self.ranges = np.where(pairs, np.where(full, high, 0.0) - np.where(full, low, 0.0), np.nan)
        self._levels = means
        self.centre = offset + float(self.sizes @ means) / max(int(self.sizes.sum()), 1)
        self._middle = self.centre - offset

    def pooled(self) -> tuple[float, int]:
        """Mean square within the rows and its degrees of freedom."""
        nu = int(np.maximum(self.sizes - 1, 0).sum())
        return float(self.squares.sum()) / nu, nu

    def between(self, pooled: float) -> float:
        """Variance of the rows' levels beyond what their tests explain, 0 at least."""
        rows, total = int(np.count_nonzero(self.sizes)), int(self.sizes.sum())
        share = (total - float(self.sizes @ self.sizes) / total) / (rows - 1)
        return max(0.0, (self.mean_square_between() - pooled) / share)

    def mean_square_between(self) -> float:
        """Mean square of the rows' levels around the centre, weighted by their sizes."""
        rows = int(np.count_nonzero(self.sizes))
        return float(self.sizes @ (self._levels - self._middle) ** 2) / (rows - 1)
