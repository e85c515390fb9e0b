"""The capability indices and their confidence intervals, one formula each."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from sandlab.errors import InputError, Problem


@dataclass(frozen=True, slots=True)
class Index:
    """One index with its confidence interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Indices:
    """All indices of one spread; None where the tolerance is one-sided. Cpk is the smaller of Cpu and Cpl."""

    cp: float | None
    cpu: float | None
    cpl: float | None
    cpk: float
    cpm: float | None


@dataclass(frozen=True, slots=True)
class Tolerance:
    """Lower and upper tolerance, either or both, and the target."""

    lower: float | None
    upper: float | None
    target: float | None = None

    @property
    def width(self) -> float | None:
        """Distance of the two, None for a one-sided tolerance."""
        return None if self.lower is None or self.upper is None else self.upper - self.lower

    @property
    def aim(self) -> float | None:
        """The target, or the middle of a two-sided tolerance."""
        if self.target is not None or self.lower is None or self.upper is None:
            return self.target
        return 0.5 * (self.lower + self.upper)

    def limits(self) -> dict[str, float | None]:
        """Both tolerances by name."""
        return {"lower": self.lower, "upper": self.upper}

    def problems(self) -> Iterator[Problem]:
        """Everything that keeps it from being a tolerance."""
        given = {"lower": self.lower, "upper": self.upper, "target": self.target}
        for name, value in given.items():
            if value is not None and not math.isfinite(value):
                yield Problem(f"{name} tolerance" if name != "target" else name, f"{value}", "give a number")
        if self.lower is None and self.upper is None:
            yield Problem("tolerance", "none given", "give a lower one, an upper one or both")
        low = -math.inf if self.lower is None else self.lower
        high = math.inf if self.upper is None else self.upper
        if low >= high:
            yield Problem("tolerance", f"lower {low:g} is not below upper {high:g}", "exchange them")
        elif self.target is not None and not low <= self.target <= high:
            yield Problem("target", f"{self.target:g} lies outside the tolerance", "give one inside it")


def capability_indices(
    mean: float,
    sigma: float,
    *,
    lower: float | None = None,
    upper: float | None = None,
    target: float | None = None,
) -> Indices:
    """The capability indices of a property with known mean and sigma.

    ``Cp = (U - L)/6s, Cpu = (U - m)/3s, Cpl = (m - L)/3s, Cpk = min(Cpu, Cpl)``
    ``Cpm = (U - L)/(6 sqrt(s^2 + (m - T)^2))``

    mean: m [unit of the property]
    sigma: s, above 0 [unit of the property]
    lower: L, None without one [unit of the property]
    upper: U, None without one [unit of the property]
    target: T, the middle of the tolerance when None [unit of the property]
    returns: indices [1]

    Shapes: scalars.
    Validity: normal values of one state.
    Errors: InputError for no tolerance, one upside down or infinite, a target outside, a sigma of 0 or less.
    Example:
    >>> found = capability_indices(16.0, 2.0, lower=8.0, upper=20.0)
    >>> found.cp, round(found.cpk, 4), round(found.cpl or 0.0, 4)
    (1.0, 0.6667, 1.3333)

    Source: nist_handbook, 6.1.6.
    """
    tolerance = Tolerance(lower, upper, target)
    problems = list(tolerance.problems())
    if not (math.isfinite(mean) and 0.0 < sigma < math.inf):
        problems.append(
            Problem("spread", f"mean {mean}, sigma {sigma}", "give a finite mean, a sigma above 0")
        )
    if problems:
        raise InputError(problems)
    cpu = None if upper is None else (upper - mean) / (3.0 * sigma)
    cpl = None if lower is None else (mean - lower) / (3.0 * sigma)
    width, aim = tolerance.width, tolerance.aim
    cpm = None if width is None or aim is None else width / (6.0 * math.hypot(sigma, mean - aim))
    return Indices(
        cp=None if width is None else width / (6.0 * sigma),
        cpu=cpu,
        cpl=cpl,
        cpk=min(side for side in (cpu, cpl) if side is not None),
        cpm=cpm,
    )


