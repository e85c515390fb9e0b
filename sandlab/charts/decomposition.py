"""Which property, or which relation between properties, made T2 signal: in terms and in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
import numpy.typing as npt

from sandlab.charts.covariance import as_samples
from sandlab.charts.multivariate import MultivariateLimits
from sandlab.charts.normal import Floats
from sandlab.errors import impossible
from sandlab.quantities import format_number

LARGEST = 12
Subset = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Cause:
    """One term of T2 that is too large: a property by itself, or one given others.

    `value` was measured where `expected` goes with the others as they are; `term` is the part of T2, `chance`
    that of a larger one when nothing is wrong.
    """

    property: str
    given: tuple[str, ...]
    side: Literal["high", "low"]
    value: float
    expected: float
    term: float
    chance: float
    sentence: str


@dataclass(frozen=True, slots=True)
class Decomposition:
    """T2 of one sample, that of every subset of its measured properties, and the causes found.

    `rest_chance` is that of a larger T2 of the properties not named as causes.
    """

    statistic: float
    subsets: Mapping[tuple[str, ...], float]
    causes: tuple[Cause, ...]
    rest_chance: float

    def term(self, property: str, given: Sequence[str] = ()) -> float:
        """The part of T2 that `property` adds to that of the `given` ones."""
        measured = max(self.subsets, key=lambda names: len(names))
        before = tuple(name for name in measured if name in given)
        both = tuple(name for name in measured if name in given or name == property)
        return self.subsets[both] - (self.subsets[before] if before else 0.0)

    @property
    def sentence(self) -> str:
        """The causes in words."""
        if not self.causes:
            return "No property or relation stands out by itself."
        return "; ".join(cause.sentence for cause in self.causes) + "."


def decompose(
    sample: npt.ArrayLike,
    limits: MultivariateLimits,
    *,
    alarm: float = 0.0027,
    labels: Mapping[str, str] | None = None,
    decimals: Mapping[str, int] | None = None,
) -> Decomposition:
    """All terms of T2 of one sample, and the properties and relations that made it large.

    ``T2(A + j) - T2(A) = (x_j - x_j|A)^2/s_jj|A ~ (m + 1) f/(m (f - k)) F(1, f - k)``, A of k properties

    Properties too far off by themselves are named and set aside; of what remains, while its T2 is beyond, the
    largest term given one other property is named, then given two, and so on, each too large for its law.

    sample: one value per property, NaN where missing [unit of each property]
    limits: frozen baseline of m samples, f degrees of freedom, at most 12 properties [unit of each property]
    alarm: chance that a term or the rest is called too large falsely, above 0 and below 0.5 [1]
    labels: what a property is called in words, its name with spaces otherwise [word]
    decimals: of each property's numbers in words, 2 otherwise [1]
    returns: T2 of every subset and the causes [1]

    Shapes: one row as long as the properties of the limits.
    Validity: as for `hotelling`; several terms are looked at, so that a cause is a lead and no proof.
    Errors: InputError for another length, infinite values, nothing measured, more than 12 properties, or an
    alarm out of range.
    Example:
    >>> limits = MultivariateLimits(
    ...     ("compactability", "moisture"), (40.0, 3.2), ((4.0, 0.16), (0.16, 0.01)), 100.0, 99.0, "sample"
    ... )
    >>> print(decompose([40.5, 3.45], limits).sentence)
    moisture is high for this compactability: 3.45 where 3.22 would go with it.

    Source: mason1995, decomposition; mason1997, order of the search.
    """
    row = _row(sample, limits)
    if not 0.0 < alarm < 0.5:
        raise impossible("alarm", f"{alarm}", "give a chance above 0 and below 0.5, often 0.0027")
    speaker = _Speaker(limits.names, dict(labels or {}), dict(decimals or {}))
    terms = _Terms(row, limits)
    left, causes = terms.measured, []
    for size in range(len(terms.measured)):
        while size < len(left) and (size == 0 or terms.chance(left) < alarm):
            found = _largest(terms, left, size, alarm)
            if found is None:
                break
            place, given = found
            causes.append(speaker.cause(terms, place, given))
            left = tuple(other for other in left if other != place)
    named = {
        tuple(limits.names[place] for place in subset): value
        for subset, value in terms.subsets.items()
        if subset
    }
    rest = terms.chance(left) if left else 1.0
    return Decomposition(terms.subsets[terms.measured], named, tuple(causes), rest)


def _row(sample: npt.ArrayLike, limits: MultivariateLimits) -> Floats:
    row: Floats = as_samples(
        np.atleast_2d(np.asarray(sample, dtype=np.float64)), limits.names, where="sample"
    )[0]
    if np.isnan(row).all():
        raise impossible("sample", "nothing measured", "give at least one property")
    if len(limits.names) > LARGEST:
        do = f"freeze a baseline of {LARGEST} or fewer"
        raise impossible("properties", f"{len(limits.names)} have too many subsets", do)
    return row


class _Terms:
    """T2 of every subset of the measured properties, and the law of each term."""

    def __init__(self, row: Floats, limits: MultivariateLimits) -> None:
        self._limits, self.row = limits, row
        self._covariance = np.array(limits.covariance)
        self._away = row - np.array(limits.centre)
        self.measured: Subset = tuple(np.flatnonzero(~np.isnan(row)).tolist())
        self.subsets: dict[Subset, float] = {(): 0.0}
        for size in range(1, len(self.measured) + 1):
            chosen = list(combinations(self.measured, size))
            places = np.array(chosen)
            away = self._away[places][:, :, None]
            blocks = self._covariance[places[:, :, None], places[:, None, :]]
            statistics = (away * np.linalg.solve(blocks, away)).sum(axis=(1, 2))
            self.subsets |= dict(zip(chosen, statistics.tolist(), strict=True))

    def term(self, place: int, given: Subset) -> float:
        """What `place` adds to T2 of `given`."""
        return self.subsets[tuple(sorted((*given, place)))] - self.subsets[given]

    def term_chance(self, place: int, given: Subset) -> float:
        """The chance of a larger term when nothing is wrong."""
        from scipy.special import fdtrc

        m, f = self._limits.count, self._limits.freedom
        rest = max(f - len(given), 1.0)
        return float(fdtrc(1.0, rest, max(0.0, self.term(place, given)) * m / (m + 1.0) * rest / f))

    def chance(self, subset: Subset) -> float:
        """The chance of a larger T2 of `subset` when nothing is wrong."""
        from scipy.special import fdtrc

        m, f, p = self._limits.count, self._limits.freedom, len(subset)
        rest = max(f - p + 1.0, 1.0)
        return float(fdtrc(p, rest, self.subsets[subset] * m / (m + 1.0) * rest / (f * p)))

    def expected(self, place: int, given: Subset) -> float:
        """The value that goes with the given ones as they are."""
        centre = float(self._limits.centre[place])
        if not given:
            return centre
        known = list(given)
        weights = np.linalg.solve(self._covariance[np.ix_(known, known)], self._covariance[known, place])
        return centre + float(weights @ self._away[known])


def _largest(terms: _Terms, left: Subset, size: int, alarm: float) -> tuple[int, Subset] | None:
    """The largest term of one property given `size` others among those left, None when none is too large."""
    candidates = [
        (place, given)
        for place in left
        for given in combinations([other for other in left if other != place], size)
        if terms.term_chance(place, given) < alarm
    ]
    return max(candidates, key=lambda candidate: terms.term(*candidate), default=None)


@dataclass(frozen=True, slots=True)
class _Speaker:
    """Puts a term into words."""

    names: tuple[str, ...]
    labels: Mapping[str, str]
    decimals: Mapping[str, int]

    def cause(self, terms: _Terms, place: int, given: Subset) -> Cause:
        """The term of one property given others, as a cause."""
        name, value, expected = self.names[place], float(terms.row[place]), terms.expected(place, given)
        side: Literal["high", "low"] = "high" if value > expected else "low"
        numbers = [format_number(number, self.decimals.get(name, 2)) for number in (value, expected)]
        others = " and ".join(self._label(self.names[other]) for other in given)
        if given:
            said = f"{side} for this {others}: {numbers[0]} where {numbers[1]} would go with it"
        else:
            said = f"{side}: {numbers[0]} where {numbers[1]} is usual"
        return Cause(
            property=name,
            given=tuple(self.names[other] for other in given),
            side=side,
            value=value,
            expected=expected,
            term=terms.term(place, given),
            chance=terms.term_chance(place, given),
            sentence=f"{self._label(name)} is {said}",
        )

    def _label(self, name: str) -> str:
        return self.labels.get(name, name.replace("_", " "))
