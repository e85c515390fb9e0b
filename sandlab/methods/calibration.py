"""Calibration of the methylene-blue titration by least squares over weighed mixes.

The basis of a mix says what its percentage is a share of. All fitting is done on grams of clay, which do not
depend on the basis: 0.4 g on top of 5 g of sand is 0.4 g of clay, 8 % of the sand and 7.41 % of the whole.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sandlab.errors import InputError, Problem, nearest
from sandlab.methods.outcome import not_negative, percentage, positive, require

SHARE_OF_WHOLE = "share of the whole"
ON_TOP_OF_SAND = "on top of the sand"
BASES = (SHARE_OF_WHOLE, ON_TOP_OF_SAND)
MIX_KEYS = ("nominal_percent", "basis", "mass_g", "titre_ml")
LEAST_R = 0.995  # below it the mixes do not lie on a line (common practice)


@dataclass(frozen=True, slots=True)
class Mix:
    """One calibration mix: mass_g is the whole mix, or the sand alone when the clay was put on top of it."""

    nominal_percent: float
    basis: str
    mass_g: float
    titre_ml: float

    @property
    def clay_g(self) -> float:
        """Grams of bentonite in the mix, whatever the basis."""
        return self.nominal_percent / 100.0 * self.mass_g

    @property
    def share_percent(self) -> float:
        """Clay as a share of the whole mix."""
        whole = self.mass_g + (self.clay_g if self.basis == ON_TOP_OF_SAND else 0.0)
        return 100.0 * self.clay_g / whole


@dataclass(frozen=True, slots=True)
class Calibration:
    """The line of titre over clay; the standard error is None when no mix is left over to judge the fit."""

    ml_per_percent: float
    standard_error: float | None
    intercept_ml: float
    r: float | None
    sample_g: float
    mixes: tuple[Mix, ...]
    flags: tuple[str, ...] = ()


def read_mixes(tables: Sequence[Mapping[str, Any]]) -> tuple[Mix, ...]:
    """The mixes of a list of tables; raises InputError naming every table that cannot be one."""
    problems: list[Problem] = []
    for number, table in enumerate(tables, start=1):
        where = f"mixes {number}"
        for key in set(table) - set(MIX_KEYS):
            problems.append(Problem(where, f"'{key}' is not part of a mix", nearest(key, MIX_KEYS)))
        for key in [key for key in MIX_KEYS if key not in table]:
            problems.append(Problem(where, f"{key} is missing", "complete the mix"))
    if problems:
        raise InputError(problems)
    mixes = tuple(Mix(**table) for table in tables)
    require(*(problem for mix in mixes for problem in _mix_problems(mix)))
    return mixes


def _mix_problems(mix: Mix) -> list[Problem | None]:
    """What is impossible about one mix."""
    known = mix.basis in BASES
    return [
        percentage("nominal_percent", mix.nominal_percent),
        positive("mass_g", mix.mass_g),
        not_negative("titre_ml", mix.titre_ml),
        None if known else Problem("basis", f"'{mix.basis}' is not a basis", nearest(mix.basis, BASES)),
    ]


def calibrate_methylene_blue(mixes: Sequence[Mix], *, sample_g: float, through_zero: bool) -> Calibration:
    """The calibration of the methylene-blue titration for a given mass of sample.

    least squares of ``titre_ml = intercept_ml + slope clay_g``; ``ml_per_percent = slope sample_g / 100``

    mixes: calibration mixes with their basis [%, text, g, ml]
    sample_g: mass of dried sand of the routine titration [g]
    through_zero: whether the line is drawn through zero [true or false]
    returns: slope, its standard error and the intercept, with the correlation r [ml/%, ml/%, ml, 1]

    Shapes: mixes (n,), n at least 2.
    Validity: flagged when r is below 0.995 or no mix is left over to judge the fit.
    Errors: InputError for fewer than two mixes, mixes of one clay content only, or a line that does not rise.
    Example:
    >>> mixes = [Mix(10.0, SHARE_OF_WHOLE, 5.0, 53.0), Mix(8.0, ON_TOP_OF_SAND, 5.0, 42.4)]
    >>> round(calibrate_methylene_blue(mixes, sample_g=5.0, through_zero=True).ml_per_percent, 2)
    5.3

    Source: mb_instruction, calibration mix; least squares as in nist_handbook.
    """
    require(positive("sample_g", sample_g), *(problem for mix in mixes for problem in _mix_problems(mix)))
    clay = [mix.clay_g for mix in mixes]
    titre = [mix.titre_ml for mix in mixes]
    free = 1 if through_zero else 2
    if len(mixes) < 2 or (not through_zero and len(set(clay)) < 2) or not any(clay):
        what = f"{len(mixes)} mixes of {len(set(clay))} clay contents give no line"
        raise InputError(Problem("mixes", what, "weigh in two or more mixes of different clay content"))
    slope, intercept, spread = _line(clay, titre, through_zero)
    if slope <= 0.0:
        raise InputError(Problem("mixes", "the titre does not rise with the clay", "check the mixes"))
    to_percent = sample_g / 100.0
    spare = len(mixes) - free
    squares = math.fsum((y - intercept - slope * x) ** 2 for x, y in zip(clay, titre, strict=True))
    error = math.sqrt(squares / spare / spread) * to_percent if spare else None
    r = _correlation(clay, titre)
    flags: tuple[str, ...] = (
        () if spare else ("as many mixes as unknowns: the fit cannot be judged, weigh in another mix",)
    )
    if r is not None and r < LEAST_R:
        flags += (f"the mixes do not lie on a line (r = {r:.4f}): weigh them in again",)
    return Calibration(slope * to_percent, error, intercept, r, sample_g, tuple(mixes), flags)


def _line(x: Sequence[float], y: Sequence[float], through_zero: bool) -> tuple[float, float, float]:
    """Slope, intercept and the sum of squares of x about its centre (zero for a line through zero)."""
    x_centre = 0.0 if through_zero else math.fsum(x) / len(x)
    y_centre = 0.0 if through_zero else math.fsum(y) / len(y)
    spread = math.fsum((a - x_centre) ** 2 for a in x)
    slope = math.fsum((a - x_centre) * (b - y_centre) for a, b in zip(x, y, strict=True)) / spread
    return slope, y_centre - slope * x_centre, spread


def _correlation(x: Sequence[float], y: Sequence[float]) -> float | None:
    """Pearson's r about the means; None when either does not vary."""
    x_mean, y_mean = math.fsum(x) / len(x), math.fsum(y) / len(y)
    xx = math.fsum((a - x_mean) ** 2 for a in x)
    yy = math.fsum((b - y_mean) ** 2 for b in y)
    xy = math.fsum((a - x_mean) * (b - y_mean) for a, b in zip(x, y, strict=True))
    return xy / math.sqrt(xx * yy) if xx > 0.0 and yy > 0.0 else None