def cp_interval(cp: float, freedom: float, confidence: float = 0.95) -> Index:
    """Cp (or Pp) with its confidence interval.

    ``Cp sqrt(chi2(a/2, nu)/nu) to Cp sqrt(chi2(1 - a/2, nu)/nu)``

    cp: estimated index [1]
    freedom: nu, degrees of freedom of its sigma [1]
    confidence: 1 - a [1]
    returns: index with interval [1]

    Shapes: scalars.
    Validity: normal values; exact for a deviation, near for ranges with their effective degrees.
    Errors: none.
    Example:
    >>> found = cp_interval(2.29, 19.0)
    >>> round(found.value, 2), round(found.low, 2), round(found.high, 2)
    (2.29, 1.57, 3.01)

    Source: montgomery, section 8.3.
    """
    # Imported here: drawing a chart needs no scipy.
    from scipy.special import chdtri

    tail = 0.5 * (1.0 - confidence)
    low, high = (math.sqrt(float(chdtri(freedom, share)) / freedom) for share in (1.0 - tail, tail))
    return Index(cp, cp * low, cp * high)


def cpk_interval(cpk: float, count: float, freedom: float, confidence: float = 0.95) -> Index:
    """Cpk (or Ppk, or a one-sided index) with its confidence interval.

    ``Cpk +- z sqrt(1/(9 n) + Cpk^2/(2 nu))``

    cpk: estimated index [1]
    count: n, independent tests that the mean is worth [1]
    freedom: nu, degrees of freedom of its sigma [1]
    confidence: that the index lies inside [1]
    returns: index with interval [1]

    Shapes: scalars.
    Validity: normal values, 25 or more; a mean not near the middle of the tolerance, else a little wide.
    Errors: none.
    Example:
    >>> found = cpk_interval(1.33, 20.0, 19.0)
    >>> round(found.low, 2), round(found.high, 2)
    (0.88, 1.78)

    Source: bissell1990, equation of the interval.
    """
    # Imported here: drawing a chart needs no scipy.
    from scipy.special import ndtri

    z = float(ndtri(0.5 * (1.0 + confidence)))
    reach = z * math.sqrt(1.0 / (9.0 * count) + cpk * cpk / (2.0 * freedom))
    return Index(cpk, cpk - reach, cpk + reach)


def cpm_interval(
    cpm: float, offset: float, count: float, sigma_count: float, confidence: float = 0.95
) -> Index:
    """Cpm with its confidence interval.

    ``Cpm sqrt(chi2(a/2, nu)/nu) to Cpm sqrt(chi2(1 - a/2, nu)/nu), x = (m - T)/s``
    ``nu = (1 + x^2)^2/(1/n_s + 2 x^2/n)``, the usual n (1 + x^2)^2/(1 + 2 x^2) for independent tests

    cpm: estimated index [1]
    offset: x, of the mean from the target, in sigmas [1]
    count: n, independent tests that the mean is worth [1]
    sigma_count: n_s, independent tests that the deviation is worth [1]
    confidence: 1 - a [1]
    returns: index with interval [1]

    Shapes: scalars.
    Validity: normal values, 25 or more.
    Errors: none.
    Example:
    >>> found = cpm_interval(1.2, 0.5, 60.0, 60.0)
    >>> round(found.low, 2), round(found.high, 2)
    (0.99, 1.41)

    Source: boyles1991, section on confidence.
    """
    # As shares of 1 + x^2, which may be beyond what a float can hold.
    spread = 1.0 / (1.0 + offset * offset)
    inverse = spread * spread / sigma_count + 2.0 * (1.0 - spread) * spread / count
    return cp_interval(cpm, 1.0 / max(inverse, 1e-9), confidence)
