"""How repeats of one test become one result."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence

from sandlab.errors import InputError, Problem, nearest
from sandlab.methods.outcome import Outcome, finite, flagged, not_negative, require

RULES = ("mean", "median")


def combine(
    values: Sequence[float], *, rule: str, agree_within: float, relative: bool, count: int = 1
) -> Outcome:
    """One result from the repeats of a test, flagged when they disagree.

    mean or median; they agree when ``max - min <= agree_within``, or that share of the size of their mean

    values: results of the repeats [unit of the property]
    rule: which middle is taken [mean or median]
    agree_within: greatest spread of repeats that agree [% if relative, else unit of the property]
    relative: whether agree_within is a share of the mean [true or false]
    count: repeats the method asks for, fewer are flagged [1]
    returns: the middle of the repeats [unit of the property]

    Shapes: values (n,), n at least 1.
    Validity: repeats of the same sample; n above 2 for the median to leave out an outlier.
    Errors: InputError when there is no value, one is not finite, or the rule is unknown.
    Example:
    >>> combine([3.00, 3.10], rule="mean", agree_within=5.0, relative=True)
    Outcome(value=3.05, flags=())

    Source: tjfs, test 201 (two or more within 5 % of each other, averaged).
    """
    if rule not in RULES:
        raise InputError(Problem("rule", f"'{rule}' is not a rule for repeats", nearest(rule, RULES)))
    if not values:
        raise InputError(Problem("values", "there is no repeat", "enter at least one"))
    require(not_negative("agree_within", agree_within), *(finite("values", value) for value in values))
    mean = math.fsum(values) / len(values)
    middle = mean if rule == "mean" else statistics.median(values)
    spread = max(values) - min(values)
    allowed = agree_within / 100.0 * abs(mean) if relative else agree_within
    disagree = f"repeats differ by {spread:.3g}, more than the {allowed:.3g} allowed: test again"
    few = f"{len(values)} of {count} repeats"
    # Decimals that sit exactly on the limit, such as 0.15 of 3.00, count as agreeing.
    too_far = spread > allowed and not math.isclose(spread, allowed, rel_tol=1e-9)
    return flagged(middle, disagree if too_far else "", few if len(values) < count else "")
