"""Charts for small lasting shifts, designed from what people ask of them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from sandlab.charts.run_length.cusum import DECISIONS, cusum_run_length, decision_step
from sandlab.charts.run_length.design import RUN_LENGTHS, solve_limit
from sandlab.charts.run_length.distributions import (
    cusum_run_length_distribution,
    ewma_run_length_distribution,
)
from sandlab.charts.run_length.estimated import baseline_errors, over_baselines
from sandlab.charts.run_length.ewma import WIDTHS, ewma_run_length, ewma_width
from sandlab.charts.run_length.survival import RunLengthDistribution
from sandlab.charts.words import about
from sandlab.errors import InputError, Problem

ASSURANCE = 0.9
_SMALLEST_BASELINE = 20
_SHIFTS = (0.2, 6.0)
_WEIGHTS = (0.02, 1.0)
# Nobody bears more than one false alarm in so many tests.
_SHORTEST = 10.0
# Longer runs are not told apart, and the equations lose their digits.
_FOREVER = 1e9


@dataclass(frozen=True, slots=True)
class Reached:
    """What a designed chart gives, in tests.

    `run_length` is between false alarms, with a baseline the one that 90 % of baselines reach; `detection` is
    the mean until the shift is found from a chart at rest, `detection_ninetieth` what 9 of 10 shifts need.
    Where not `possible`, `affordable_run_length` between false alarms would do, None if nothing would.
    """

    possible: bool
    run_length: float
    detection: float
    detection_ninetieth: float
    affordable_run_length: float | None
    sentence: str


@dataclass(frozen=True, slots=True)
class EwmaDesign:
    """Weight and width of an EWMA chart, and what they reach."""

    weight: float
    width: float
    reached: Reached


@dataclass(frozen=True, slots=True)
class CusumDesign:
    """Reference value and decision interval of a CUSUM chart, in sigmas, and what they reach."""

    reference: float
    decision: float
    reached: Reached


def design_ewma(
    run_length: float, shift: float, within: float, *, baseline_count: int | None = None
) -> EwmaDesign:
    """The EWMA chart that finds a shift soonest among those that alarm once in `run_length` tests.

    ``minimise L(w, width(w), shift) over w; width(w): L(w, width, 0) = run length``

    With a baseline the width is such that 90 % of baselines of that many tests reach the run length. The
    shift comes while the average is at rest, under steady limits; false alarms count under exact ones.

    run_length: wanted between false alarms when nothing is wrong, 10 to 1000000 [tests]
    shift: of the mean, to be found, in sigmas, 0.2 to 6 [1]
    within: tests in which it is to be found on average, 1 or more [tests]
    baseline_count: tests behind the limits, 20 or more, None for known limits [1]
    returns: weight, width, and what is reached; the best there is where the wish is impossible [tests]

    Shapes: scalars.
    Validity: independent normal tests.
    Errors: InputError outside those ranges, all at once.
    Example:
    >>> design = design_ewma(500.0, 1.0, 12.0)
    >>> round(design.weight, 2), round(design.width, 2), round(design.reached.detection, 1)
    (0.13, 2.89, 10.2)

    Source: crowder1989, design of EWMA charts.
    """
    wish = _Wish(run_length, shift, within, baseline_count)
    wish.check()

    def false_alarms(weight: float, width: float) -> float:
        if baseline_count is None:
            return ewma_run_length(weight, width, steady_limits=True)
        return _assured_ewma(weight, width, baseline_count)

    def detection(weight: float, width: float) -> float:
        return ewma_run_length(weight, width, shift=shift, steady_limits=True)

    def finish(weight: float, width: float, wanted: float) -> float:
        # Limits that start narrow alarm a little sooner than the steady ones of the search.
        return width * ewma_width(weight, wanted) / ewma_width(weight, wanted, steady_limits=True)

    search = _Search(false_alarms, detection, finish, lambda _: 0.5, _WEIGHTS, WIDTHS)
    weight, width = search.best(run_length)
    alarms = ewma_run_length(weight, width) if baseline_count is None else run_length
    lengths = ewma_run_length_distribution(weight, width, shift=shift, steady_limits=True)
    words = f"EWMA with weight {weight:.2g} and limits at {width:.2f} sigma"
    return EwmaDesign(weight, width, _reached(search, wish, words, alarms, lengths))


def design_cusum(
    run_length: float, shift: float, within: float, *, baseline_count: int | None = None
) -> CusumDesign:
    """The two-sided CUSUM chart that finds a shift soonest among those that alarm once in `run_length` tests.

    ``minimise L(k, h(k), shift) over k; h(k): L(k, h, 0) = run length``, the best k is near shift/2

    With a baseline h is such that 90 % of baselines of that many tests reach the run length. The shift comes
    while both sums are 0.

    run_length: wanted between false alarms when nothing is wrong, 10 to 1000000 [tests]
    shift: of the mean, to be found, in sigmas, 0.2 to 6 [1]
    within: tests in which it is to be found on average, 1 or more [tests]
    baseline_count: tests behind the limits, 20 or more, None for known limits [1]
    returns: reference, decision, and what is reached; the best there is where the wish is impossible [tests]

    Shapes: scalars.
    Validity: independent normal tests.
    Errors: InputError outside those ranges, all at once.
    Example:
    >>> design = design_cusum(168.0, 1.0, 9.0)
    >>> round(design.reference, 1), round(design.decision, 1), round(design.reached.detection, 1)
    (0.5, 4.0, 8.4)

    Source: lucas_crosier1982, Table 1 (k 0.5, h 4: 168 and 8.38).
    """
    wish = _Wish(run_length, shift, within, baseline_count)
    wish.check()

    def false_alarms(reference: float, decision: float) -> float:
        if baseline_count is None:
            return cusum_run_length(reference, decision)
        return _assured_cusum(reference, decision, baseline_count)

    def detection(reference: float, decision: float) -> float:
        return cusum_run_length(reference, decision, shift=shift)

    def finish(reference: float, decision: float, wanted: float) -> float:
        return decision

    search = _Search(false_alarms, detection, finish, decision_step, (0.3 * shift, 0.8 * shift), DECISIONS)
    reference, decision = search.best(run_length)
    lengths = cusum_run_length_distribution(reference, decision, shift=shift)
    words = f"CUSUM with reference {reference:.2f} and decision interval {decision:.2f} sigma"
    alarms = false_alarms(reference, decision)
    return CusumDesign(reference, decision, _reached(search, wish, words, alarms, lengths))


@dataclass(frozen=True, slots=True)
class _Wish:
    """What was asked for."""

    run_length: float
    shift: float
    within: float
    baseline_count: int | None

    def check(self) -> None:
        """Raise for wishes out of range, all at once."""
        problems = []
        low, high = _SHORTEST, RUN_LENGTHS[1]
        if not low <= self.run_length <= high:
            what = f"{self.run_length} tests"
            problems.append(Problem("run length", what, f"give a number from {low:.0f} to {high:.0f}"))
        if not _SHIFTS[0] <= self.shift <= _SHIFTS[1]:
            problems.append(Problem("shift", f"{self.shift} sigmas", "give a size from 0.2 to 6"))
        if not 1.0 <= self.within < math.inf:
            problems.append(Problem("within", f"{self.within} tests", "give 1 or more"))
        if self.baseline_count is not None and self.baseline_count < _SMALLEST_BASELINE:
            do = f"freeze at least {_SMALLEST_BASELINE}, or design for known limits"
            problems.append(Problem("baseline", f"{self.baseline_count} tests", do))
        if problems:
            raise InputError(problems)


@dataclass(frozen=True, slots=True)
class _Search:
    """One kind of chart: false alarms and detection by its setting and its limit, and the bounds of both.

    `finish` turns the limit found for a setting and a run length into the one to be used; `step` is how far
    to go in search of a limit.
    """

    false_alarms: Callable[[float, float], float]
    detection: Callable[[float, float], float]
    finish: Callable[[float, float, float], float]
    step: Callable[[float], float]
    settings: tuple[float, float]
    limits: tuple[float, float]

    def limit_for(self, setting: float, run_length: float) -> float:
        """The limit that gives the run length, or the smallest one where even that gives more."""
        first, last = self.limits
        alarms = partial(self.false_alarms, setting)
        if alarms(first) >= run_length:
            return first
        return solve_limit(alarms, run_length, first=first, step=self.step(setting), last=last)

    def best(self, run_length: float) -> tuple[float, float]:
        """Setting and limit that find the shift soonest."""
        from scipy.optimize import minimize_scalar

        def cost(log_setting: float) -> float:
            setting = math.exp(log_setting)
            return math.log(self.detection(setting, self.limit_for(setting, run_length)))

        low, high = (math.log(bound) for bound in self.settings)
        found = minimize_scalar(cost, bounds=(low, high), method="bounded", options={"xatol": 0.02})
        setting = math.exp(float(found.x))
        return setting, self.finish(setting, self.limit_for(setting, run_length), run_length)

    def affordable(self, within: float, run_length: float) -> float | None:
        """The longest run length between false alarms at which the shift is still found in time."""
        from scipy.optimize import brentq

        def excess(log_length: float) -> float:
            return math.log(self.detection(*self.best(math.exp(log_length))) / within)

        if excess(math.log(_SHORTEST)) > 0.0:
            return None
        return math.exp(float(brentq(excess, math.log(_SHORTEST), math.log(run_length), xtol=0.01)))


def _assured_ewma(weight: float, width: float, baseline_count: int) -> float:
    """The run length of an EWMA chart that 90 % of baselines reach."""

    def length(offset: float, scale: float) -> float:
        # Beyond six sigmas nothing false is ever seen.
        return ewma_run_length(weight, min(6.0, max(0.1, width * scale)), shift=offset, steady_limits=True)

    return over_baselines(length, baseline_errors(0.0, baseline_count)).quantile(1.0 - ASSURANCE)


def _assured_cusum(reference: float, decision: float, baseline_count: int) -> float:
    """The run length of a CUSUM chart that 90 % of baselines reach."""

    def length(offset: float, scale: float) -> float:
        found = cusum_run_length(reference * scale, max(0.1, decision * scale), shift=offset)
        return found if 0.0 < found < _FOREVER else _FOREVER

    return over_baselines(length, baseline_errors(0.0, baseline_count)).quantile(1.0 - ASSURANCE)


def _reached(
    search: _Search, wish: _Wish, words: str, alarms: float, lengths: RunLengthDistribution
) -> Reached:
    """What the best design gives, and what would have to give where that is not enough."""
    possible = lengths.mean <= wish.within
    affordable = None if possible else search.affordable(wish.within, wish.run_length)
    last = lengths.quantile(0.9)
    rare = f"one false alarm in {alarms:.0f} tests"
    if wish.baseline_count is not None:
        rare += f" or rarer for {100 * ASSURANCE:.0f} % of baselines of {wish.baseline_count} tests"
    sentence = (
        f"{words}: {rare}; a shift of {wish.shift:g} sigma is found after {lengths.mean:.1f} tests "
        f"on average, 9 of 10 within {last:.0f}."
    )
    if not possible:
        sentence += f" That is the best there is; to find it within {wish.within:g} tests, "
        if affordable is None:
            sentence += "no such chart is quick enough."
        else:
            sentence += f"accept one false alarm in {about(affordable)}."
    return Reached(possible, alarms, lengths.mean, last, affordable, sentence)
