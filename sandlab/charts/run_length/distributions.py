"""Run lengths as distributions: the median and other shares of runs, where one average says too little."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import chain, islice

from sandlab.charts.run_length.cusum import check_cusum, moves_of_sum
from sandlab.charts.run_length.ewma import check_ewma, moves_of_average, start_up
from sandlab.charts.run_length.individuals import check_individuals, moves_of_series
from sandlab.charts.run_length.moving_range import check_moving_range, moves_of_moving_range, usual_reach
from sandlab.charts.run_length.rules import moves_of_rules
from sandlab.charts.run_length.survival import RunLengthDistribution, settle, shares_left, two_sided


def ewma_run_length_distribution(
    weight: float, width: float, *, shift: float = 0.0, start: float = 0.0, steady_limits: bool = False
) -> RunLengthDistribution:
    """Distribution of the number of independent normal tests until an EWMA leaves its limits.

    ``P(N > t) = integral over |u| < h_t of f_t(u) du``
    ``f_t(u) = integral of f_t-1(z) n((u - (1 - w) z)/w - shift)/w dz``

    weight: w of the newest test, 0.005 to 1 [1]
    width: of the limits in sigmas of the average, 0.1 to 8 [1]
    shift: of the mean, in sigmas of a test [1]
    start: first value of the average, in sigmas of a test [1]
    steady_limits: as wide from the start as in the long run [yes or no]
    returns: shares of runs left after each test, with mean, median and quantiles [tests]

    Shapes: scalars.
    Validity: known centre and sigma, independent normal tests.
    Errors: InputError outside those ranges.
    Example:
    >>> lengths = ewma_run_length_distribution(0.05, 2.0, shift=1.0, steady_limits=True)
    >>> round(lengths.mean, 2), lengths.median
    (8.38, 8.0)

    Source: crowder1987, Table 1 (the means).
    """
    check_ewma(weight, width, start)
    limit = width * math.sqrt(weight / (2.0 - weight))
    moves = moves_of_average(weight, limit, shift)
    early, carried = start_up(weight, limit, shift, start, moves.shape[0], steady_limits=steady_limits)
    return settle(chain(early, islice(shares_left(carried, moves), 1, None)))


def cusum_run_length_distribution(
    reference: float, decision: float, *, shift: float = 0.0, head_start: float = 0.0, sides: int = 2
) -> RunLengthDistribution:
    """Distribution of the number of independent normal tests until a tabular CUSUM passes its interval.

    ``P(N > t) = F_t(0) + integral from 0 to h of f_t(u) du``, one sum, f_t carried as in `cusum_run_length`

    Two sums: one is at 0 when the other alarms, so the chances of each alone give those of both together.

    reference: k, in sigmas, 0 to 10 [1]
    decision: h, in sigmas, 0.1 to 100 [1]
    shift: of the mean, in sigmas [1]
    head_start: first value of the sums, in sigmas, 0 to below h, of two sums to below h/2 + k [1]
    sides: 1 for the upper sum alone, 2 for both [1]
    returns: shares of runs left after each test, with mean, median and quantiles [tests]

    Shapes: scalars.
    Validity: known centre and sigma, independent normal tests.
    Errors: InputError outside those ranges.
    Example:
    >>> lengths = cusum_run_length_distribution(0.5, 4.0, shift=1.0)
    >>> round(lengths.mean, 2), lengths.median
    (8.38, 7.0)

    Source: lucas_crosier1982, Table 1 (the means).
    """
    check_cusum(reference, decision, head_start, sides)
    upper = moves_of_sum(reference, decision, shift, head_start)
    if sides == 1:
        return settle(shares_left(upper[0], upper[2]))
    return settle(two_sided(upper, moves_of_sum(reference, decision, -shift, head_start)))


def rules_run_length_distribution(
    rules: Iterable[str], *, shift: float = 0.0, width: float = 3.0
) -> RunLengthDistribution:
    """Distribution of the number of independent normal tests until one of the rules is completed.

    ``P(N > t) = sum of the first row of Q^t``, Q the moves between the states that do not signal

    rules: keys of rules that count points beyond a line on one side [word]
    shift: of the mean, in sigmas [1]
    width: of the control limits, in sigmas [1]
    returns: shares of runs left after each test, with mean, median and quantiles [tests]

    Shapes: any number of keys; scalars.
    Validity: known centre and sigma, independent normal tests.
    Errors: InputError for no rule, an unknown one, or one that zones cannot count.
    Example:
    >>> lengths = rules_run_length_distribution(["beyond_limit", "two_of_three_outer"])
    >>> round(lengths.mean, 2), lengths.median
    (225.44, 157.0)

    Source: champ_woodall1987, Table 1 (the means).
    """
    moves = moves_of_rules(rules, shift, width)
    return settle(shares_left(moves[0], moves))


def moving_range_run_length_distribution(
    width: float = 3.0, *, range_width: float | None = None, shift: float = 0.0
) -> RunLengthDistribution:
    """Distribution of the run length of an individuals chart together with its moving-range chart.

    ``P(N > t) = integral over |u| < width of f_t(u) du``, f_t carried as in `moving_range_run_length`

    width: of the limits of single values, in sigmas, 0.5 to 6 [1]
    range_width: limit of the moving range in sigmas, 0.5 to 20; None for its usual one at `width` [1]
    shift: of the mean, in sigmas [1]
    returns: shares of runs left after each test, with mean, median and quantiles [tests]

    Shapes: scalars.
    Validity: known centre and sigma, independent normal tests.
    Errors: InputError outside those ranges.
    Example:
    >>> lengths = moving_range_run_length_distribution(2.0, range_width=3.0, shift=2.0)
    >>> round(lengths.mean, 4), lengths.median
    (1.9989, 1.0)

    Source: crowder1987b, output listing 1 (the means).
    """
    reach = usual_reach(width) if range_width is None else range_width
    check_moving_range(width, reach, shift)
    return settle(shares_left(*moves_of_moving_range(width, reach, shift)))


def individuals_run_length_distribution(
    phi: float = 0.0, width: float = 3.0, *, shift: float = 0.0, signal_share: float = 1.0
) -> RunLengthDistribution:
    """Distribution of the run length of an individuals chart of autocorrelated tests, known limits.

    ``P(N > t) = integral over |u| < width of f_t(u) du``
    ``f_t(u) = integral of f_t-1(x) n(u; shift + phi (x - shift), 1 - phi^2) dx``

    phi: lag-1 autocorrelation, -0.995 to 0.995 [1]
    width: of the limits in marginal sigmas, 0.5 to 6 [1]
    shift: of the mean, in sigmas [1]
    signal_share: of the variance of tests that is the signal's, the rest being noise, 0 to 1 [1]
    returns: shares of runs left after each test, with mean, median and quantiles [tests]

    Shapes: scalars.
    Validity: known centre and sigma, normal tests, first-order autoregression.
    Errors: InputError outside those ranges.
    Example:
    >>> lengths = individuals_run_length_distribution(0.4, 3.09023, shift=1.0)
    >>> round(lengths.mean, 2), lengths.median
    (61.85, 43.0)

    Source: kramer_schmid2000, Table 1 (the means).
    """
    check_individuals(phi, width, None, signal_share)
    if signal_share == 0.0:
        phi, signal_share = 0.0, 1.0
    return settle(shares_left(*moves_of_series(phi, -shift - width, -shift + width, signal_share)))
