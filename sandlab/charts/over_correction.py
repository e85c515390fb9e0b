"""The trace of over-correction: tests some cycles apart that lean against each other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Literal

import numpy as np
import numpy.typing as npt

from sandlab.charts.estimates import as_series
from sandlab.charts.normal import Floats
from sandlab.errors import InputError, Problem

Verdict = Literal["too few tests", "no trough", "explained", "not ruled out", "possible over-correction"]

# What swings in turn without anybody over-correcting; each has to be ruled out first.
ALTERNATIVES = ("muller", "operator", "sampling point")
CYCLES = 8
_CHANCE = 0.01
_FEWEST = 40
# Groups of fewer tests would take any trough out with their means.
_PER_GROUP = 5


@dataclass(frozen=True, slots=True)
class Alternative:
    """One other explanation: its groups, how far their means lie apart, the trough left without them."""

    name: str
    groups: int
    difference: float
    trough_without: float
    explains: bool


@dataclass(frozen=True, slots=True, eq=False)
class OverCorrection:
    """What the search found.

    `correlations` are those of tests 0, 1, 2 ... slots apart; the trough is at `lag` slots, `cycles` cycles,
    its `correlation` below the 99 % `bound` or not. `delay_low` to `delay_high` are the delays in cycles that
    fit such a trough. `missing` names the alternatives without data, or with too few tests per group.
    """

    verdict: Verdict
    correlations: Floats
    lag: int
    cycles: float
    correlation: float
    bound: float
    delay_low: float
    delay_high: float
    alternatives: tuple[Alternative, ...]
    missing: tuple[str, ...]
    count: int
    sentence: str


def autocorrelations(values: npt.ArrayLike, lags: int) -> tuple[Floats, npt.NDArray[np.int64]]:
    """Autocorrelation at 0 to `lags` slots, over the pairs measured, and the number of pairs of each.

    ``r_k = mean((x_i - m)(x_i+k - m) over the pairs) / mean((x_i - m)^2)``, 0 where no pair is measured
    """
    series = as_series(values)
    measured = ~np.isnan(series)
    distance = np.where(measured, series - np.mean(series[measured]) if measured.any() else 0.0, 0.0)
    squares = float(distance @ distance) / max(1, int(measured.sum()))
    pairs = np.zeros(lags + 1, dtype=np.int64)
    found = np.zeros(lags + 1)
    for lag in range(min(lags, series.size - 1) + 1):
        pairs[lag] = np.count_nonzero(measured[lag:] & measured[: series.size - lag])
        if pairs[lag] and squares > 0.0:
            found[lag] = float(distance[lag:] @ distance[: series.size - lag]) / int(pairs[lag]) / squares
    return found, pairs


def over_correction(
    values: npt.ArrayLike,
    *,
    delay: float | None = None,
    per_cycle: int = 1,
    alternatives: Mapping[str, Sequence[object]] | None = None,
) -> OverCorrection:
    """Search the autocorrelation up to 8 cycles for the trough that over-correction leaves at 2-3 delays.

    ``r_k < min(0, E - z sqrt(V)), E = f^k - ((1 + f)/(1 - f) (1 - f^k) + 2 k f^k)/n``
    ``V = ((1 + f^2)/(1 - f^2) (1 - f^2k) - 2 k f^2k)/n``: mean and variance of r_k of a first-order
    autoregression; f from r_1, n pairs; z for 1 % over all cycles searched

    With a known delay the search is from 2 to 3 delays and one cycle more, without delay at lag 1. A trough
    is called possible over-correction only where groups are given for every one of ALTERNATIVES and it stays
    when their means are taken out.

    values: one per slot, NaN where missing [unit of the property]
    delay: d where a dose answers the test of d cycles before, 0 to 4, None where unknown [cycles]
    per_cycle: slots in one pass of the sand, 1 or more [slots]
    alternatives: by name, what each test came from, such as {"muller": ["A", "B", ...]} [word]
    returns: verdict with trough, bound, delays that fit, alternatives, in words [1 and slots]

    Shapes: one row; 40 measured values and three times the longest lag searched, else "too few tests".
    Validity: doses changed for one cycle; a setting that is changed and stays swings slower, often out of
    reach of 8 cycles. It speaks falsely on about 1 % of series that nobody over-corrects, or fewer.
    Errors: InputError for infinite values, a delay below 0 or too long, labels that do not match the values.
    Example:
    >>> found = over_correction([3.0, 2.0, -2.0, -3.0, -3.0, -2.0, 2.0, 3.0] * 20, delay=1.5)
    >>> found.verdict, found.lag
    ('not ruled out', 4)

    Source: bartlett1946, sampling of autocorrelations; deming_funnel, what over-correction does.
    """
    series = as_series(values)
    groups: Mapping[str, Sequence[object]] = dict(alternatives or {})
    _check(series.size, delay, per_cycle, groups)
    lags = _window(delay, per_cycle)
    found, pairs = autocorrelations(series, CYCLES * per_cycle)
    count = int(pairs[0])
    groups = {name: labels for name, labels in groups.items() if len(set(labels)) <= count / _PER_GROUP}
    missing = tuple(name for name in ALTERNATIVES if name not in groups)
    bounds = _bounds(found, pairs, lags, per_cycle)
    deepest = int(np.argmin(found[lags] - bounds))
    lag, bound = int(lags[deepest]), float(bounds[deepest])
    others: tuple[Alternative, ...] = ()
    if count < max(_FEWEST, 3 * int(lags[-1])):
        verdict: Verdict = "too few tests"
    elif found[lag] >= bound:
        verdict = "no trough"
    else:
        others = tuple(_alternative(series, name, labels, lag, bound) for name, labels in groups.items())
        verdict = "possible over-correction" if not missing else "not ruled out"
        if any(other.explains for other in others):
            verdict = "explained"
    cycles = lag / per_cycle
    low, high = (delay, delay) if delay is not None else (max(0.0, cycles - 1.0) / 3.0, cycles / 2.0)
    result = OverCorrection(
        verdict, found, lag, cycles, float(found[lag]), bound, low, high, others, missing, count, ""
    )
    return _in_words(result)


def _window(delay: float | None, per_cycle: int) -> npt.NDArray[np.int64]:
    """The lags searched, in slots."""
    last = CYCLES * per_cycle
    if delay is None:
        return np.arange(1, last + 1)
    if delay == 0.0:
        return np.arange(1, per_cycle + 1)
    first = max(1, round(2.0 * delay * per_cycle))
    return np.arange(first, min(last, round((3.0 * delay + 1.0) * per_cycle)) + 1)


def _bounds(
    found: Floats, pairs: npt.NDArray[np.int64], lags: npt.NDArray[np.int64], per_cycle: int
) -> Floats:
    """The 99 % lower bound of each autocorrelation searched, for all of them together."""
    n = np.maximum(pairs[lags], 1).astype(np.float64)
    # The first autocorrelation of few tests is too small on average.
    carry = min(0.97, max(0.0, float(found[1] + (1.0 + 3.0 * found[1]) / max(1, pairs[1]))))
    power = carry ** lags.astype(np.float64)
    ratio = (1.0 + carry) / (1.0 - carry)
    mean = power - (ratio * (1.0 - power) + 2.0 * lags * power) / n
    squares = (1.0 + carry**2) / (1.0 - carry**2) * (1.0 - power**2) - 2.0 * lags * power**2
    looks = max(1.0, lags.size / per_cycle)
    z = NormalDist().inv_cdf(_CHANCE / looks)
    return np.minimum(0.0, mean + z * np.sqrt(np.maximum(squares, 0.0) / n))


def _alternative(series: Floats, name: str, labels: Sequence[object], lag: int, bound: float) -> Alternative:
    """The trough once the groups' means are taken out."""
    rest, means = series.copy(), []
    keys = [str(label) for label in labels]
    for key in sorted(set(keys)):
        members = np.array([label == key for label in keys]) & ~np.isnan(series)
        if members.any():
            means.append(float(series[members].mean()))
            rest[members] -= means[-1]
    left = float(autocorrelations(rest, lag)[0][lag])
    explains = len(means) > 1 and left >= bound
    return Alternative(name, len(means), max(means) - min(means), left, explains)


