"""A frozen baseline: where a property lies and how far single tests stray when nothing is wrong.

Limits hold until a person freezes new ones; nothing here recomputes them from later values.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from sandlab.charts.constants import d2, range_limit_factors
from sandlab.charts.estimates import Estimates, checked, coarse, estimate_of
from sandlab.charts.normal import Floats
from sandlab.errors import InputError, Problem

MINIMUM_BASELINE = 8
ENOUGH_BASELINE = 30

Basis = Literal["overall", "moving_range"]
Flag = Literal["constant", "few", "coarse", "autocorrelated", "known"]

FLAG_WORDS: dict[Flag, str] = {
    "constant": "all baseline values are equal, so no limits can be drawn",
    "few": f"fewer than {ENOUGH_BASELINE} baseline values: the limits are uncertain",
    "coarse": "the reading is coarse against its spread: moving ranges mislead",
    "autocorrelated": "neighbouring tests resemble each other: limits from moving ranges would be too narrow",
    "known": "centre and standard deviation are given, not taken from tests",
}


@dataclass(frozen=True, slots=True)
class Limits:
    """Frozen figures of one baseline, and the control limits that follow from them.

    `sigma` is the one the limits use (`basis`); `floor` and `ceiling` are physical bounds beyond which no
    limit is drawn. All fields are plain, so that a stored baseline gives the same limits again.
    """

    centre: float
    sigma: float
    count: int
    sigma_overall: float
    sigma_moving_range: float
    lag1: float
    width: float = 3.0
    basis: Basis = "overall"
    floor: float | None = None
    ceiling: float | None = None
    excluded: tuple[int, ...] = ()
    flags: tuple[Flag, ...] = ()

    @property
    def behind(self) -> int | None:
        """Tests that centre and sigma come from, None where both are known."""
        return None if "known" in self.flags else self.count

    @property
    def lower(self) -> float:
        """Lower control limit: centre - width sigma, not below the floor."""
        limit = self.line(-self.width)
        return limit if self.floor is None else max(limit, self.floor)

    @property
    def upper(self) -> float:
        """Upper control limit: centre + width sigma, not above the ceiling."""
        limit = self.line(self.width)
        return limit if self.ceiling is None else min(limit, self.ceiling)

    @property
    def moving_range_centre(self) -> float:
        """Mean moving range of the baseline."""
        return self.sigma_moving_range * d2(2)

    @property
    def moving_range_upper(self) -> float:
        """Upper limit of the moving range (3.267 times its mean at width 3)."""
        return self.moving_range_centre * range_limit_factors(2, width=self.width)[1]

    @property
    def usable(self) -> bool:
        """Whether points can be judged against these limits."""
        return self.sigma > 0.0

    def line(self, sigmas: float) -> float:
        """The level `sigmas` standard deviations above the centre."""
        return self.centre + sigmas * self.sigma


def freeze(
    values: npt.ArrayLike,
    *,
    width: float = 3.0,
    basis: Basis = "overall",
    excluded: Sequence[int] = (),
    floor: float | None = None,
    ceiling: float | None = None,
) -> Limits:
    """Limits of an individuals chart from a baseline window.

    ``centre = mean; sigma = standard deviation, or mean moving range / d2(2); limits centre +- width sigma``

    values: one per slot, NaN where missing [unit of the property]
    width: distance of the limits from the centre, in sigmas, above 0 [1]
    basis: "overall", right for tests that resemble each other, or "moving_range" [word]
    excluded: places left out with an assignable cause, counted from 0 [1]
    floor: physical lower bound, None without one [unit of the property]
    ceiling: physical upper bound, None without one [unit of the property]
    returns: frozen limits with both sigmas, lag-1 autocorrelation and flags [unit of the property]

    Shapes: one row of MINIMUM_BASELINE or more measured values.
    Validity: roughly normal values; flags say constant, few, coarse, autocorrelated.
    Errors: InputError with every problem at once: too few values, no two in a row, infinite ones, a width
    of 0 or less, an excluded place that is not there.
    Example:
    >>> flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
    >>> limits = freeze(flow, basis="moving_range")
    >>> round(limits.centre, 2), round(limits.lower, 4), round(limits.upper, 4)
    (50.81, 45.8176, 55.8024)

    Source: nist_handbook, 6.3.2.2.
    """
    series, complete = checked(values, where="baseline")
    places = _places(series, excluded)
    if places:
        series, complete = series.copy(), False
        series[list(places)] = np.nan
    measured = series if complete else series[~np.isnan(series)]
    _require_enough(series, measured.size, width)
    found = estimate_of(series, measured)
    sigma_moving_range = found.sigma_moving_range or 0.0
    return Limits(
        centre=found.mean,
        sigma=found.sigma_overall if basis == "overall" else sigma_moving_range,
        count=found.count,
        sigma_overall=found.sigma_overall,
        sigma_moving_range=sigma_moving_range,
        lag1=found.lag1 or 0.0,
        width=width,
        basis=basis,
        floor=floor,
        ceiling=ceiling,
        excluded=places,
        flags=_flags(series, found),
    )


def given_limits(centre: float, sigma: float, *, width: float = 3.0) -> Limits:
    """Limits from a centre and a standard deviation that are known, as printed examples give them.

    ``limits centre +- width sigma``

    centre: known level [unit of the property]
    sigma: known standard deviation of single tests, above 0 [unit of the property]
    width: distance of the limits from the centre, in sigmas, above 0 [1]
    returns: limits that no test stands behind, flagged known [unit of the property]

    Shapes: scalars.
    Validity: tests that do not resemble each other.
    Errors: InputError with every problem at once: infinite figures, a sigma or a width of 0 or less.
    Example:
    >>> limits = given_limits(10.0, 1.0)
    >>> limits.lower, limits.upper
    (7.0, 13.0)

    Source: montgomery, section 9.1.
    """
    problems = []
    if not math.isfinite(centre):
        problems.append(Problem("centre", f"{centre} is not finite", "give a level"))
    if not 0.0 < sigma < math.inf:
        problems.append(Problem("standard deviation", f"{sigma:g}", "give a value above 0"))
    if not 0.0 < width < math.inf:
        problems.append(Problem("width", f"{width} standard deviations", "give a number above 0, usually 3"))
    if problems:
        raise InputError(problems)
    return Limits(centre, sigma, 0, sigma, sigma, 0.0, width=width, flags=("known",))


def _places(series: Floats, excluded: Sequence[int]) -> tuple[int, ...]:
    wrong = [place for place in excluded if not 0 <= place < series.size]
    if wrong:
        raise InputError(
            Problem(
                "excluded",
                f"no value at {', '.join(str(p) for p in wrong)}",
                f"places run from 0 to {series.size - 1}",
            )
        )
    return tuple(sorted(set(excluded)))


def _require_enough(series: Floats, count: int, width: float) -> None:
    """Raise for a window of so many measured values that limits cannot be drawn from."""
    problems = []
    neighbours = count - 1
    if count < series.size:
        measured = ~np.isnan(series)
        neighbours = int(np.count_nonzero(measured[1:] & measured[:-1]))
    if count < MINIMUM_BASELINE:
        what = f"{count} measured values" if count else "no measured value"
        problems.append(Problem("baseline", what, f"choose a window with at least {MINIMUM_BASELINE}"))
    elif neighbours < 2:
        problems.append(
            Problem("baseline", "no two tests follow each other", "choose a window with fewer missing tests")
        )
    if not 0.0 < width < float("inf"):
        problems.append(Problem("width", f"{width} standard deviations", "give a number above 0, usually 3"))
    if problems:
        raise InputError(problems)


def _flags(series: Floats, found: Estimates) -> tuple[Flag, ...]:
    if found.sigma_overall == 0.0:
        return ("constant",)
    flags: list[Flag] = []
    if found.count < ENOUGH_BASELINE:
        flags.append("few")
    if coarse(series, found.sigma_overall):
        flags.append("coarse")
    # 1.96/sqrt(n) bounds the lag-1 value of independent tests 19 times in 20.
    if found.lag1 is not None and found.lag1 > 1.96 / found.count**0.5:
        flags.append("autocorrelated")
    return tuple(flags)
