"""Cleaning a baseline window: trial limits, and tests proposed for exclusion, each with its reason.

Nothing here freezes or drops by itself what nobody explained: a test leaves the baseline when its cause is
known. Trial limits hold a whole window of one state 19 times in 20, however many tests it has.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from sandlab.charts.baseline import MINIMUM_BASELINE, Basis
from sandlab.charts.constants import d2
from sandlab.charts.estimates import as_series, estimate, is_coarse, moving_ranges
from sandlab.charts.normal import Floats
from sandlab.errors import InputError, Problem, impossible
from sandlab.quantities import format_number

FAMILY_ALARM = 0.05
PASSES = 4
LARGEST_SHARE = 0.1

Stop = Literal["clean", "no cause", "too many", "passes", "constant"]
STOP_WORDS: dict[Stop, str] = {
    "clean": "no further test lies outside the trial limits",
    "no cause": "the tests outside have no cause logged and stay: find their causes or choose another window",
    "too many": "more than a tenth of the tests lie outside: the window holds more than one state",
    "passes": f"tests still leave after {PASSES} passes: the window holds more than one state",
    "constant": "all tests are equal: nothing can be judged",
}

# Width that holds a whole window 19 times in 20 over the one for a known sigma, by 1/count; simulated with
# 80 million values per size, standard error 0.001.
_COUNTS = (8, 10, 14, 20, 30, 50, 100, 200, 400, 1000, math.inf)
_MOVING_RANGE = (0.940, 0.961, 0.978, 0.988, 0.995, 0.9995, 1.0005, 1.001, 1.0005, 1.0, 1.0)
_MEDIAN_DEVIATION = (1.799, 1.633, 1.449, 1.321, 1.220, 1.141, 1.077, 1.042, 1.021, 1.008, 1.0)
_MEDIAN_RANGE = (1.465, 1.397, 1.307, 1.234, 1.172, 1.117, 1.067, 1.038, 1.020, 1.007, 1.0)
# Median distance of a normal value from its median, and median moving range, in sigmas.
_MEDIAN_DEVIATION_UNIT = 0.6744897502
_MEDIAN_RANGE_UNIT = math.sqrt(2.0) * _MEDIAN_DEVIATION_UNIT


@dataclass(frozen=True, slots=True)
class Exclusion:
    """A test outside the trial limits: where, how far in sigmas, why, its cause, and whether it leaves."""

    place: int
    value: float
    distance: float
    reason: str
    cause: str
    leaves: bool


@dataclass(frozen=True, slots=True)
class Pass:
    """One pass: trial limits from the tests still in, and the tests outside them."""

    robust: bool
    count: int
    centre: float
    sigma: float
    width: float
    proposals: tuple[Exclusion, ...]

    @property
    def limits(self) -> tuple[float, float]:
        """Lower and upper trial limit."""
        return self.centre - self.width * self.sigma, self.centre + self.width * self.sigma


@dataclass(frozen=True, slots=True)
class PhaseOne:
    """Every pass, the tests that leave, how many stay, and why it stopped."""

    passes: tuple[Pass, ...]
    excluded: tuple[Exclusion, ...]
    count: int
    stopped: Stop

    @property
    def places(self) -> tuple[int, ...]:
        """Places of the tests that leave, ready to freeze with."""
        return tuple(sorted(exclusion.place for exclusion in self.excluded))

    @property
    def acceptable(self) -> bool:
        """Whether the tests that stay can serve as a baseline as they are."""
        return self.stopped == "clean"

    @property
    def sentence(self) -> str:
        """What came out, in words."""
        gone = {0: "No test leaves", 1: "One test leaves"}.get(
            len(self.excluded), f"{len(self.excluded)} tests leave"
        )
        return f"{gone}, {self.count} stay after pass {len(self.passes)}; {STOP_WORDS[self.stopped]}."


def trial_width(count: int, *, basis: Basis = "overall", robust: bool = False) -> float:
    """Width of trial limits that hold all tests of a window of one state 19 times in 20.

    ``(m - 1)/sqrt(m) sqrt(t^2/(m - 2 + t^2)), t of Student at 1 - 0.05/2m on m - 2 degrees`` (overall)
    ``z(1 - 0.05/2m) c(m)``, c simulated (moving ranges; robust: median deviation or median moving range)

    count: m, tests in the window, 8 or more [1]
    basis: what sigma comes from, "overall" or "moving_range" [word]
    robust: centre and sigma come from medians [yes or no]
    returns: distance of the limits from the centre, in sigmas [1]

    Shapes: scalars.
    Validity: independent normal tests; tests that resemble each other stay inside a little more often.
    Errors: InputError for fewer than 8 tests.
    Example:
    >>> round(trial_width(20), 3), round(trial_width(30, basis="moving_range"), 2)
    (2.708, 3.13)

    Source: grubbs_beck1972, Table I (two-sided 5 %) for the overall sigma.
    """
    # Imported here: drawing a chart needs no scipy.
    from scipy.special import ndtri, stdtrit

    if count < MINIMUM_BASELINE:
        raise impossible("window", f"{count} tests", f"trial limits need {MINIMUM_BASELINE} or more")
    tail = FAMILY_ALARM / (2.0 * count)
    if basis == "overall" and not robust:
        square = float(stdtrit(count - 2, tail)) ** 2
        return (count - 1) / math.sqrt(count) * math.sqrt(square / (count - 2 + square))
    ratios = _MOVING_RANGE if not robust else _MEDIAN_DEVIATION if basis == "overall" else _MEDIAN_RANGE
    inverse = [1.0 / known for known in _COUNTS]
    return -float(ndtri(tail)) * float(np.interp(1.0 / count, inverse[::-1], ratios[::-1]))


def propose_exclusions(
    values: npt.ArrayLike,
    *,
    causes: Mapping[int, str] | None = None,
    without_cause: bool = False,
    basis: Basis = "overall",
    decimals: int = 2,
    unit: str = "",
) -> PhaseOne:
    """Which tests of a window would leave its baseline and why, pass by pass.

    The first pass judges by medians, which outliers cannot pull; later ones by the tests still in, until none
    is outside, none of those outside has a cause, more than a tenth would go, or PASSES are used up. Readings
    too coarse for medians are judged by means from the start. A window of one state shows a proposal in some
    pass about 8 times in 100 (simulated).

    values: one per slot, NaN where missing [unit of the property]
    causes: assignable cause per place, counted from 0; only these leave [word]
    without_cause: let tests leave that have no cause logged, to see what would happen [yes or no]
    basis: what sigma comes from, "overall" or "moving_range" [word]
    decimals: of the numbers in words [1]
    unit: behind the numbers in words [word]
    returns: passes, the tests that leave, and why it stopped [unit of the property]

    Errors: InputError for fewer than MINIMUM_BASELINE measured tests, infinite ones, causes without a test.
    """
    series = as_series(values, where="window").copy()
    known = dict(causes or {})
    _require(series, known)
    total = int(np.count_nonzero(~np.isnan(series)))
    passes: list[Pass] = []
    excluded: list[Exclusion] = []
    stopped: Stop | None = None
    proposer = _Proposer(known, without_cause, decimals, unit)
    while stopped is None:
        current = _pass(series, basis, not passes, proposer)
        passes.append(current)
        leaving = [proposal for proposal in current.proposals if proposal.leaves]
        if current.sigma == 0.0:
            stopped = "constant"
        elif current.proposals and len(excluded) + len(leaving) > LARGEST_SHARE * total:
            stopped = "too many"
        elif leaving and len(passes) == PASSES:
            stopped = "passes"
        elif leaving:
            excluded += leaving
            series[[proposal.place for proposal in leaving]] = np.nan
        elif not current.robust:
            outside = {proposal.place for one in passes for proposal in one.proposals}
            unexplained = outside - {exclusion.place for exclusion in excluded}
            stopped = "no cause" if unexplained else "clean"
    return PhaseOne(tuple(passes), tuple(excluded), total - len(excluded), stopped)


@dataclass(frozen=True, slots=True)
class _Proposer:
    """Says of a test outside why it is proposed and whether it leaves."""

    causes: Mapping[int, str]
    without_cause: bool
    decimals: int
    unit: str

    def proposal(self, place: int, value: float, current: Pass) -> Exclusion:
        """The proposal for the test at `place`."""
        distance = (value - current.centre) / current.sigma
        level = f"{format_number(current.centre, self.decimals)} {self.unit}".rstrip()
        reason = (
            f"{format_number(abs(distance), 1)} sigma {'above' if distance > 0.0 else 'below'} {level}; "
            f"{current.count} tests of one state stay within {format_number(current.width, 1)} sigma "
            "19 times in 20"
        )
        cause = self.causes.get(place, "")
        return Exclusion(place, value, distance, reason, cause, leaves=self.without_cause or bool(cause))


def _pass(series: Floats, basis: Basis, first: bool, proposer: _Proposer) -> Pass:
    """Trial limits of the tests still in, and the tests outside them."""
    centre, sigma, robust = _level_and_spread(series, basis, first)
    count = int(np.count_nonzero(~np.isnan(series)))
    current = Pass(robust, count, centre, sigma, trial_width(count, basis=basis, robust=robust), ())
    if sigma == 0.0:
        return current
    outside = np.flatnonzero(np.abs(series - centre) > current.width * sigma).tolist()
    proposals = tuple(proposer.proposal(place, float(series[place]), current) for place in outside)
    return replace(current, proposals=proposals)


def _level_and_spread(series: Floats, basis: Basis, robust: bool) -> tuple[float, float, bool]:
    """Centre, sigma, and whether they come from medians after all."""
    found = estimate(series)
    if robust and not is_coarse(series, found.sigma_overall):
        centre = float(np.nanmedian(series))
        ranges = moving_ranges(series)
        ranges = ranges[~np.isnan(ranges)]
        if basis == "overall":
            sigma = float(np.nanmedian(np.abs(series - centre))) / _MEDIAN_DEVIATION_UNIT
        else:
            sigma = float(np.median(ranges)) / _MEDIAN_RANGE_UNIT if ranges.size else 0.0
        if sigma > 0.0:
            return centre, sigma, True
    # Without two unlike neighbours there is no moving range to go by.
    if basis == "overall" or not found.moving_range_mean:
        return found.mean, found.sigma_overall, False
    return found.mean, found.moving_range_mean / d2(2), False


def _require(series: Floats, causes: Mapping[int, str]) -> None:
    problems = []
    measured = ~np.isnan(series)
    if np.count_nonzero(measured) < MINIMUM_BASELINE:
        what = f"{int(np.count_nonzero(measured))} measured values"
        problems.append(Problem("window", what, f"choose one with at least {MINIMUM_BASELINE}"))
    missing = [place for place in causes if not 0 <= place < series.size or not measured[place]]
    if missing:
        problems.append(Problem("causes", f"no test at place {missing[0]}", "name places of measured tests"))
    if problems:
        raise InputError(problems)