def _in_words(found: OverCorrection) -> OverCorrection:
    """The same with its sentence."""
    trough = (
        f"tests {found.cycles:.3g} cycles apart lean against each other (autocorrelation "
        f"{found.correlation:.2f}, 99 % bound {found.bound:.2f})"
    )
    match found.verdict:
        case "too few tests":
            words = f"{found.count} tests are too few to search for over-correction."
        case "no trough":
            words = "No sign of over-correction."
        case "explained":
            names = _listed([other.name for other in found.alternatives if other.explains])
            words = f"Tests differ by {names}: {trough}, and no longer when that is taken out."
        case "not ruled out":
            words = f"{trough[0].upper()}{trough[1:]}: first rule out {_listed(found.missing, 'or')}."
        case "possible over-correction":
            words = (
                f"Possible over-correction: {trough}, as when additions answer too strongly "
                f"{_delay(found)}; {_listed(ALTERNATIVES)} do not explain it."
            )
    return replace(found, sentence=words)


def _delay(found: OverCorrection) -> str:
    if found.delay_high == found.delay_low:
        return f"after {found.delay_low:.2g} cycles" if found.delay_low else "at once"
    return f"after {found.delay_low:.2g} to {found.delay_high:.2g} cycles"


def _listed(names: Sequence[str], last: str = "and") -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} {last} {names[-1]}"


def _check(count: int, delay: float | None, per_cycle: int, groups: Mapping[str, Sequence[object]]) -> None:
    problems = []
    if per_cycle < 1:
        problems.append(Problem("slots per cycle", f"{per_cycle}", "give 1 or more"))
    if delay is not None and not 0.0 <= delay <= CYCLES / 2.0:
        problems.append(Problem("delay", f"{delay} cycles", f"give 0 to {CYCLES // 2}, or none if unknown"))
    for name, labels in groups.items():
        if len(labels) != count:
            problems.append(Problem(name, f"{len(labels)} labels for {count} tests", "give one for each"))
    if problems:
        raise InputError(problems)
