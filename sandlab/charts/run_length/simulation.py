"""Run lengths by simulation, with their standard errors, where no equation is solved."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Protocol

import numpy as np
import numpy.typing as npt

from sandlab.charts.baseline import Limits
from sandlab.charts.normal import Floats
from sandlab.charts.rules import RULES, chosen, completions
from sandlab.charts.run_length.survival import RunLengthDistribution
from sandlab.errors import InputError, Problem, impossible

Counts = npt.NDArray[np.intp]

RUNS, LONGEST = 4000, 2000
_BLOCK = 64
_PAST = max(rule.span for rule in RULES.values()) - 1


class Random(Protocol):
    """What a simulation draws from: a numpy Generator."""

    def standard_normal(self, size: tuple[int, int]) -> Floats:
        """Independent standard normal values."""
        ...


def simulated_run_length(
    rules: Iterable[str],
    random: Random,
    *,
    shift: float = 0.0,
    width: float = 3.0,
    phi: float = 0.0,
    signal_share: float = 1.0,
    scale: float = 1.0,
    runs: int = RUNS,
    longest: int = LONGEST,
) -> RunLengthDistribution:
    """Run length of any set of rules, on tests that may resemble each other, by simulation.

    ``x = shift + sqrt(share) s + sqrt(1 - share) e, s_t = phi s_t-1 + sqrt(1 - phi^2) e'_t``

    Runs that reach `longest` are given up there; what they would still last follows from the late risk.

    rules: keys of the rules that alarm [word]
    random: what the normal values are drawn from, a numpy Generator [1]
    shift: of the mean, in sigmas [1]
    width: of the control limits, in sigmas [1]
    phi: autocorrelation of the signal, -0.995 to 0.995 [1]
    signal_share: of the variance of tests that the signal makes up, 0 to 1 [1]
    scale: sigma of the chart as a share of the true marginal one [1]
    runs: to simulate, 100 or more [1]
    longest: tests per run, 100 or more [tests]
    returns: shares of runs left after each test, with the mean's standard error [tests]

    Shapes: any number of keys; scalars.
    Validity: known centre and sigma, normal tests.
    Errors: InputError for no rule, an unknown one, settings out of range.
    Example:
    >>> lengths = simulated_run_length(["beyond_limit"], np.random.default_rng(1), shift=3.0)
    >>> abs(lengths.mean - 2.0) < 4 * lengths.standard_error
    True

    Source: champ_woodall1987, Table 1 (rules that zones can count, as a check of the simulation).
    """
    keys = tuple(rule.key for rule in chosen(rules))
    _check(keys, phi, signal_share, scale, width, runs, longest)
    limits = Limits(0.0, scale, 100, scale, scale, 0.0, width=width)
    # The first tests of all runs have no past; a missing one completes nothing.
    past = np.full((runs, _PAST), np.nan)
    level = random.standard_normal((runs, 1))
    ended: list[Counts] = []
    for taken in range(0, longest, _BLOCK):
        signal = _series(level, phi, random)
        level = signal[:, -1:]
        if signal_share < 1.0:
            noise = random.standard_normal((signal.shape[0], _BLOCK))
            signal = math.sqrt(signal_share) * signal + math.sqrt(1.0 - signal_share) * noise
        block = np.concatenate((past, shift + signal), axis=1)
        first = _first_alarm(block, limits, keys)
        ended.append(taken + first[first > 0])
        alive = first == 0
        if not alive.any():
            break
        past, level = block[alive, -_PAST:], level[alive]
    return _summary(np.concatenate(ended), runs, taken + _BLOCK)


def simulated_ewma_run_length(
    weight: float,
    width: float,
    random: Random,
    *,
    shift: float = 0.0,
    phi: float = 0.0,
    signal_share: float = 1.0,
    runs: int = RUNS,
    longest: int = LONGEST,
) -> RunLengthDistribution:
    """Run length of an EWMA of autocorrelated tests against limits that allow for it, by simulation.

    ``x = shift + sqrt(share) s + sqrt(1 - share) e, s_t = phi s_t-1 + sqrt(1 - phi^2) e'_t``

    weight: of the newest test, above 0 to 1 [1]
    width: of the limits in sigmas of the average, above 0 [1]
    random: what the normal values are drawn from, a numpy Generator [1]
    shift: of the mean, in sigmas of a test [1]
    phi: autocorrelation of the signal, -0.995 to 0.995 [1]
    signal_share: of the variance of tests that the signal makes up, 0 to 1 [1]
    runs: to simulate, 100 or more [1]
    longest: tests per run, 100 or more [tests]
    returns: shares of runs left after each test, with the mean's standard error [tests]

    Shapes: scalars.
    Validity: known centre, sigma and autocorrelation, normal tests; exact limits from the start.
    Errors: InputError for settings out of range.
    Example:
    >>> lengths = simulated_ewma_run_length(0.1, 2.814, np.random.default_rng(1), shift=1.0)
    >>> abs(lengths.mean - 8.157) < 4 * lengths.standard_error
    True

    Source: schmid1997, section on the EWMA of an autoregressive series.
    """
    _check(None, phi, signal_share, 1.0, width, runs, longest)
    if not 0.0 < weight <= 1.0:
        raise impossible("weight", f"{weight}", "give a value above 0 and up to 1, often 0.2")
    reach = width * np.sqrt(average_variances(weight, phi, signal_share, np.ones(longest)))
    signal = random.standard_normal((runs, 1))[:, 0]
    average, ended = np.zeros(runs), []
    for test in range(longest):
        draws = random.standard_normal((2, average.size))
        if test:
            signal = phi * signal + math.sqrt(1.0 - phi * phi) * draws[0]
        value = shift + math.sqrt(signal_share) * signal + math.sqrt(1.0 - signal_share) * draws[1]
        average = average + weight * (value - average)
        out = np.abs(average) > reach[test]
        if out.any():
            ended.append(np.full(int(out.sum()), test + 1))
            signal, average = signal[~out], average[~out]
            if not average.size:
                break
    return _summary(np.concatenate(ended) if ended else np.empty(0, np.intp), runs, test + 1)


def average_variances(weight: float, phi: float, signal_share: float, gaps: Floats) -> Floats:
    """Variance of an EWMA after each test, as a share of the tests' own, each `gaps` slots after the last.

    ``v = w^2 + (1 - w)^2 v' + 2 w (1 - w) a c', c = w share + (1 - w) a c', a = phi^gap``

    c is the covariance of the average with the signal, share the signal's part of the variance.
    """
    carries = np.sign(phi) ** gaps * np.abs(phi) ** gaps
    variance, together, variances = 0.0, 0.0, []
    for carry in carries.tolist():
        carried = (1.0 - weight) * carry * together
        variance = weight**2 + (1.0 - weight) ** 2 * variance + 2.0 * weight * carried
        together = weight * signal_share + carried
        variances.append(variance)
    return np.array(variances)


def _series(level: Floats, phi: float, random: Random) -> Floats:
    """The next block of each series, from its last value."""
    steps = random.standard_normal((level.shape[0], _BLOCK))
    if phi == 0.0:
        return steps
    steps *= math.sqrt(1.0 - phi * phi)
    before = level[:, 0]
    for place in range(_BLOCK):
        before = steps[:, place] = steps[:, place] + phi * before
    return steps


def _first_alarm(block: Floats, limits: Limits, keys: tuple[str, ...]) -> Counts:
    """The number of the new test at which each row first alarms, 0 where it does not."""
    flags = np.zeros(block.size, dtype=np.bool_)
    for completed in completions(block.ravel(), limits, rules=keys).values():
        for places in (completed.up, completed.down, completed.both):
            flags[places] = True
    # What is flagged in the past columns is the row before it, or was judged in the last block.
    new = flags.reshape(block.shape)[:, _PAST:]
    return np.asarray(np.where(new.any(axis=1), new.argmax(axis=1) + 1, 0))


def _summary(ended: Counts, runs: int, followed: int) -> RunLengthDistribution:
    """The distribution from the lengths of the runs that ended among those followed."""
    surviving = 1.0 - np.cumsum(np.bincount(ended, minlength=followed + 1)[: followed + 1]) / runs
    if ended.size == runs:
        return RunLengthDistribution(
            np.maximum(surviving, 0.0), 0.0, float(ended.std(ddof=1)) / math.sqrt(runs)
        )
    # The risk once the start is forgotten: alarms in the later half over tests spent in it.
    late = surviving[followed // 2 :]
    risk = float(late[0] - late[-1] + 0.5 / runs) / float(late[:-1].sum() + 0.5 / runs)
    exposure = float(surviving[:-1].sum())
    mean = exposure + float(surviving[-1]) / risk
    return RunLengthDistribution(surviving, 1.0 - risk, mean / math.sqrt(ended.size + 1.0))


def _check(
    keys: tuple[str, ...] | None,
    phi: float,
    signal_share: float,
    scale: float,
    width: float,
    runs: int,
    longest: int,
) -> None:
    problems = []
    if keys == ():
        problems.append(Problem("rules", "none chosen", "choose at least one"))
    if not -0.995 <= phi <= 0.995:
        problems.append(Problem("phi", f"{phi}", "give a value between -0.995 and 0.995"))
    if not 0.0 <= signal_share <= 1.0:
        problems.append(Problem("signal share", f"{signal_share}", "give a value from 0 to 1"))
    if not 0.0 < scale < math.inf:
        problems.append(Problem("scale", f"{scale}", "give a value above 0, usually 1"))
    if not 0.0 < width < math.inf:
        problems.append(Problem("width", f"{width}", "give a value above 0, usually 3"))
    if runs < 100 or longest < 100:
        problems.append(Problem("simulation", f"{runs} runs of {longest} tests", "give at least 100 of each"))
    if problems:
        raise InputError(problems)
